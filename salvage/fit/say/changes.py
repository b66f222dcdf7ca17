"""What is said of joins, and of changes that would make a project fit."""

from __future__ import annotations

from salvage.fit.cutting.joins import Piecing, Way
from salvage.fit.cutting.strips import cost_of_join
from salvage.fit.layout.found import Layout
from salvage.fit.layout.suggest import Change
from salvage.fit.say.phrases import listed
from salvage.project.project import Panel
from salvage.units import Unit, format_length


def of_change(change: Change) -> str:
    """A change that a layout has shown to be enough."""
    name = change.panel.name
    if change.what == "anywhere":
        return f"It fits if {name} may also be cut from other pieces than {listed(change.panel.pieces)}."
    if change.what == "turn":
        return f"It fits if {name} may also be cut across the grain."
    if change.what == "leave-out":
        fewer = change.panel.cut - sum(each.cut for each in change.layout.project.panels if each.name == name)
        if fewer == change.panel.cut:
            return f"It fits without {name}."
        return f"It fits with {'one' if fewer == 1 else fewer} {name} fewer."
    joined = [sentence for sentence in join_plan(change.layout) if sentence.startswith(name)]
    return f"It fits if {name} is pieced{f' ({joined[0]})' if joined else ''}."


def join_plan(layout: Layout) -> tuple[str, ...]:
    """How parts and lengths are joined, a sentence for each panel or strip and way of joining it."""
    unit = layout.project.unit
    told = []
    for panel, copies in zip(layout.project.panels, layout.plan.panels, strict=True):
        ways: dict[Piecing, list[int]] = {}
        for copy, piecing in enumerate(copies, 1):
            if piecing is not None:
                ways.setdefault(piecing, []).append(copy)
        told += [_panel_sentence(panel, piecing, numbers, unit) for piecing, numbers in ways.items()]
    for strip, copies_of in zip(layout.project.strips, layout.plan.strips, strict=True):
        for copy, lengths in enumerate(copies_of, 1):
            if len(lengths) > 1:
                label = strip.name if strip.cut == 1 else f"{strip.name} {copy}"
                each = ", ".join(format_length(length, unit, with_unit=False) for length in lengths)
                told.append(
                    f"{label}: {len(lengths)} lengths {each} {unit}, joined "
                    f"{'on the bias' if strip.join == 'bias' else 'straight'} "
                    f"(each join uses {format_length(cost_of_join(strip), unit)})"
                )
    return tuple(told)


def _panel_sentence(panel: Panel, piecing: Piecing, copies: list[int], unit: Unit) -> str:
    label = panel.name if panel.cut == 1 else f"{panel.name} {listed([str(copy) for copy in copies], 'and')}"
    at = " and ".join(format_length(each, unit) for each in piecing.at)
    end, runs = ("lower end", "across") if piecing.way is Way.ACROSS else ("left side", "along")
    allowance = (
        f"{format_length(panel.seam_allowance, unit)} allowance at each part's join"
        if panel.seam_allowance > 0
        else "no seam allowance at the join, as the project gives none"
    )
    joins = "a join" if len(piecing.at) == 1 else f"{len(piecing.at)} joins"
    return (
        f"{label}: {len(piecing.at) + 1} parts, {joins} {runs} at {at} from the {end} of the cut panel "
        f"({allowance})"
    )

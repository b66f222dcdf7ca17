"""What is said of joins, and of changes that would make a project fit."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.fit.answer import Edit, Help, HelpKind, Value
from salvage.fit.cutting.joins import JoinWay, Piecing
from salvage.fit.cutting.strips import cost_of_join
from salvage.fit.help.find import Change
from salvage.fit.help.items import Item, area_of, items_of
from salvage.fit.layout.found import Layout
from salvage.fit.material.amount import usable_area
from salvage.fit.material.lay import same_fabric
from salvage.fit.say.layouts import of_scale
from salvage.fit.say.phrases import listed
from salvage.project.project import Panel, Project, Strip
from salvage.units import Unit, format_exact, format_exact_size, format_length

_CORE = 0.5  # share of a fabric's cloth; without what takes more it would be another project


def of_change(change: Change, project: Project, garments: Sequence[Garment], *, alone: bool) -> Help:
    """A change that a layout has shown to be enough. project: all of it, as it was. alone: no other one was found."""
    text = _text(change, project, garments)
    if alone and change.kind is HelpKind.SCALE:
        text = f"No change of one panel was found to be enough. {text}"
    more = change.garments if change.kind is HelpKind.GARMENT else 0
    return Help(change.kind, text, change.edits, change.percent, more)


def _text(change: Change, project: Project, garments: Sequence[Garment]) -> str:
    if change.kind is HelpKind.GARMENT:
        name = max(garments, key=lambda each: usable_area([each])).name
        more = "a second garment" if change.garments == 2 else f"{change.garments - 1} more garments"
        return f"It fits with {more} like {name}."
    if change.kind is HelpKind.SCALE:
        return of_scale(change.percent, project) or ""
    if change.kind is HelpKind.OTHER_CLOTH:
        return _of_other_cloth(change, project)
    clauses = [_clause(edit, change, project.unit) for edit in change.edits]
    sewn = " What is sewn to it changes with it." if _is_sewn_to_others(change, project) else ""
    return f"It fits if {listed([each for each in clauses if each])}.{sewn}"


def _clause(edit: Edit, change: Change, unit: Unit) -> str:
    """`back is pieced`; "" where another clause tells it."""
    item, after = edit.item, edit.after
    if edit.key == "joins":
        plans = [text for layout in change.layouts for text in join_plan(layout) if text.startswith(item)]
        return f"{item} is pieced{f' ({plans[0]})' if plans else ''}"
    if edit.key == "join":
        return f"{item} may be joined from shorter lengths"
    if edit.key == "shortest" and isinstance(after, float):
        return f"{item} may have lengths as short as {format_exact(after, unit)}"
    if edit.key == "grain":
        return f"{item} {_GRAIN_WORDS.get((str(edit.before), str(after)), _ANY_WAY)}"
    if edit.key == "from":
        others = [each for each in change.edits if each.item == item]
        if len(others) > 1:
            return ""
        return f"{item} may also be cut from other pieces than {listed([str(each) for each in _several(edit.before)])}"
    if edit.key == "fabric":
        return f"{item} is cut from {after}"
    return f"{item} {_size_clause(edit, unit)}"


_GRAIN_WORDS = {
    ("along", "either"): "may also be cut across the grain",
    ("across", "either"): "may also be cut along the grain",
}
_ANY_WAY = "may lie at any angle to the grain (off the grain cloth stretches and hangs askew)"


def _several(value: Value) -> tuple[Value, ...]:
    return tuple(value) if isinstance(value, tuple) else (value,)


def _lengths(value: Value) -> list[float]:
    return [float(each) for each in _several(value) if isinstance(each, int | float)]


def _size_clause(edit: Edit, unit: Unit) -> str:
    before, after = (_lengths(value) for value in (edit.before, edit.after))
    done = "finished" if edit.key == "finished" else "cut"
    if len(before) == 1:
        new, old = (format_exact(each[0], unit) for each in (after, before))
        return f"is {new} long instead of {old}"
    new, old = (format_exact_size((each[0], each[1]), unit) for each in (after, before))
    off = [(old - new, word) for old, new, word in zip(before, after, ("narrower", "shorter"), strict=True)]
    less = listed([f"{format_exact(by, unit)} {word}" for by, word in off if by > 1e-6])
    return f"is {done} {new} instead of {old} ({less})"


def _of_other_cloth(change: Change, project: Project) -> str:
    """What doesn't go here, and how large a piece each needs elsewhere."""
    asked = sum(
        each.cut * area_of(each)
        for each in items_of(project)
        if same_fabric(each.fabric) == same_fabric(change.items[0].fabric)
    )
    counts = {edit.item: _count(edit.before) - _count(edit.after) for edit in change.edits}
    small = sum(counts[each.name] * area_of(each) for each in change.items) <= _CORE * asked
    first, number = change.items[0], counts[change.items[0].name]
    if not change.layouts:
        told = listed([_with_size(each, counts[each.name], project.unit) for each in change.items])
        return f"None of it can be cut from these: from other {first.fabric} cloth must be cut {told}."
    if small and len(change.items) == 1:
        them = "it" if number == 1 else "them"
        need = f"with {them} cut from other cloth ({_cut_words(first, project.unit)})"
        fewer = f"one {first.name} fewer" if number == 1 else f"{number} copies of {first.name} fewer"
        return (
            f"It fits without {first.name}, or {need}."
            if number == first.cut
            else f"It fits with {fewer}, or {need}."
        )
    told = listed([_with_size(each, counts[each.name], project.unit) for each in change.items])
    be = "is" if sum(counts.values()) == 1 else "are"
    return f"It fits if {told} {be} cut from other cloth: all else fits here."


def _with_size(item: Item, number: int, unit: Unit) -> str:
    """`both wall (374 × 273 mm)`, `3 of 4 gore (...)`."""
    how_many = (
        {1: "", 2: "both "}.get(item.cut, f"all {number} ")
        if number == item.cut
        else f"{number} of {item.cut} "
    )
    return f"{how_many}{item.name} ({_cut_words(item, unit)})"


def _count(value: Value) -> int:
    return int(value) if isinstance(value, int | float) else 0


def _cut_words(item: Item, unit: Unit) -> str:
    """What must be cut elsewhere: `320 × 210 mm`."""
    if isinstance(item, Strip):
        wide, long = item.cut_width, item.length
    else:
        left, bottom, right, top = Polygon(item.outline).bounds
        wide, long = right - left, top - bottom
    return format_exact_size((wide, long), unit)


def _is_sewn_to_others(change: Change, project: Project) -> bool:
    if change.kind not in (HelpKind.SHRINK, HelpKind.MIXED):
        return False
    names = {each.name for each in change.items}
    sewn = any(
        {seam.first, seam.second} & names and {seam.first, seam.second} - names for seam in project.seams
    )
    return sewn or any(names & set(part.items) and set(part.items) - names for part in project.parts)


def join_plan(layout: Layout) -> tuple[str, ...]:
    """How parts and lengths are joined, a sentence for each panel or strip and way of joining it."""
    unit = layout.project.unit
    told = []
    for panel, copies in zip(layout.project.panels, layout.plan.panels, strict=True):
        ways: dict[Piecing, list[int]] = {}
        for copy, piecing in enumerate(copies, 1):
            if piecing is not None:
                ways.setdefault(piecing, []).append(copy)
        told += [panel_sentence(panel, piecing, numbers, unit) for piecing, numbers in ways.items()]
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


def panel_sentence(panel: Panel, piecing: Piecing, copies: list[int], unit: Unit) -> str:
    label = panel.name if panel.cut == 1 else f"{panel.name} {listed([str(copy) for copy in copies], 'and')}"
    at = " and ".join(format_length(each, unit) for each in piecing.at)
    end, runs = ("lower end", "across") if piecing.way is JoinWay.ACROSS else ("left side", "along")
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

"""The sentences a person reads: why this verdict, in their own unit."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.cloth.usable import usable
from salvage.fit.answer import Proof, ProofKind
from salvage.fit.cutting.joins import Piecing, Way
from salvage.fit.cutting.strips import cost_of_join
from salvage.fit.layout.arrange import Layout
from salvage.fit.layout.suggest import Change
from salvage.fit.material.lay import Lay, same_fabric
from salvage.fit.material.stretch import largest_rectangle, longest_run
from salvage.fit.proof.refuse import panel_shape
from salvage.fit.question import allowed_turns
from salvage.project.project import Panel, Project
from salvage.units import Unit, format_area, format_length

_NO_SPARE = 0.1  # mm


def of_spare(spare: float, plus_minus: float, unit: Unit) -> str:
    """How the spare stands against the plus-minus."""
    good_to = f"the measurement is good to {_fine(plus_minus, unit, up=True)}" if plus_minus > 0 else ""
    if plus_minus <= 0 and spare < _NO_SPARE:
        return "No spare was found: cut as exactly as it is drawn."
    if spare < plus_minus:
        return (
            f"A layout exists, but it would still fit with only {_fine(spare, unit)} less cloth at every edge, "
            f"and {good_to}: measure by hand before cutting"
        )
    told = f"All usable cloth could be at least {_fine(spare, unit)} smaller at every edge and the project would fit"
    return f"{told}; {good_to}." if good_to else f"{told}."


def of_layout(layout: Layout, garments: Sequence[Garment]) -> str:
    """How much is placed where."""
    where = layout.asked.lay.where
    used = dict.fromkeys((where[each.cloth].garment, where[each.cloth].piece) for each in layout.placed)
    several = len({garment for garment, _ in used}) > 1
    names = [f"{piece} of {garments[garment].name}" if several else piece for garment, piece in used]
    count = len(layout.placed)
    shapes = "the one shape fits" if count == 1 else f"all {count} shapes to cut fit"
    return f"{shapes[0].upper()}{shapes[1:]}, on {_listed(names)}."


def of_choice(suffices: Sequence[int], used: int | None, garments: Sequence[Garment]) -> str | None:
    """Which garments suffice alone."""
    if len(garments) < 2:
        return None
    if not suffices:
        return "No garment was found to suffice alone; the layout uses them together."
    names = [garments[index].name for index in suffices]
    alone = f"{names[0]} suffices alone" if len(names) == 1 else f"{_listed(names, 'and')} each suffice alone"
    others = [each.name for index, each in enumerate(garments) if index != used]
    keeps = (
        f"; the layout uses {garments[used].name} and leaves {_listed(others)} whole"
        if used is not None
        else ""
    )
    return f"{alone}{keeps}."


def of_missing_fabric(fabric: str, garments: Sequence[Garment]) -> str:
    """No cloth of a fabric at all."""
    there = dict.fromkeys(piece.fabric for garment in garments for piece in garment.pieces)
    names = _listed([garment.name for garment in garments], "or")
    return (
        f"There is no usable piece of fabric '{fabric}' in {names}; the fabrics there are: "
        f"{', '.join(there) or 'none'}. If one of them is meant, correct 'fabric' in the project or in the record."
    )


def of_proof(proof: Proof, lay: Lay, project: Project, *, grown: bool = False) -> tuple[str, ...]:
    """The proof in plain words, with the stretch of cloth that comes nearest where one panel has no place.

    grown: the proof is about the cloth larger by its plus-minus, so that it holds whatever the truth is.
    """
    if proof.kind is ProofKind.AREA and {"fabric", "asked", "there"} <= proof.numbers.keys():
        asked, there = (format_area(float(proof.numbers[key]), project.unit) for key in ("asked", "there"))
        with_more = ", the plus-minus counted in" if grown else ""
        return (
            f"The project asks for {asked} of {proof.numbers['fabric']}, and there are only {there} of it that "
            f"can be used{with_more}.",
        )
    if proof.kind is ProofKind.NO_PLACE and "panel" not in proof.numbers:
        told = tuple(
            sentence
            for panel in project.panels
            if panel.joins == 0
            and panel.name in names_in(proof.numbers)
            and (sentence := of_no_place(panel, lay, project.unit))
        )
        if told:
            return told
    if proof.numbers.get("rule") == "lattice":
        return (_of_lattice(proof.numbers, project.unit),)
    if "least_part" in proof.numbers:
        least = {way: format_length(each, project.unit) for way, each in proof.numbers["least_part"].items()}
        return (
            f"{proof.numbers['panel']}, even pieced with {proof.numbers['joins']} joins, has a part at least "
            f"{least[Way.ACROSS]} long or {least[Way.ALONG]} wide that fits nowhere.",
        )
    return (_sentence(proof.reason),)


def of_names(proof: Proof, garments: Sequence[Garment], unit: Unit) -> str | None:
    """Another fabric of which there would be enough: perhaps the names are the wrong way round."""
    if proof.kind is not ProofKind.AREA or "asked" not in proof.numbers:
        return None
    there: dict[str, float] = defaultdict(float)
    for garment in garments:
        for piece in garment.pieces:
            there[piece.fabric] += usable(piece).area * piece.layers
    wanted = same_fabric(str(proof.numbers["fabric"]))
    enough = [
        fabric
        for fabric, area in sorted(there.items(), key=lambda item: -item[1])
        if same_fabric(fabric) != wanted and area > float(proof.numbers["asked"])
    ]
    if not enough:
        return None
    return (
        f"There are {format_area(there[enough[0]], unit)} of {enough[0]}: if that is the {wanted}, the names are "
        "the wrong way round. Correct 'fabric' in the record."
    )


def _of_lattice(numbers: Mapping[str, Any], unit: Unit) -> str:
    """More panels of a size than the pieces take of such rectangles."""
    names = ", ".join(dict.fromkeys(each["shape"] for each in numbers["shapes"]))
    width, length = numbers["rectangle"]
    size = f"{format_length(width, unit, with_unit=False)} x {format_length(length, unit)}"
    most = numbers["most"]
    each = ", ".join(f"{number} on {piece}" for piece, number in most.items())
    return (
        f"{numbers['copies']} panels ({names}), each at least {size}: the {numbers['fabric']} takes "
        f"{sum(most.values())} at the very most ({each})."
    )


def names_in(value: Any) -> set[str]:
    """All strings that stand in a proof's numbers, names of panels among them."""
    if isinstance(value, str):
        return {value}
    if isinstance(value, Mapping):
        value = list(value.values())
    if isinstance(value, (list, tuple)):
        return set().union(*(names_in(each) for each in value))
    return set()


def of_no_place(panel: Panel, lay: Lay, unit: Unit) -> str:
    """Where a panel that fits nowhere comes nearest to fitting."""
    left, bottom, right, top = Polygon(panel.outline).bounds
    width, length = right - left, top - bottom
    size = f"{format_length(width, unit, with_unit=False)} x {format_length(length, unit)}"
    fabric = same_fabric(panel.fabric)
    best_length = best_area = 0.0
    best_size = ""
    for cloth in lay.cloths:
        if cloth.fabric != fabric:
            continue
        turns = allowed_turns(panel_shape(panel), cloth) or (0.0, 90.0)
        for turn in dict.fromkeys(turn % 180 for turn in turns):
            direction = cloth.grain + turn
            run = longest_run(cloth.polygon, width, direction)
            best_length = max(best_length, run.length if run else 0.0)
            clear = largest_rectangle(cloth.polygon, direction)
            if clear is not None and clear.area > best_area:
                best_area = clear.area
                best_size = f"{format_length(clear.width, unit, with_unit=False)} x {format_length(clear.length, unit)}"
    start = f"{panel.name}, {size} cut, fits nowhere on the {panel.fabric}"
    if 0 < best_length < length:
        return f"{start}: the longest clear stretch of that width is {format_length(best_length, unit)}."
    return f"{start}; the largest clear rectangle is {best_size}." if best_size else f"{start}."


def of_unsettled(layout: Layout | None, seconds: float) -> str:
    """What the search did place."""
    took = f"{seconds:.0f} s" if seconds >= 1 else "less than a second"
    if layout is None or not layout.placed:
        return f"In {took} the search found no layout, and no proof that there is none."
    total = len(layout.placed) + len(layout.unplaced)
    names = Counter(layout.asked.items[index].name for index in layout.unplaced)
    left = _listed([f"{name} ({count})" if count > 1 else name for name, count in names.items()])
    return (
        f"In {took} the search found no layout for all of it, and no proof that there is none: "
        f"{len(layout.placed)} of {total} shapes are placed, left out: {left}."
    )


def of_scale(percent: float | None) -> str | None:
    """The size at which it fits."""
    return (
        None if percent is None else f"It fits when the whole project is made at {percent:.0f} % of its size."
    )


def of_change(change: Change) -> str:
    """A change that a layout has shown to be enough."""
    name = change.panel.name
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
    label = panel.name if panel.cut == 1 else f"{panel.name} {_listed([str(copy) for copy in copies], 'and')}"
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


def _fine(length: float, unit: Unit, *, up: bool = False) -> str:
    """A short length: to 0.1 mm under 10 mm, so that 3.4 and 3.9 don't both read 3 or 4.

    Rounded the cautious way: spare down, plus-minus up.
    """
    if unit is Unit.MM and length < 10:
        tenths = math.ceil(length * 10 - 1e-9) if up else math.floor(length * 10 + 1e-9)
        return f"{tenths / 10:.1f} mm"
    return format_length(length, unit)


def _listed(names: Sequence[str], word: str = "and") -> str:
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {word} {names[-1]}"


def _sentence(text: str) -> str:
    text = text.strip()
    return text if not text or text[-1] in ".!?" else f"{text}."

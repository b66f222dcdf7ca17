"""What is said of a no: the proof in plain words, and what comes nearest."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.cloth.usable import usable
from salvage.fit.answer import Proof, ProofKind
from salvage.fit.cutting.joins import Way
from salvage.fit.material.lay import Lay, same_fabric
from salvage.fit.material.stretch import largest_rectangle, longest_run
from salvage.fit.proof.refuse import panel_shape
from salvage.fit.question import allowed_turns, takes
from salvage.fit.say.phrases import listed, sentence
from salvage.project.project import Panel, Project
from salvage.units import Unit, format_area, format_length


def of_missing_fabric(fabric: str, garments: Sequence[Garment]) -> str:
    """No cloth of a fabric at all."""
    there = dict.fromkeys(piece.fabric for garment in garments for piece in garment.pieces)
    names = listed([garment.name for garment in garments], "or")
    if same_fabric(fabric) in map(same_fabric, there):
        return (
            f"No cloth of fabric '{fabric}' in {names} can be used: all of it is blocked. Look at 'blocked' and "
            "'usable' in the record."
        )
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
            told_so
            for panel in project.panels
            if panel.joins == 0
            and panel.name in names_in(proof.numbers)
            and (told_so := of_no_place(panel, lay, project.unit))
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
    return (sentence(proof.reason),)


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


def of_rejected(faults: Sequence[str]) -> str:
    """A layout that the checker rejects: the search broke a rule, which no project can help."""
    return (
        f"A layout was found that the checker does not accept ({faults[0]}); it is not shown. That is a mistake in "
        "salvage, not in the project: please report it with the record and the project file."
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
    shape = panel_shape(panel)
    best_length = best_area = 0.0
    best_size = ""
    for cloth in lay.cloths:
        if not takes(cloth, shape):
            continue
        turns = allowed_turns(shape, cloth) or (0.0, 90.0)
        for turn in dict.fromkeys(turn % 180 for turn in turns):
            direction = cloth.grain + turn
            run = longest_run(cloth.polygon, width, direction)
            best_length = max(best_length, run.length if run else 0.0)
            clear = largest_rectangle(cloth.polygon, direction)
            if clear is not None and clear.area > best_area:
                best_area = clear.area
                best_size = f"{format_length(clear.width, unit, with_unit=False)} x {format_length(clear.length, unit)}"
    where = listed(panel.pieces, "or") if panel.pieces else f"the {panel.fabric}"
    start = f"{panel.name}, {size} cut, fits nowhere on {where}"
    if 0 < best_length < length:
        return f"{start}: the longest clear stretch of that width is {format_length(best_length, unit)}."
    return f"{start}; the largest clear rectangle is {best_size}." if best_size else f"{start}."

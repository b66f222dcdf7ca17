"""What is said of a no: the proof in plain words, and what comes nearest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.fit.claim import NoPart, NoPlace, NoSharing, OnAGrid, Pigeonhole, Proof, TooLittleCloth, TooMany
from salvage.fit.cutting.joins import JoinWay
from salvage.fit.material.amount import fabrics_of, usable_area
from salvage.fit.material.lay import Lay, same_fabric
from salvage.fit.material.rectangles import largest_rectangle, longest_run
from salvage.fit.proof.place import Ended, flips_of, nearest, never
from salvage.fit.proof.refuse import panel_shape
from salvage.fit.question import allowed_turns, takes
from salvage.fit.say.phrases import listed, sentence
from salvage.project.project import Panel, Project
from salvage.units import (
    Unit,
    format_apart,
    format_area,
    format_exact,
    format_exact_size,
    format_length,
    format_size,
)

MEASURED_ONLY = (
    "This holds for the cloth as measured; it is short by less than the measurement's plus-minus, so "
    "measure by hand before giving it up."
)
_ONLY = {
    "face-down": "; it would fit only face down",
    "against-grain": "; it would fit only against its grain or the cloth's up and down",
    "": "",
}


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


def of_proof(
    proof: Proof,
    lay: Lay,
    project: Project,
    garments: Sequence[Garment] = (),
    *,
    grown: bool = False,
    ended: Ended = never,
) -> tuple[str, ...]:
    """The proof in plain words, with the stretch of cloth that comes nearest where one panel has no place.

    grown: the proof is about the cloth larger by its plus-minus, so that it holds whatever the truth is.
    ended: True ends looking for how near it comes.
    """
    if isinstance(proof.claim, TooLittleCloth) and garments:
        return (_of_area(proof, proof.claim, usable_area(garments, proof.claim.fabric), project.unit),)
    if isinstance(proof.claim, NoPlace):
        told = tuple(
            told_so
            for panel in project.panels
            if panel.joins == 0
            and panel.name in proof.panels
            and (told_so := of_no_place(panel, lay, project.unit, ended))
        )
        if told:
            return told
    return (sentence(of_claim(proof, project.unit, grown=grown)),)


def _of_area(proof: Proof, claim: TooLittleCloth, usable: float, unit: Unit) -> str:
    """Too little cloth: what there is as measured, which holds tells too, and at the very most."""
    gap = proof.question.gap
    apart = f", the gap of {format_exact(gap, unit)} counted in" if claim.grown_by else ""
    asked, there, most = (format_area(area, unit) for area in (claim.asked, usable, claim.there))
    most = f", and with the plus-minus no more than {most}" if proof.grown and most != there else ""
    return f"The project asks for {asked} of {claim.fabric}{apart}, and {there} of it can be used{most}."


def of_claim(proof: Proof, unit: Unit = Unit.MM, *, grown: bool = False) -> str:
    """What the proof says, in one sentence, without its full stop."""
    names, question = listed(proof.panels), proof.question
    match proof.claim:
        case TooLittleCloth() as claim:
            asked, there = (format_area(area, unit) for area in (claim.asked, claim.there))
            more = ", the plus-minus counted in" if grown else ""
            gap = f", the gap of {format_length(question.gap, unit)} counted in" if claim.grown_by else ""
            return (
                f"The project asks for {asked} of {claim.fabric}{gap}, and there are only {there} of it that "
                f"can be used{more}"
            )
        case NoPlace() as claim:
            return _of_shape(proof, claim, unit)
        case NoPart() as claim:
            across, along = (
                format_length(claim.least[way], unit) for way in (str(JoinWay.ACROSS), str(JoinWay.ALONG))
            )
            joins = "1 join" if claim.joins == 1 else f"{claim.joins} joins"
            return (
                f"{claim.panel}, even pieced with {joins}, has a part at least {across} long or {along} wide "
                "that fits nowhere"
            )
        case Pigeonhole() as claim:
            copies = sum(each.count for each in claim.copies)
            pieces = sum(each.fabric == claim.fabric for each in question.cloths)
            takers = len(claim.takers)
            return (
                f"{copies} large panels ({names}): no two of them fit on the same piece, and only {takers} of the "
                f"{pieces} pieces of {claim.fabric} {'takes' if takers == 1 else 'take'} one"
            )
        case TooMany():
            return _of_lattice(proof.numbers, unit)
        case OnAGrid() as claim:
            copies = sum(each.count for each in claim.copies)
            return (
                f"The {copies} panels ({names}) are made of squares of {format_exact(claim.side, unit)}, and all ways to "
                f"lay them out were gone through: however they are turned and shifted, they don't fit together on the "
                f"{claim.fabric}"
            )
        case NoSharing() as claim:
            return (
                f"However the {claim.fabric} panels are shared out among the pieces, one piece gets "
                "more cloth to give than it has, or panels that can't lie on it together"
            )


def _of_shape(proof: Proof, claim: NoPlace, unit: Unit) -> str:
    """A shape that has no place, and how near it comes to one."""
    shape = proof.question.shapes[claim.shape]
    left, bottom, right, top = Polygon(shape.outline).bounds
    size = format_exact_size((right - left, top - bottom), unit)
    if not proof.pieces:
        return f"There is no {shape.fabric} cloth, and {shape.name}, {size} cut, needs it"
    told = f"{shape.name}, {size} cut, fits nowhere on the {shape.fabric}"
    if claim.near.run is not None:
        width = format_length(right - left, unit)
        told += f": the longest clear stretch {width} wide is {format_length(claim.near.run, unit)}"
    elif claim.near.percent is not None:
        told += f"; at {claim.near.percent:.0f} % of its size it would"
    return told + _ONLY[claim.near.only]


def of_names(proof: Proof, garments: Sequence[Garment], unit: Unit) -> str | None:
    """Another fabric of which there would be enough: perhaps the names are the wrong way round."""
    if not isinstance(proof.claim, TooLittleCloth):
        return None
    there = {name: usable_area(garments, fabric) for fabric, name in fabrics_of(garments).items()}
    wanted = same_fabric(proof.claim.fabric)
    enough = [
        fabric
        for fabric, area in sorted(there.items(), key=lambda item: -item[1])
        if same_fabric(fabric) != wanted and area > proof.claim.asked
    ]
    if not enough:
        return None
    return (
        f"There are {format_area(there[enough[0]], unit)} of {enough[0]}: if that is the {wanted}, the names are "
        "the wrong way round. Correct 'fabric' in the record."
    )


def of_doubts(doubts: Sequence[str]) -> str:
    """A proof that the second look did not accept, and what that means for the person."""
    return (
        "A reason was found why it can't be cut, but the second look, which every no must pass, could not make sure of "
        f"it ({doubts[0]}). So it may well not fit, but that isn't certain: don't give it up for this alone. A longer "
        "search may settle it, and so may laying the panels out on the cloth by hand."
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
    size = format_size((width, length), unit)
    most = numbers["most"]
    each = ", ".join(f"{number} on {piece}" for piece, number in most.items())
    return (
        f"{numbers['copies']} panels ({names}), each at least {size}: the {numbers['fabric']} takes "
        f"{sum(most.values())} at the very most ({each})"
    )


def of_no_place(panel: Panel, lay: Lay, unit: Unit, ended: Ended = never) -> str:
    """Where a panel that fits nowhere comes nearest to fitting: the stretch there is, or the size that would fit."""
    outline = Polygon(panel.outline)
    left, bottom, right, top = outline.bounds
    width, length = right - left, top - bottom
    shape = panel_shape(panel)
    where = listed(panel.pieces, "or") if panel.pieces else f"the {panel.fabric}"
    start = f"{panel.name}, {format_exact_size((width, length), unit)} cut, fits nowhere on {where}"
    cloths = [cloth for cloth in lay.cloths if takes(cloth, shape)]
    if abs(outline.area - width * length) > 1e-6 * outline.area:
        near = nearest(shape, cloths, flips_of(shape), ended)
        percent = f"; at {near.percent:.0f} % of its cut size it would" if near.percent else ""
        return f"{start}{percent}{_ONLY[near.only]}."
    best_length = best_area = 0.0
    best_size = ""
    for cloth in cloths:
        turns = allowed_turns(shape, cloth) or (0.0, 90.0)
        for turn in dict.fromkeys(turn % 180 for turn in turns):
            direction = cloth.grain + turn
            run = longest_run(cloth.polygon, width, direction)
            best_length = max(best_length, run.length if run else 0.0)
            clear = largest_rectangle(cloth.polygon, direction)
            if clear is not None and clear.area > best_area:
                best_area = clear.area
                best_size = format_size((clear.width, clear.length), unit)
    if 0 < best_length < length:
        there, needed = format_apart(best_length, length, unit)
        if needed == format_length(length, unit):  # else more digits tell it from what there is
            needed = format_exact(length, unit)
        return f"{start}: the longest clear stretch of that width is {there}, and it needs {needed}."
    return f"{start}; the largest clear rectangle is {best_size}." if best_size else f"{start}."

"""Is this proof really one? The no's counterpart of fit/check, which asks that of a layout.

It takes the proof's facts, the garments and the project, and accepts or says what it could not confirm.
README.md in salvage/fit/proof has each argument; here is only what is computed for it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import shapely
from shapely import affinity
from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.fit.claim import (
    Apart,
    Copies,
    NoPart,
    NoPlace,
    NoSharing,
    OnAGrid,
    Pigeonhole,
    Proof,
    TooLittleCloth,
    TooMany,
)
from salvage.fit.question import Cloth, Question, Shape
from salvage.fit.recheck.asked import area_asked, asks_no_more, slabs
from salvage.fit.recheck.cells import lies_nowhere
from salvage.fit.recheck.cloth import holds_all_cloth, same
from salvage.fit.recheck.doubt import Doubt, Limit
from salvage.fit.recheck.exact import area, area_at_least, area_at_most
from salvage.fit.recheck.grid import cant_lie_together
from salvage.fit.recheck.sharing import cant_be_shared, holds_rectangle, most_of
from salvage.fit.recheck.together import never_together
from salvage.fit.recheck.ways import arcs, copies_of, lying, takes
from salvage.project.project import Panel, Project

_STEPS = 8  # slabs of a panel start so many steps apart in the length of one


def doubt_about(
    proof: Proof,
    garments: Sequence[Garment],
    project: Project,
    *,
    taken_in: float = 0.0,
    seconds: float | None = None,
    stop: Callable[[], bool] | None = None,
) -> str | None:
    """None if the proof is accepted: no layout exists. Else what could not be confirmed.

    taken_in: the proof is about cloth smaller by so many mm at every edge. seconds: for all of it; without them the
    number of tests is the limit.
    """
    try:
        limit = Limit(seconds, stop=stop)
        fabrics = {same(proof.fabric)} | {shape.fabric for shape in proof.question.shapes}
        if isinstance(proof.claim, NoPart):
            fabrics = {same(each.fabric) for each in project.panels if each.name == proof.claim.panel}
        holds_all_cloth(garments, proof, fabrics, taken_in=taken_in)
        asks_no_more(proof.question, project)
        match proof.claim:
            case TooLittleCloth() as claim if not proof.question.shapes:
                fabric = same(claim.fabric)
                cloths = [each for each in proof.question.cloths if each.fabric == fabric]
                there = sum((area_at_most(each.polygon, 0.0) for each in cloths), Fraction(0))
                _require(area_asked(project, fabric) > there, "the areas don't show it")
            case NoPart() as claim:
                named = [each for each in project.panels if each.name == claim.panel]
                _require(bool(named), f"the project has no {claim.panel}")
                _no_part(named[0], proof.question, limit)
            case _:
                _bare(proof, limit)
    except Doubt as doubt:
        return str(doubt)
    return None


def doubt_about_bare(
    proof: Proof, *, seconds: float | None = None, stop: Callable[[], bool] | None = None
) -> str | None:
    """The same for a question that came from no project: does the claim show that it has no layout?"""
    try:
        _bare(proof, Limit(seconds, stop=stop))
    except Doubt as doubt:
        return str(doubt)
    return None


def _require(holds: bool, otherwise: str) -> None:
    if not holds:
        raise Doubt(otherwise)


def _bare(proof: Proof, limit: Limit) -> None:
    """Raises Doubt unless the claim follows from the question."""
    question = proof.question
    match proof.claim:
        case TooLittleCloth() as claim:
            _too_little(question, claim)
        case NoPlace() as claim:
            shape = question.shapes[claim.shape]
            needed = [each.flips for each in copies_of(shape, claim.shape) if each.count > 0]
            _require(claim.flips in needed, "not every way to flip it was looked at")
            for g in range(len(question.cloths)):
                _alone(question, Copies(claim.shape, claim.flips, 1), g, limit)
        case Pigeonhole() as claim:
            _are_asked(question, claim.copies)
            _pigeonhole(question, claim, limit)
        case TooMany() as claim:
            _are_asked(question, claim.copies)
            _too_many(question, claim, limit)
        case NoSharing() as claim:
            _are_asked(question, claim.copies)
            _no_sharing(question, claim, limit)
        case OnAGrid() as claim:
            _are_asked(question, claim.copies)
            _require(cant_lie_together(question, claim, limit), "there may be a way to lay them on a grid")
        case NoPart():
            raise Doubt("a part of a panel is a matter of the project")


def _are_asked(question: Question, copies: Sequence[Copies]) -> None:
    """Each of these is asked for by the question, and none is counted twice."""
    _require(len(set(copies)) == len(copies), "copies were counted twice")
    for each in copies:
        asked = copies_of(question.shapes[each.shape], each.shape)
        _require(each in asked, "copies were counted that aren't asked for")


def _too_little(question: Question, claim: TooLittleCloth) -> None:
    """Shapes grown by half the gap are apart and lie on the cloth grown as much."""
    out = question.gap / 2 if claim.grown_by > 0 else 0.0
    shapes = [each for each in question.shapes if each.fabric == claim.fabric]
    cloths = [each for each in question.cloths if each.fabric == claim.fabric]
    asked = sum((each.count * area_at_least(Polygon(each.outline), out) for each in shapes), Fraction(0))
    there = sum((area_at_most(each.polygon, out) for each in cloths), Fraction(0))
    _require(asked > there, "the areas don't show it")


def _alone(question: Question, copies: Copies, g: int, limit: Limit) -> None:
    """Raises Doubt unless none of the copies lies on the cloth, in any of its ways."""
    shape, cloth = question.shapes[copies.shape], question.cloths[g]
    outline = Polygon(shape.outline)
    if not takes(cloth, shape):
        return
    for flipped in copies.flips:
        nowhere = lies_nowhere(outline, flipped, arcs(shape, cloth), cloth.polygon, limit)
        _require(nowhere, f"{shape.name} may have a place on {cloth.name}")


def _never_both(question: Question, one: Copies, two: Copies, g: int, limit: Limit) -> None:
    """Raises Doubt unless no copy of the one and of the other (two of them, if they are the same) lie there."""
    cloth = question.cloths[g]
    shapes = [question.shapes[each.shape] for each in (one, two)]
    if not all(takes(cloth, shape) for shape in shapes):
        return
    outlines = [Polygon(shape.outline) for shape in shapes]
    if sum(area(each) for each in outlines) > area_at_most(cloth.polygon, 0.0):
        return
    ways = [_ways(shape, each, cloth) for shape, each in zip(shapes, (one, two), strict=True)]
    for n, a in enumerate(ways[0]):
        for b in ways[1][n:] if one == two else ways[1]:
            apart = never_together(
                lying(outlines[0], *a), lying(outlines[1], *b), cloth.polygon, question.gap, limit
            )
            _require(apart, f"{shapes[0].name} and {shapes[1].name} may lie together on {cloth.name}")


def _ways(shape: Shape, copies: Copies, cloth: Cloth) -> list[tuple[float, bool]]:
    found = arcs(shape, cloth)
    _require(all(half == 0 for _, half in found), "a shape's angles can't be listed")
    outline = Polygon(shape.outline)
    distinct: dict[bytes, tuple[float, bool]] = {}
    for angle, _ in found:
        for flipped in copies.flips:
            distinct.setdefault(_as_moved(lying(outline, angle, flipped)), (angle, flipped))
    return list(distinct.values())


def _as_moved(shape: Polygon) -> bytes:
    """The same for shapes that are one another moved, to 1e-9 mm, which SLACK allows for."""
    at_zero = affinity.translate(shape, -shape.bounds[0], -shape.bounds[1])
    return bytes(shapely.to_wkb(shapely.set_precision(at_zero, 1e-9).normalize()))


def _facts(
    question: Question,
    copies: Sequence[Copies],
    alone: Sequence[tuple[int, int]],
    apart: Sequence[Apart],
    limit: Limit,
) -> None:
    for k, g in alone:
        _alone(question, copies[k], g, limit)
    for k, m, g in apart:
        _never_both(question, copies[k], copies[m], g, limit)


def _pigeonhole(question: Question, claim: Pigeonhole, limit: Limit) -> None:
    copies, barred = claim.copies, set(claim.no_place)
    kept_apart = set(claim.apart) | {(m, k, g) for k, m, g in claim.apart}
    for g, cloth in enumerate(question.cloths):
        lies = [
            k
            for k, each in enumerate(copies)
            if takes(cloth, question.shapes[each.shape]) and (k, g) not in barred
        ]
        _require(not lies or g in claim.takers, "a cloth that takes one of them was left out")
        for n, k in enumerate(lies):
            for m in lies[n:]:
                if k == m and copies[k].count < 2:
                    continue
                _require((k, m, g) in kept_apart, "two of them may lie together")
    _require(sum(each.count for each in copies) > len(set(claim.takers)), "there are cloths enough")
    _facts(question, copies, claim.no_place, claim.apart, limit)


def _too_many(question: Question, claim: TooMany, limit: Limit) -> None:
    group = [claim.copies[k] for k in claim.lattice.copies]
    _require(len(set(claim.lattice.copies)) == len(group), "copies were counted twice")
    for each in group:
        holds_rectangle(question, each, claim.lattice)
    most = most_of(question, claim.lattice, limit)
    barred = set(claim.no_place)
    total = 0
    for g, cloth in enumerate(question.cloths):
        lies = [
            k
            for k in claim.lattice.copies
            if takes(cloth, question.shapes[claim.copies[k].shape]) and (k, g) not in barred
        ]
        _require(not lies or g in most, "a cloth was left out of the count")
        total += most[g] if lies else 0
    _require(sum(each.count for each in group) > total, "the counts don't show it")
    _facts(question, claim.copies, claim.no_place, (), limit)


def _no_sharing(question: Question, claim: NoSharing, limit: Limit) -> None:
    cloths = [g for g, each in enumerate(question.cloths) if each.fabric == claim.fabric]
    limits = []
    for lattice in claim.lattices:
        for k in lattice.copies:
            holds_rectangle(question, claim.copies[k], lattice)
        limits.append((lattice.copies, most_of(question, lattice, limit)))
    foreign = [
        (k, g)
        for k, each in enumerate(claim.copies)
        for g in cloths
        if not takes(question.cloths[g], question.shapes[each.shape])
    ]
    shared = not cant_be_shared(
        question, claim.copies, cloths, [*claim.no_place, *foreign], claim.apart, limits
    )
    _require(not shared, "the copies might be shared out")
    _facts(question, claim.copies, claim.no_place, claim.apart, limit)


def _no_part(panel: Panel, question: Question, limit: Limit) -> None:
    """Some slab of each way of joining has to lie somewhere, flipped or not as the panel is."""
    shape = Shape(
        panel.name,
        panel.outline,
        fabric=same(panel.fabric),
        grain=panel.grain,
        turns=panel.rotations,
        off_grain=panel.off_grain,
        pieces=tuple(same(name) for name in panel.pieces),
    )
    for across in (True, False):
        seen: list[Polygon] = []
        for slab in slabs(panel, across, _STEPS):
            at_zero = affinity.translate(slab, -slab.bounds[0], -slab.bounds[1])
            if any(shapely.equals_exact(at_zero.normalize(), each.normalize(), 1e-9) for each in seen):
                continue
            seen.append(at_zero)
            for cloth in question.cloths:
                for flipped in (False, True) if panel.flip else (False,):
                    nowhere = lies_nowhere(slab, flipped, arcs(shape, cloth), cloth.polygon, limit)
                    _require(nowhere, f"a part of {panel.name} may have a place on {cloth.name}")

"""Proofs that cover everything the project allows, joins and strips included.

A panel that may be pieced and a strip that may be joined can be cut in endless ways, so they are
replaced by less than any of those ways needs: that is a relaxed question, and a no to it is a no.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.fit.ask import pieces_of
from salvage.fit.claim import Claim, NoPart, Proof, Site, TooLittleCloth
from salvage.fit.cutting.joins import JoinWay, bands, ring_of
from salvage.fit.cutting.strips import least_segments
from salvage.fit.layout.budget import Budget
from salvage.fit.material.lay import Lay, same_fabric
from salvage.fit.proof.prove import prove
from salvage.fit.question import Question, Shape
from salvage.project.project import Panel, Project, Strip

_MOST_SHAPES = 150  # with more different ones the time is better spent on the search, which proves too


def refuse(lay: Lay, project: Project, budget: Budget, *, grown: bool = False) -> Proof | None:
    """A proof that the project can't be cut from the lay in any way it allows, or None.

    grown: whether the lay is larger than the cloth by its plus-minus, for the proof to say so.
    """
    proof = _proof(lay, project, budget)
    return None if proof is None else with_sites(proof, lay, grown=grown)


def with_sites(proof: Proof, lay: Lay, *, grown: bool) -> Proof:
    """The proof, with where its cloths, which are the lay's, come from."""
    sites = {id(c): Site(w.garment, w.piece, w.layer) for c, w in zip(lay.cloths, lay.where, strict=True)}
    return replace(proof, sites=tuple(sites[id(c)] for c in proof.question.cloths), grown=grown)


def _proof(lay: Lay, project: Project, budget: Budget) -> Proof | None:
    area = _area(lay, project)
    if area is not None:
        return area
    for panel in project.panels:
        if panel.joins > 0:
            proof = _no_part_has_a_place(lay, panel, budget.part(0.6))
            if proof is not None:
                return proof
    shapes = [panel_shape(panel) for panel in project.panels if panel.joins == 0]
    shapes += [each for strip in project.strips if (each := _strip_shape(strip, project.cutting_gap))]
    if not shapes or len(shapes) > _MOST_SHAPES or budget.over():
        return None
    return prove(
        Question(lay.cloths, tuple(shapes), float(project.cutting_gap)), stop=budget.looks(lay.cloths)
    )


def _area(lay: Lay, project: Project) -> Proof | None:
    """More cloth asked of one fabric than there is; a join only ever asks for more."""
    asked = [each.fabric for each in project.panels] + [each.fabric for each in project.strips]
    for fabric in dict.fromkeys(map(same_fabric, asked)):
        proof = area_proof(lay, project, fabric)
        if proof is not None:
            return proof
    return None


def area_proof(lay: Lay, project: Project, fabric: str) -> Proof | None:
    """The proof that all that is asked of a fabric has more area than there is of it."""
    panels = [each for each in project.panels if same_fabric(each.fabric) == fabric]
    strips = [each for each in project.strips if same_fabric(each.fabric) == fabric]
    asked = sum(each.cut * _area_of(each) for each in panels)
    asked += sum(each.cut * each.cut_width * each.length for each in strips)
    there = lay.area(fabric)
    if asked <= there * (1 + 1e-9) + 1e-3:
        return None
    names = (*(each.name for each in panels), *(each.name for each in strips))
    spelled = panels[0].fabric if panels else strips[0].fabric
    return _about(lay, TooLittleCloth(spelled, asked, there, 0.0, names), fabric)


def _about(lay: Lay, claim: Claim, fabric: str) -> Proof:
    """A claim about the project as it stands and all cloth of one fabric."""
    return Proof(claim, Question(tuple(each for each in lay.cloths if each.fabric == fabric), ()))


def _area_of(panel: Panel) -> float:
    (x, y), total = panel.outline[-1], 0.0
    for next_x, next_y in panel.outline:
        total += x * next_y - next_x * y
        x, y = next_x, next_y
    return abs(total) / 2


def panel_shape(panel: Panel) -> Shape:
    """The panel whole, as a shape of the bare question."""
    return Shape(
        name=panel.name,
        outline=panel.outline,
        fabric=same_fabric(panel.fabric),
        count=panel.cut,
        grain=panel.grain,
        turns=panel.rotations,
        off_grain=panel.off_grain,
        mirrored_pair=panel.mirrored and not panel.flip,
        may_flip=panel.flip,
        pieces=pieces_of(panel),
    )


def _strip_shape(strip: Strip, gap: float) -> Shape | None:
    """Short segments that any way of joining the strip has room for; the whole where it has one length."""
    length, count = least_segments(strip, gap)
    if count == 0:
        return None
    outline = ring_of(box(0.0, 0.0, strip.cut_width, length))
    fabric, pieces = same_fabric(strip.fabric), pieces_of(strip)
    return Shape(strip.name, outline, fabric, count * strip.cut, strip.grain, pieces=pieces)


def _distinct(bodies: Iterable[Polygon]) -> list[Polygon]:
    """The bodies without those that are another one moved."""
    cornered = [affinity.translate(each, -each.bounds[0], -each.bounds[1]) for each in bodies]
    return list({shapely.set_precision(each, 1e-3).normalize(): each for each in cornered}.values())


def _no_part_has_a_place(lay: Lay, panel: Panel, budget: Budget) -> Proof | None:
    """A proof that however the panel is pieced, its largest part fits nowhere."""
    smallest: dict[str, float] = {}
    for way in JoinWay:
        bodies = bands(panel, way)
        if bodies is None:
            return None
        for body in _distinct(bodies):
            one = replace(
                panel_shape(panel),
                outline=ring_of(body),
                count=1,
                mirrored_pair=False,
                may_flip=panel.flip,
            )
            if budget.over():
                return None
            proof = prove(Question(lay.cloths, (one,), 0.0), stop=budget.looks(lay.cloths))
            if proof is None:
                return None
        left, bottom, right, top = bodies[0].bounds
        smallest[way] = (top - bottom) if way is JoinWay.ACROSS else (right - left)
    least = {str(way): each for way, each in smallest.items()}
    return _about(lay, NoPart(panel.name, panel.joins, least), same_fabric(panel.fabric))

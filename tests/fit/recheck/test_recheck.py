"""The second look at a no: accepts each kind of proof, and none of what is false or altered."""

from __future__ import annotations

import contextlib
import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece, PlusMinus
from salvage.fit.claim import (
    Copies,
    NoPart,
    NoPlace,
    NoSharing,
    Pigeonhole,
    Proof,
    Site,
    TooLittleCloth,
    TooMany,
)
from salvage.fit.layout.budget import Budget
from salvage.fit.material.outer import outer_lay
from salvage.fit.proof.prove import prove
from salvage.fit.proof.refuse import refuse
from salvage.fit.question import Cloth, Question, Shape
from salvage.fit.recheck.asked import asks_no_more
from salvage.fit.recheck.cells import lies_nowhere
from salvage.fit.recheck.doubt import Doubt, Limit
from salvage.fit.recheck.exact import area, area_at_least, area_at_most
from salvage.fit.recheck.recheck import doubt_about, doubt_about_bare
from salvage.fit.recheck.together import never_together
from salvage.project.project import Grain, Join, Panel, Project, Strip


def rect(w: float, h: float) -> tuple[tuple[float, float], ...]:
    return ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h))


def sheet(name: str, w: float, h: float, **more: object) -> Cloth:
    return Cloth(name, box(0, 0, w, h), **more)  # type: ignore[arg-type]


def limit() -> Limit:
    return Limit(None)


# --- each kind of proof is accepted ------------------------------------------------------------------

AREA = Question((sheet("a", 100, 100),), (Shape("s", rect(60, 60), count=3),))
GAPS = Question((sheet("a", 100, 2000),), (Shape("s", rect(20, 2000), count=5),), 2.0)
NOWHERE = Question(
    (Cloth("leg", box(0, 0, 300, 500).difference(box(0, 240, 160, 260))),), (Shape("body", rect(200, 260)),)
)
ANY = Question((sheet("c", 100, 400),), (Shape("s", rect(414, 20), grain=Grain.ANY),))
PIGEON = Question(
    tuple(sheet(n, 300, 300) for n in "abc"),
    (Shape("back", rect(200, 160), count=2), Shape("front", rect(180, 170), count=2)),
)
LATTICE = Question((sheet("a", 330, 330),), (Shape("s", rect(100, 100), count=10),))
TURNED = Question(
    (sheet("a", 230, 130), sheet("b", 130, 230, grain=0.0)),
    (Shape("s", rect(101, 100), count=5),),
    4.0,
)
KINDS = [
    (AREA, TooLittleCloth), (GAPS, TooLittleCloth), (NOWHERE, NoPlace), (ANY, NoPlace),
    (PIGEON, Pigeonhole), (LATTICE, TooMany), (TURNED, TooMany),
]  # fmt: skip


@pytest.mark.parametrize(("question", "kind"), KINDS)
def test_a_proof_of_each_kind_is_accepted(question: Question, kind: type) -> None:
    proof = prove(question)
    assert proof is not None
    assert isinstance(proof.claim, kind)
    assert doubt_about_bare(proof) is None


def sharing() -> Question:
    """Two cloths take one long panel each, and a square more beside it on the larger one only."""
    cloths = (sheet("a", 150, 406), sheet("b", 150, 300))
    return Question(cloths, (Shape("long", rect(100, 290), count=2), Shape("wide", rect(140, 115), count=2)))


def test_a_sharing_out_is_accepted() -> None:
    proof = prove(sharing())
    assert proof is not None
    assert isinstance(proof.claim, NoSharing)
    assert doubt_about_bare(proof) is None


# --- none is accepted that is false ------------------------------------------------------------------


@pytest.mark.parametrize(("question", "kind"), KINDS)
def test_no_proof_is_accepted_for_ten_times_the_cloth(question: Question, kind: type) -> None:
    proof = prove(question)
    assert proof is not None
    larger = tuple(
        replace(c, polygon=affinity.scale(c.polygon, 10, 10, origin=(0, 0))) for c in question.cloths
    )
    assert doubt_about_bare(replace(proof, question=replace(question, cloths=larger))) is not None


def test_a_claim_that_leaves_out_a_fact_is_not_accepted() -> None:
    proof = prove(PIGEON)
    assert proof is not None
    assert isinstance(proof.claim, Pigeonhole)
    fewer = replace(proof.claim, apart=proof.claim.apart[1:])
    assert doubt_about_bare(replace(proof, claim=fewer)) is not None
    fewer = replace(proof.claim, takers=proof.claim.takers[1:])
    assert doubt_about_bare(replace(proof, claim=fewer)) is not None


def test_copies_counted_twice_or_not_asked_for_are_not_accepted() -> None:
    proof = prove(LATTICE)
    assert proof is not None
    assert isinstance(proof.claim, TooMany)
    more = replace(proof.claim, copies=(Copies(0, (False,), 20),))
    nine = replace(LATTICE, shapes=(replace(LATTICE.shapes[0], count=9),))
    assert doubt_about_bare(replace(proof, claim=more, question=nine)) is not None


def test_one_way_to_flip_does_not_stand_for_both() -> None:
    """Face down the panel fits; so "as drawn it has no place" proves nothing."""
    slanted = ((0.0, 0.0), (100.0, 0.0), (150.0, 80.0), (50.0, 80.0))
    mirrored = Cloth("c", affinity.scale(Polygon(slanted), -1, 1, origin=(0, 0)).buffer(1))
    shape = Shape("s", slanted, may_flip=True)
    proof = Proof(NoPlace(0, (False,)), Question((mirrored,), (shape,)))
    assert doubt_about_bare(proof) is not None
    only_as_drawn = Question((mirrored,), (replace(shape, may_flip=False),))
    assert doubt_about_bare(Proof(NoPlace(0, (False,)), only_as_drawn)) is None


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 10**6), st.sampled_from([0.0, 0.01, 0.5, 4.0]))
def test_a_shape_with_a_hidden_place_is_never_said_to_lie_nowhere(seed: int, room: float) -> None:
    rng = np.random.default_rng(seed)
    shape = Polygon(rng.uniform(0, 120, (7, 2))).convex_hull
    if rng.random() < 0.5:
        shape = shape.union(affinity.translate(shape, 40, 25)).buffer(0)
    if not isinstance(shape, Polygon) or shape.area < 50 or shape.interiors:
        return
    angle = float(rng.choice([0.0, 90.0, 33.0]))
    placed = affinity.translate(affinity.rotate(shape, angle, origin=(0, 0)), *rng.uniform(-300, 300, 2))
    cloth = placed.buffer(max(room, 1e-9), join_style="mitre")
    arc = (angle, 0.0) if rng.random() < 0.7 else (angle - 3.0, 5.0)
    with contextlib.suppress(Doubt):
        assert not lies_nowhere(shape, False, [arc], cloth, Limit(None, tests=400_000))


@settings(deadline=None, max_examples=10)
@given(st.integers(0, 10**6), st.sampled_from([0.0, 3.0]))
def test_two_shapes_with_a_hidden_layout_are_never_said_to_lie_apart(seed: int, gap: float) -> None:
    rng = np.random.default_rng(seed)
    one, two = (Polygon(rng.uniform(0, 100, (6, 2))).convex_hull for _ in range(2))
    right = affinity.translate(two, one.bounds[2] - two.bounds[0] + gap, float(rng.uniform(-50, 50)))
    cloth = one.union(right).convex_hull.buffer(1e-6, join_style="mitre")
    if min(one.area, two.area) < 50:
        return
    with contextlib.suppress(Doubt):
        assert not never_together(one, two, cloth, gap, Limit(None, tests=200_000))


def test_two_shapes_that_just_do_not_lie_together_are_told() -> None:
    assert never_together(box(0, 0, 60, 90), box(0, 0, 50, 40), box(0, 0, 109.7, 120), 0.0, limit())
    assert never_together(box(0, 0, 60, 90), box(0, 0, 50, 40), box(0, 0, 112.5, 125), 3.0, limit())


# --- areas -------------------------------------------------------------------------------------------


def test_areas_are_exact() -> None:
    third = Polygon([(0, 0), (0.1, 0), (0.1, 0.2), (0, 0.2)])
    assert area(third) == Fraction(0.1) * Fraction(0.2)
    assert area(box(0, 0, 10, 10).difference(box(2, 2, 4, 4))) == 96


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 10**6), st.floats(0.0, 8.0))
def test_grown_areas_are_bounded_from_both_sides(seed: int, out: float) -> None:
    rng = np.random.default_rng(seed)
    angles = np.sort(rng.uniform(0, 2 * np.pi, 9))
    radii = rng.uniform(20, 90, 9)
    shape = Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))
    if not shape.is_valid or shape.area < 10:
        return
    drawn_inside = shape.buffer(out, quad_segs=64).area
    assert float(area_at_least(shape, out)) <= drawn_inside * 1.0005 + 1e-6
    assert float(area_at_most(shape, out)) >= drawn_inside


# --- from garments and a project ---------------------------------------------------------------------

COAT = Garment(
    "coat",
    (
        Piece(
            "back",
            box(0, 0, 300, 400),
            blocked=(Blocked(BlockedKind.SEAM, LineString([(100, 0), (100, 400)]), 6.0),),
            plus_minus=PlusMinus(0.5, 1.5),
        ),
        Piece("front", Point(0, 0).buffer(90), grain=80.0),
    ),
)


def refused(project: Project, garment: Garment = COAT, *, grown: bool = True) -> Proof:
    proof = refuse(outer_lay([garment], grown=grown), project, Budget.start(20.0), grown=grown)
    assert proof is not None
    return proof


PROJECTS = {
    "area": Project("p", (Panel("a", rect(250, 350), cut=2, joins=3),)),
    "place": Project("p", (Panel("a", rect(205, 300)),)),
    "part": Project("p", (Panel("a", rect(210, 480), joins=1, seam_allowance=10.0),)),
    "strip": Project("p", (), (Strip("s", 30.0, 900.0, join=Join.STRAIGHT, shortest=420.0),)),
    "gap": Project("p", (Panel("a", rect(100, 196), cut=4),), cutting_gap=12.0),
}


@pytest.mark.parametrize("name", PROJECTS)
def test_a_proof_about_a_project_is_accepted(name: str) -> None:
    proof = refused(PROJECTS[name])
    assert doubt_about(proof, [COAT], PROJECTS[name]) is None


@pytest.mark.parametrize("name", PROJECTS)
def test_a_proof_on_less_cloth_than_there_is_is_not_accepted(name: str) -> None:
    proof = refused(PROJECTS[name])
    less = tuple(replace(c, polygon=c.polygon.buffer(-0.01)) for c in proof.question.cloths)
    measured = replace(proof, question=replace(proof.question, cloths=less), grown=False)
    whole = replace(COAT, pieces=tuple(replace(p, blocked=()) for p in COAT.pieces))
    assert doubt_about(measured, [whole], PROJECTS[name]) is not None
    left_out = replace(
        proof, question=replace(proof.question, cloths=proof.question.cloths[:1]), sites=proof.sites[:1]
    )
    assert "left out" in (doubt_about(left_out, [COAT], PROJECTS[name]) or "")


def test_a_proof_as_measured_does_not_count_for_the_plus_minus() -> None:
    project = Project("p", (Panel("a", rect(195.5, 300)),))
    proof = refused(project, grown=False)
    assert doubt_about(proof, [COAT], project) is None
    assert doubt_about(replace(proof, grown=True), [COAT], project) is not None


def test_cloth_with_another_grain_is_not_the_garments() -> None:
    proof = refused(PROJECTS["place"])
    turned = tuple(replace(c, grain=c.grain + 90) for c in proof.question.cloths)
    told = doubt_about(
        replace(proof, question=replace(proof.question, cloths=turned)), [COAT], PROJECTS["place"]
    )
    assert told is not None
    assert "kind" in told


def test_a_question_that_asks_for_more_than_the_project_is_not_accepted() -> None:
    panel = Panel("a", rect(100, 100), cut=2)
    project = Project("p", (panel,), (Strip("s", 20.0, 500.0, shortest=100.0),))
    cloth = sheet("back", 300, 300, piece="back")
    asks_no_more(Question((cloth,), (Shape("a", rect(100, 100), count=2),)), project)
    asks_no_more(Question((cloth,), (Shape("s", rect(20, 100), count=3),)), project)
    for shape in (
        Shape("a", rect(100, 100), count=3),
        Shape("a", rect(100, 101), count=2),
        Shape("a", rect(100, 100), count=2, grain=Grain.ACROSS),
        Shape("s", rect(20, 100), count=4),
        Shape("s", rect(20, 120), count=1),
        Shape("b", rect(10, 10)),
    ):
        with pytest.raises(Doubt):
            asks_no_more(Question((cloth,), (shape,)), project)
    with pytest.raises(Doubt):
        asks_no_more(Question((cloth,), (Shape("a", rect(100, 100)),), gap=1.0), project)


def test_a_part_of_a_panel_that_has_a_place_is_found() -> None:
    """One join halves it, and each half with its allowance fits: the claim that it doesn't is false."""
    garment = Garment("coat", (Piece("back", box(0, 0, 300, 260)),))
    project = Project("p", (Panel("a", rect(200, 480), joins=1, seam_allowance=10.0),))
    lay = outer_lay([garment], grown=False)
    sites = tuple(Site(w.garment, w.piece, w.layer) for w in lay.where)
    proof = Proof(NoPart("a", 1, {"across": 250.0, "along": 110.0}), Question(lay.cloths, ()), sites)
    assert doubt_about(proof, [garment], project) is not None


def test_time_that_runs_out_is_a_doubt() -> None:
    proof = prove(PIGEON)
    assert proof is not None
    assert "too long" in (doubt_about_bare(proof, seconds=0.0) or "")
    assert "too long" in (doubt_about_bare(proof, stop=lambda: True) or "")


def test_any_angle_is_covered_to_the_diagonal() -> None:
    cloth = sheet("c", 100, 400)
    long = Shape("s", rect(math.hypot(100, 400) - 8, 1.0), grain=Grain.ANY)
    assert doubt_about_bare(Proof(NoPlace(0, (False,)), Question((cloth,), (long,)))) is not None

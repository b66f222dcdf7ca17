"""Fit questions whose answer is known, and the nesting literature's garment instances.

Sources: ../shared/fitbench (README.md there says how each answer is known) with its own exact checker
verify.py; its folder public/ holds ESICUP nesting instances with the best lengths published with
doi 10.48550/arXiv.2509.13329. Limits are in steps, so the outcome does not hang on the machine.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from fit_questions import FitQuestions, question_of
from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.fit.claim import Copies, NoPlace, Pigeonhole, Proof, TooLittleCloth, TooMany
from salvage.fit.layout.decide import decide
from salvage.fit.proof.prove import prove
from salvage.fit.question import Cloth, Question, Shape, allowed_turns, angle_of_turn

LESS = 0.02  # mm by which a lattice's pitch is less than the rectangle that must hold a point of it
NO = ["no_area", "no_near", "no_panel", "no_rule", "no_pigeon", "no_capacity"]
YES = [*(f"yes_easy-{n}" for n in range(1001, 1009)), "yes_medium-1014", "yes_scraps-1028"]
STRIPS = ["fu-120", "jakobs1-120", "marques-120", "dagli-120"]


@pytest.mark.parametrize("group", NO)
def test_every_no_is_proved(questions: FitQuestions, group: str) -> None:
    names = questions.names(f"{group}-*")
    assert names
    for name in names:
        question = question_of(questions.load(name))
        proof = prove(question)
        assert proof is not None, name
        recheck(question, proof)


@pytest.mark.parametrize("name", [*YES, *(f"public/{s}" for s in STRIPS)])
def test_layout_found_passes_the_other_checker(questions: FitQuestions, name: str) -> None:
    data = questions.load(name)
    decision = decide(question_of(data), steps=4000)
    assert decision.complete
    assert questions.faults(data, decision.placed) == []


def test_nothing_is_proved_where_the_answer_is_yes(questions: FitQuestions) -> None:
    names = [*questions.names("yes_firm-*"), *questions.names("yes_hard-*")]
    assert len(names) == 17
    for name in names:
        assert prove(question_of(questions.load(name))) is None, name


def recheck(question: Question, proof: Proof) -> None:
    """Every kind of proof that comes up here, worked out again by other means, with shapely alone."""
    match proof.claim:
        case TooLittleCloth() as claim:
            recheck_areas(question, claim)
        case NoPlace() as claim:
            for n, cloth in enumerate(question.cloths):
                if cloth.fabric == question.shapes[claim.shape].fabric:
                    assert_no_place(question, claim.shape, claim.flips, n)
        case Pigeonhole() as claim:
            recheck_pigeonhole(question, claim)
        case TooMany() as claim:
            recheck_lattice(question, claim)
        case _:
            raise AssertionError(f"{type(proof.claim).__name__} is looked at by nobody here")


def recheck_areas(question: Question, claim: TooLittleCloth) -> None:
    out = claim.grown_by
    asked = sum(
        s.count * Polygon(s.outline).buffer(0.99 * out).area
        for s in question.shapes
        if s.fabric == claim.fabric
    )
    there = sum(c.polygon.buffer(1.01 * out).area for c in question.cloths if c.fabric == claim.fabric)
    assert asked == pytest.approx(claim.asked)
    assert there == pytest.approx(claim.there)
    assert asked > there


def asked_for(question: Question, copies: tuple[Copies, ...], fabric: str) -> int:
    """How many copies a claim is about, after seeing that they are of that fabric and no more than are asked for."""
    for shape in {each.shape for each in copies}:
        mine = [each for each in copies if each.shape == shape]
        assert question.shapes[shape].fabric == fabric
        assert sum(each.count for each in mine) <= question.shapes[shape].count
    return sum(each.count for each in copies)


def assert_no_place(question: Question, shape: int, flips: tuple[bool, ...], cloth: int) -> None:
    for flipped in flips:
        assert not places_by_trial(question.shapes[shape], question.cloths[cloth], flipped)


def recheck_pigeonhole(question: Question, claim: Pigeonhole) -> None:
    assert asked_for(question, claim.copies, claim.fabric) > len(claim.takers)
    others = {n for n, c in enumerate(question.cloths) if c.fabric == claim.fabric} - set(claim.takers)
    for cloth in others:
        for each in claim.copies:
            assert_no_place(question, each.shape, each.flips, cloth)
    for cloth in claim.takers:
        laid = [
            thinned([p for flip in each.flips for p in places_by_trial(question.shapes[each.shape], question.cloths[cloth], flip, 2000)])
            for each in claim.copies
        ]  # fmt: skip
        for a, one in enumerate(laid):
            for b in range(a, len(laid)):
                if a == b and claim.copies[a].count == 1:
                    continue
                tree = shapely.STRtree(laid[b])
                for polygon in one:
                    near = tree.query(polygon, predicate="intersects")
                    over = shapely.area(shapely.intersection(polygon, np.array(laid[b])[near]))
                    assert (over > 1e-6).sum() == len(laid[b]), "two lie there together"


def thinned(places: list[Polygon]) -> list[Polygon]:
    """A hundred or so of them, from the first to the last."""
    return places[:: max(1, len(places) // 100)]


def recheck_lattice(question: Question, claim: TooMany) -> None:
    """The rectangle lies in every copy; of the lattice's points there are fewer on the cloth than copies.

    With a gap between them, copies and cloth are each let out by half of it: a disc so wide makes a rectangle
    gap / sqrt(2) wider and longer, at the least.
    """
    copies = tuple(claim.copies[n] for n in claim.lattice.copies)
    width, height = claim.lattice.rectangle
    for each in copies:
        shape = question.shapes[each.shape]
        assert shape.angles is None or set(shape.angles) <= {0.0, 180.0}
        ways = [way for way in claim.lattice.inside if way.shape == each.shape]
        assert {way.flipped for way in ways} == set(each.flips)
        for way in ways:
            outline = turned(shape, way.flipped, way.turn)
            held = box(way.x - width / 2, way.y - height / 2, way.x + width / 2, way.y + height / 2)
            assert outline.buffer(1e-6).covers(held)
    points = 0
    for counted in claim.lattice.counted:
        cloth = question.cloths[counted.cloth]
        let_out = cloth.polygon.buffer(1.01 * question.gap / 2)
        upright = affinity.rotate(let_out, 90.0 - cloth.grain, origin=(0, 0))
        x0, y0, x1, y1 = upright.bounds
        pitch_x, pitch_y = (side + question.gap / math.sqrt(2) - LESS for side in (width, height))
        xs = counted.x + pitch_x * np.arange(
            math.floor((x0 - counted.x) / pitch_x), math.ceil((x1 - counted.x) / pitch_x) + 1
        )
        ys = counted.y + pitch_y * np.arange(
            math.floor((y0 - counted.y) / pitch_y), math.ceil((y1 - counted.y) / pitch_y) + 1
        )
        x, y = np.meshgrid(xs, ys)
        points += int(shapely.intersects_xy(upright, x.ravel(), y.ravel()).sum())
    others = {n for n, c in enumerate(question.cloths) if c.fabric == claim.fabric}
    for number in others - {counted.cloth for counted in claim.lattice.counted}:
        for each in copies:
            assert_no_place(question, each.shape, each.flips, number)
    assert asked_for(question, copies, claim.fabric) > points


def turned(shape: Shape, flipped: bool, angle: float) -> Polygon:
    outline = Polygon(shape.outline)
    if flipped:
        outline = affinity.scale(outline, -1, 1, origin=(0, 0))
    return affinity.rotate(outline, angle, origin=(0, 0))


def places_by_trial(shape: Shape, cloth: Cloth, flipped: bool, most: int = 1) -> list[Polygon]:
    """Of many places, corner on corner and a grid, those that keep the shape within the cloth; no more than `most`."""
    turns = allowed_turns(shape, cloth) or range(0, 360, 15)
    shapely.prepare(cloth.polygon)
    x0, y0, x1, y1 = cloth.polygon.bounds
    xs, ys = np.meshgrid(np.arange(x0, x1, 7.0), np.arange(y0, y1, 7.0))
    found: list[Polygon] = []
    for turn in turns:
        points = shapely.get_coordinates(turned(shape, flipped, angle_of_turn(turn, cloth)))[:-1]
        corners = shapely.get_coordinates(cloth.polygon)
        moves = np.concatenate(
            [(corners[:, None] - points[None]).reshape(-1, 2), np.column_stack([xs.ravel(), ys.ravel()])]
        )
        everywhere = (points[None] + moves[:, None]).reshape(-1, 2)
        inside = shapely.intersects_xy(cloth.polygon, *everywhere.T).reshape(len(moves), -1).all(axis=1)
        for move in moves[inside]:
            if cloth.polygon.covers(laid := Polygon(points + move)):
                found.append(laid)
                if len(found) == most:
                    return found
    return found

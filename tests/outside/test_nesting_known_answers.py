"""Fit questions whose answer is known, and the nesting literature's garment instances.

Sources: ../shared/fitbench (README.md there says how each answer is known) with its own exact checker
verify.py; its folder public/ holds ESICUP nesting instances with the best lengths published with
doi 10.48550/arXiv.2509.13329. Limits are in steps, so the outcome does not hang on the machine.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from fit_questions import FitQuestions, question_of
from shapely import affinity
from shapely.geometry import Polygon

from salvage.fit.claim import Proof, ProofKind
from salvage.fit.layout.decide import decide
from salvage.fit.proof.prove import prove
from salvage.fit.question import Cloth, Question, Shape, allowed_turns, angle_of_turn

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
    for name in [*questions.names("yes_firm-*"), *questions.names("yes_hard-*")]:
        assert prove(question_of(questions.load(name))) is None, name


def recheck(question: Question, proof: Proof) -> None:
    """The area and no-place proofs worked out again by other means, with shapely alone."""
    numbers = proof.numbers
    if proof.kind is ProofKind.AREA:
        out = numbers["grown_by"]
        asked = sum(
            s.count * Polygon(s.outline).buffer(0.99 * out).area
            for s in question.shapes
            if s.fabric == numbers["fabric"]
        )
        there = sum(
            c.polygon.buffer(1.01 * out).area for c in question.cloths if c.fabric == numbers["fabric"]
        )
        assert asked == pytest.approx(numbers["asked"])
        assert there == pytest.approx(numbers["there"])
        assert asked > there
    elif proof.kind is ProofKind.NO_PLACE:
        (shape,) = [s for s in question.shapes if s.name == numbers["shape"]]
        for cloth in (c for c in question.cloths if c.fabric == shape.fabric):
            for flipped in numbers["flipped"]:
                assert not place_by_trial(shape, cloth, flipped)


def place_by_trial(shape: Shape, cloth: Cloth, flipped: bool) -> bool:
    """Whether any of many places keeps the shape within the cloth: corner on corner, and a grid."""
    outline = Polygon(shape.outline)
    if flipped:
        outline = affinity.scale(outline, -1, 1, origin=(0, 0))
    turns = allowed_turns(shape, cloth) or range(0, 360, 15)
    shapely.prepare(cloth.polygon)
    x0, y0, x1, y1 = cloth.polygon.bounds
    xs, ys = np.meshgrid(np.arange(x0, x1, 7.0), np.arange(y0, y1, 7.0))
    for turn in turns:
        points = shapely.get_coordinates(affinity.rotate(outline, angle_of_turn(turn, cloth), origin=(0, 0)))[
            :-1
        ]
        corners = shapely.get_coordinates(cloth.polygon)
        moves = np.concatenate(
            [(corners[:, None] - points[None]).reshape(-1, 2), np.column_stack([xs.ravel(), ys.ravel()])]
        )
        everywhere = (points[None] + moves[:, None]).reshape(-1, 2)
        inside = shapely.intersects_xy(cloth.polygon, *everywhere.T).reshape(len(moves), -1).all(axis=1)
        for move in moves[inside]:
            if cloth.polygon.covers(Polygon(points + move)):
                return True
    return False

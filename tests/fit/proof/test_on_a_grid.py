"""Shapes of equal squares that don't go together on a board: a no wherever they may lie, and none too many."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import affinity
from shapely.geometry import MultiPolygon, box
from shapely.ops import unary_union

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.fit.answer import Verdict
from salvage.fit.claim import Copies, OnAGrid, Proof
from salvage.fit.fit import fit_project
from salvage.fit.proof.grid import none_on_a_grid
from salvage.fit.proof.prove import prove
from salvage.fit.question import Cloth, Question, Shape
from salvage.fit.recheck.recheck import doubt_about_bare
from salvage.project.project import Grain, Panel, Project

SIDE = 30.0
TETROMINOES = {
    "I": ((0, 0), (0, 1), (0, 2), (0, 3)),
    "O": ((0, 0), (0, 1), (1, 0), (1, 1)),
    "T": ((0, 0), (1, 0), (2, 0), (1, 1)),
    "L": ((0, 0), (0, 1), (0, 2), (1, 0)),
    "S": ((0, 0), (1, 0), (1, 1), (2, 1)),
}


def ring(name: str, side: float = SIDE) -> tuple[tuple[float, float], ...]:
    boxes = [box(i * side, j * side, (i + 1) * side, (j + 1) * side) for i, j in TETROMINOES[name]]
    return tuple((x, y) for x, y in unary_union(boxes).exterior.coords[:-1])[::-1]


def question(names: str, width: float, length: float, *, side: float = SIDE, grain: float = 90.0) -> Question:
    """Tetrominoes by their letters on a board of so many squares."""
    board = affinity.rotate(box(0, 0, width * side, length * side), grain - 90.0, origin=(0, 0))
    shapes = tuple(
        Shape(name, ring(name, side), count=names.count(name), grain=Grain.EITHER, may_flip=True)
        for name in sorted(set(names))
    )
    return Question((Cloth("board", board, grain=grain),), shapes)


def grid_proof(asked: Question) -> Proof | None:
    return none_on_a_grid(asked, "shell", lambda: False)


@pytest.mark.parametrize("side", [SIDE, 12.7, 38.1])
@pytest.mark.parametrize("more", [0.0, 0.4, 0.9])
def test_one_t_more_than_the_colours_allow(side: float, more: float) -> None:
    """Coloured like a chessboard, a T covers 3 squares of one colour and all others 2, a board of 4 x 6 has 12."""
    asked = question("ITOLSL", 4 + more, 6 + more, side=side, grain=90.0 if more else 63.0)
    proof = grid_proof(asked)
    assert proof is not None
    assert isinstance(proof.claim, OnAGrid)
    assert proof.claim.side == side
    assert doubt_about_bare(proof) is None
    assert prove(asked) is not None


@pytest.mark.parametrize(("width", "length"), [(5.001, 6.0), (4.0, 7.0)])
def test_another_row_is_another_question(width: float, length: float) -> None:
    asked = question("ITOLSL", width, length)
    assert grid_proof(asked) is None
    assert doubt_about_bare(Proof(OnAGrid("shell", _all(asked), SIDE), asked)) is not None


def test_with_two_of_them_there_is_a_way() -> None:
    asked = question("TTTTLL", 4, 6)
    assert grid_proof(asked) is None
    assert doubt_about_bare(Proof(OnAGrid("shell", _all(asked), SIDE), asked)) is not None


def _all(asked: Question) -> tuple[Copies, ...]:
    return tuple(Copies(n, (False, True), shape.count) for n, shape in enumerate(asked.shapes))


def test_the_second_look_sees_what_was_left_out() -> None:
    asked = question("ITOLSL", 4, 6)
    proof = grid_proof(asked)
    assert proof is not None
    assert isinstance(proof.claim, OnAGrid)
    turning = replace(asked, shapes=tuple(replace(each, grain=Grain.ANY) for each in asked.shapes))
    leaning = replace(asked, shapes=tuple(replace(each, off_grain=2.0) for each in asked.shapes))
    slanted = replace(asked, shapes=tuple(replace(each, turns=(0.0, 45.0)) for each in asked.shapes))
    longer = replace(asked, cloths=(replace(asked.cloths[0], polygon=box(0, 0, 120, 211)),))
    another = replace(asked, cloths=(*asked.cloths, replace(asked.cloths[0], name="another")))
    for other in (turning, leaning, slanted, longer, another):
        assert doubt_about_bare(replace(proof, question=other)) is not None
        assert grid_proof(other) is None
    claim = proof.claim
    more = tuple(replace(each, count=each.count + 1) for each in claim.copies)
    one_way = tuple(replace(each, flips=(False,)) for each in claim.copies)
    for wrong in (replace(claim, copies=more), replace(claim, copies=one_way), replace(claim, side=31.0)):
        assert doubt_about_bare(replace(proof, claim=wrong)) is not None


def test_a_person_gets_a_no_that_says_why_whatever_the_plus_minus() -> None:
    board = box(0, 0, 4 * SIDE + 5, 6 * SIDE + 5)
    coat = Garment(
        "coat", (Piece("back", board, usable=MultiPolygon([board]), plus_minus=PlusMinus(edge=2.0)),)
    )
    panels = [Panel(name, ring(name), grain=Grain.EITHER, flip=True) for name in "ITOS"]
    panels.append(Panel("L", ring("L"), cut=2, grain=Grain.EITHER, flip=True))
    answer = fit_project([coat], Project("game", tuple(panels)), steps=20, brief=True)
    assert answer.verdict is Verdict.NO
    assert answer.proof is not None
    assert isinstance(answer.proof.claim, OnAGrid)
    assert answer.proof.grown
    assert answer.proof.numbers["rule"] == "grid"
    assert answer.proof.numbers["side"] == SIDE
    assert "are made of squares of 30 mm" in answer.reasons[0]


def test_what_is_no_polygon_of_squares_is_left_out() -> None:
    asked = question("ITOLSL", 4, 6)
    kite = Shape("kite", ((0.0, 0.0), (40.0, 0.0), (10.0, 30.0)))
    proof = grid_proof(replace(asked, shapes=(*asked.shapes, kite)))
    assert proof is not None
    assert "kite" not in proof.panels

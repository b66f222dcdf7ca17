"""Shapes made of squares: put together without waste, or not at all."""

from __future__ import annotations

import pytest
from shapely import affinity
from shapely.geometry import box

from salvage.fit.question import Cloth, Question, Shape
from salvage.fit.search.cells import on_a_grid
from salvage.fit.search.exact import clear_layout
from salvage.project.project import Grain

# The free tetrominoes, each as the outline of four squares.
TETROMINOES = {
    "I": ((0, 0), (1, 0), (1, 4), (0, 4)),
    "O": ((0, 0), (2, 0), (2, 2), (0, 2)),
    "T": ((0, 0), (3, 0), (3, 1), (2, 1), (2, 2), (1, 2), (1, 1), (0, 1)),
    "L": ((0, 0), (2, 0), (2, 1), (1, 1), (1, 3), (0, 3)),
    "S": ((0, 0), (2, 0), (2, 1), (3, 1), (3, 2), (1, 2), (1, 1), (0, 1)),
}


def question(counts: dict[str, int], columns: int, rows: int, grain: float = 90.0) -> Question:
    shapes = tuple(
        Shape(
            name,
            tuple((50.0 * x, 50.0 * y) for x, y in TETROMINOES[name]),
            count=n,
            grain=Grain.ANY,
            may_flip=True,
        )
        for name, n in counts.items()
    )
    cloth = affinity.rotate(box(7, 3, 7 + 50 * columns, 3 + 50 * rows), grain - 90.0, origin=(0, 0))
    return Question((Cloth("c", cloth, grain=grain),), shapes)


@pytest.mark.parametrize("grain", [90.0, 0.0, 37.0])
def test_tetrominoes_are_put_together_without_waste(grain: float) -> None:
    asked = question({"I": 1, "O": 1, "T": 2, "L": 2}, 4, 6, grain)
    placed = on_a_grid(asked, seconds=None)
    assert placed is not None
    assert len(clear_layout(asked, placed)) == 6


def test_one_t_on_a_chequered_rectangle_leaves_the_colours_uneven() -> None:
    # The T covers three squares of one colour, each of the others two of both: 4 x 5 can't come out even.
    assert on_a_grid(question({"I": 1, "O": 1, "T": 1, "L": 1, "S": 1}, 4, 5), seconds=None) is None


def test_other_shapes_are_left_to_the_search() -> None:
    slanted = Shape("s", ((0.0, 0.0), (100.0, 0.0), (50.0, 100.0)))
    assert on_a_grid(Question((Cloth("c", box(0, 0, 200, 200)),), (slanted,)), seconds=None) is None


def test_a_mirrored_pair_takes_one_of_each() -> None:
    l_shape = Shape(
        "L",
        tuple((50.0 * x, 50.0 * y) for x, y in TETROMINOES["L"]),
        count=4,
        mirrored_pair=True,
        grain=Grain.ANY,
    )
    asked = Question((Cloth("c", box(0, 0, 200, 200)),), (l_shape,))
    placed = on_a_grid(asked, seconds=None)
    assert placed is not None
    assert sorted(each.flipped for each in placed) == [False, False, True, True]
    assert len(clear_layout(asked, placed)) == 4

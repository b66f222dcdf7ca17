"""Shapes of squares on a board, against laying them square by square in every way there is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import box
from shapely.ops import unary_union

from salvage.fit.claim import Copies, OnAGrid
from salvage.fit.question import Cloth, Question, Shape
from salvage.fit.recheck.doubt import Doubt, Limit
from salvage.fit.recheck.grid import cant_lie_together
from salvage.project.project import Grain

SIDE = 25.0
SHAPES = {
    "domino": ((0, 0), (0, 1)),
    "bar": ((0, 0), (0, 1), (0, 2)),
    "bend": ((0, 0), (1, 0), (0, 1)),
    "step": ((0, 0), (1, 0), (1, 1), (2, 1)),
    "long bend": ((0, 0), (1, 0), (0, 1), (0, 2)),
}
Square = tuple[int, int]


def question(
    names: Sequence[str], board: tuple[float, float], grain: Grain, *, flip: bool = False, way: float = 90.0
) -> tuple[Question, OnAGrid]:
    cloth = affinity.rotate(box(0, 0, board[0] * SIDE, board[1] * SIDE), way - 90.0, origin=(0, 0))
    shapes = []
    for name in dict.fromkeys(names):
        squares = [box(i * SIDE, j * SIDE, (i + 1) * SIDE, (j + 1) * SIDE) for i, j in SHAPES[name]]
        ring = tuple((x, y) for x, y in unary_union(squares).exterior.coords[:-1])[::-1]
        shapes.append(Shape(name, ring, count=names.count(name), grain=grain, may_flip=flip))
    flips = (False, True) if flip else (False,)
    copies = tuple(Copies(n, flips, shape.count) for n, shape in enumerate(shapes))
    return Question((Cloth("board", cloth, grain=way),), tuple(shapes)), OnAGrid("shell", copies, SIDE)


def turned(squares: Sequence[Square], quarters: int, *, flip: bool) -> frozenset[Square]:
    found = [(-i, j) if flip else (i, j) for i, j in squares]
    for _ in range(quarters):
        found = [(-j, i) for i, j in found]
    low = min(i for i, _ in found), min(j for _, j in found)
    return frozenset((i - low[0], j - low[1]) for i, j in found)


def go_together(
    names: Sequence[str], columns: int, rows: int, quarters: Sequence[int], *, flip: bool
) -> bool:
    def ways(name: str) -> Iterator[frozenset[Square]]:
        for one in {turned(SHAPES[name], q, flip=f) for q in quarters for f in ({False, flip})}:
            for a in range(columns):
                for b in range(rows):
                    moved = frozenset((i + a, j + b) for i, j in one)
                    if all(i < columns and j < rows for i, j in moved):
                        yield moved

    def lay(left: Sequence[str], taken: frozenset[Square]) -> bool:
        return not left or any(not way & taken and lay(left[1:], taken | way) for way in ways(left[0]))

    return lay(names, frozenset())


@settings(max_examples=40)
@given(
    st.lists(st.sampled_from(list(SHAPES)), min_size=2, max_size=4),
    st.tuples(st.integers(2, 4), st.integers(2, 4)),
    st.sampled_from([(Grain.ALONG, (0, 2)), (Grain.EITHER, (0, 1, 2, 3)), (Grain.ACROSS, (1, 3))]),
    st.booleans(),
    st.sampled_from([90.0, 30.0]),
)
# Two corners make an oblong across the grain, which mirrored ones would not.
@example(["bend", "bend"], (2, 3), (Grain.ACROSS, (1, 3)), False, 90.0)
def test_it_is_refused_exactly_where_no_way_of_laying_squares_is_left(
    names: list[str], board: tuple[int, int], grain: tuple[Grain, tuple[int, ...]], flip: bool, way: float
) -> None:
    asked, claim = question(names, board, grain[0], flip=flip, way=way)
    refused = cant_lie_together(asked, claim, Limit(None))
    assert refused == (not go_together(names, *board, grain[1], flip=flip))


def test_a_board_a_little_larger_is_the_same_board_and_one_of_another_row_is_not() -> None:
    for more, refused in ((0.9, True), (0.9999, False), (1.0, False)):
        asked, claim = question(["bar", "bar", "bar"], (2.0 + more, 3.0), Grain.ALONG)
        assert cant_lie_together(asked, claim, Limit(None)) == refused


def test_cloths_are_boards_side_by_side() -> None:
    asked, claim = question(["bar", "bar"], (1, 3), Grain.ALONG)
    assert cant_lie_together(asked, claim, Limit(None))
    two = Question((*asked.cloths, *asked.cloths), asked.shapes)
    assert not cant_lie_together(two, claim, Limit(None))
    lining = Question((*asked.cloths, Cloth("other", asked.cloths[0].polygon, "lining")), asked.shapes)
    assert cant_lie_together(lining, claim, Limit(None))


@pytest.mark.parametrize(
    "shape",
    [
        {"off_grain": 2.0},
        {"grain": Grain.BIAS},
        {"grain": Grain.ANY},
        {"angles": (0.0,)},
        {"outline": ((0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0))},  # less than a square
    ],
)
def test_what_may_lie_off_the_grid_is_doubted(shape: dict[str, object]) -> None:
    asked, claim = question(["bar", "bar"], (1, 3), Grain.ALONG)
    other = Question(asked.cloths, (replace(asked.shapes[0], **shape),))  # type: ignore[arg-type]
    with pytest.raises(Doubt):
        cant_lie_together(other, claim, Limit(None))


def test_a_board_of_too_many_squares_is_doubted() -> None:
    asked, claim = question(["bar", "bar"], (50, 41), Grain.ALONG)
    with pytest.raises(Doubt, match="too many squares"):
        cant_lie_together(asked, claim, Limit(None))

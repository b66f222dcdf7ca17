"""Lattice points counted one by one, and copies shared out in every way, against the second look's counts."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.fit.claim import Copies, Counted, Inside, Lattice
from salvage.fit.question import Cloth, Question, Shape
from salvage.fit.recheck.doubt import Doubt, Limit
from salvage.fit.recheck.sharing import cant_be_shared, holds_rectangle, lattice_points, most_of
from salvage.project.project import Grain


def rect(w: float, h: float) -> tuple[tuple[float, float], ...]:
    return ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h))


def lattice(
    w: float, h: float, inside: tuple[Inside, ...] = (), counted: tuple[Counted, ...] = ()
) -> Lattice:
    return Lattice((0,), (w, h), counted, inside)


@pytest.mark.parametrize("grain", [90.0, 0.0, 37.0])
@pytest.mark.parametrize("seed", range(4))
def test_no_more_rectangles_lie_side_by_side_than_points(seed: int, grain: float) -> None:
    """Rows of rectangles laid by hand on a bent piece: the count is never below what lies there."""
    rng = np.random.default_rng(seed)
    upright = Polygon([(0, 0), (400, rng.uniform(-40, 40)), (380, 330), (150, 300), (0, 340)])
    w, h = rng.uniform(50, 90, 2)
    laid = sum(
        upright.covers(box(x, y, x + w, y + h))
        for x in np.arange(rng.uniform(0, w), 400, w)
        for y in np.arange(rng.uniform(0, h), 340, h)
    )
    cloth = Cloth("a", affinity.rotate(upright, grain - 90.0, origin=(0, 0)), grain=grain)
    counts = [
        lattice_points(cloth, lattice(w, h), x, y, 0.0, Limit(None)) for x, y in rng.uniform(0, 50, (5, 2))
    ]
    assert laid > 0
    assert min(counts) >= laid


def test_points_of_a_known_sheet() -> None:
    """Points at 10 + 100 n (a hair less) in a sheet of 330 x 230: 4 columns, 3 rows."""
    assert (
        lattice_points(Cloth("a", box(0, 0, 330, 230)), lattice(100, 100), 10.0, 10.0, 0.0, Limit(None)) == 12
    )


@pytest.mark.parametrize("grain", [0.0, 90.0, 200.0])
def test_points_are_counted_along_the_grain(grain: float) -> None:
    lying = affinity.rotate(box(0, 0, 330, 130), grain - 90.0, origin=(0, 0))
    assert lattice_points(Cloth("a", lying, grain=grain), lattice(100, 40), 10.0, 5.0, 0.0, Limit(None)) == 16


def test_a_rectangle_may_reach_over_a_point_by_the_gaps_share() -> None:
    """The points lie 1 mm before the sheet and 6.6 mm behind it; the gap's share is 7.07 mm."""
    sheet = Cloth("a", box(0, 0, 99.5, 50))
    before, behind = -1.0, 100 + 10.0 / math.sqrt(2) - 1.0
    assert lattice_points(sheet, lattice(100, 100), behind, 1.0, 10.0, Limit(None)) == 1
    assert lattice_points(sheet, lattice(100, 100), before, 1.0, 10.0, Limit(None)) == 1
    assert (
        lattice_points(Cloth("a", box(0, 0, 98.5, 50)), lattice(100, 100), before, 1.0, 10.0, Limit(None))
        == 0
    )


@pytest.mark.parametrize("shift", [0.0, 20.0, 77.0])
def test_with_a_gap_no_more_lie_side_by_side_than_points(shift: float) -> None:
    """Three of 100 mm with gaps of 10 mm take 320 mm."""
    assert (
        lattice_points(Cloth("a", box(0, 0, 320, 90)), lattice(100, 90), shift, 45.0, 10.0, Limit(None)) >= 3
    )


def square(side: float, **more: object) -> Question:
    shape = Shape("s", rect(side, side), count=2, **more)  # type: ignore[arg-type]
    return Question((Cloth("a", box(0, 0, 300, 300)),), (shape,))


def told(question: Question, *inside: Inside, flips: tuple[bool, ...] = (False,), side: float = 80.0) -> bool:
    try:
        holds_rectangle(question, Copies(0, flips, 2), lattice(side, side, inside))
    except Doubt:
        return False
    return True


def test_a_rectangle_must_lie_in_the_shape_where_it_is_said_to() -> None:
    assert told(square(80), Inside(0, 0.0, False, 40.0, 40.0))
    assert not told(square(80), Inside(0, 0.0, False, 41.0, 40.0))
    assert not told(square(79.9), Inside(0, 0.0, False, 39.95, 39.95))


def test_each_way_that_the_shape_may_lie_must_be_told() -> None:
    straight, across = Inside(0, 0.0, False, 40.0, 40.0), Inside(0, 90.0, False, -40.0, 40.0)
    flipped = Inside(0, 0.0, True, -40.0, 40.0)
    assert not told(square(80, grain=Grain.EITHER), straight)
    assert told(square(80, grain=Grain.EITHER), straight, across)
    assert not told(square(80), straight, flips=(False, True))
    assert told(square(80), straight, flipped, flips=(False, True))


def test_a_shape_that_may_lie_off_the_grain_is_not_counted_so() -> None:
    assert not told(square(80, off_grain=2.0), Inside(0, 0.0, False, 40.0, 40.0))


def test_most_by_cloth() -> None:
    counted = (Counted(0, 0, 10.0, 10.0),)  # its own count is not believed
    assert most_of(square(80), lattice(100, 100, counted=counted), Limit(None)) == {0: 9}


@pytest.mark.parametrize("seed", range(12))
def test_sharing_out_agrees_with_trying_every_way(seed: int) -> None:
    rng = np.random.default_rng(seed)
    sheets = [int(n) for n in rng.integers(1, 5, 2)]
    copies = [Copies(k, (False,), int(rng.integers(1, 4))) for k in range(2)]
    sizes = [int(n) for n in rng.integers(1, 3, 2)]
    question = Question(
        tuple(Cloth(f"c{g}", box(0, 0, 10, 10 * n)) for g, n in enumerate(sheets)),
        tuple(Shape(f"s{k}", rect(10, 10 * n), count=copies[k].count) for k, n in enumerate(sizes)),
    )
    alone = [(k, g) for k in range(2) for g in range(2) if rng.random() < 0.2]
    apart = [(0, 1, g) for g in range(2) if rng.random() < 0.3] + [
        (0, 0, g) for g in range(2) if rng.random() < 0.2
    ]
    most = {g: int(rng.integers(0, 4)) for g in range(2)}
    ways = itertools.product(*(range(each.count + 1) for each in copies))
    possible = any(
        all(
            sizes[0] * a + sizes[1] * b <= sheets[g]
            and not any((k, g) in alone and n for k, n in ((0, a), (1, b)))
            and not any(there == g and (a > 1 if k == m else a and b) for k, m, there in apart)
            and a + b <= most[g]
            for g, (a, b) in enumerate(((x, y), (copies[0].count - x, copies[1].count - y)))
        )
        for x, y in ways
    )
    assert cant_be_shared(question, copies, (0, 1), alone, apart, [((0, 1), most)]) is not possible


@pytest.mark.parametrize("apart", [[(0, 0, 0)], [(0, 1, 0), (0, 0, 0)], [(0, 1, 0), (1, 1, 0)]])
def test_what_does_not_lie_together_is_not_put_together(apart: list[tuple[int, int, int]]) -> None:
    """Two small copies of one shape, or of two, on one large sheet: room enough but for what is said of them."""
    copies = [Copies(0, (False,), 2), Copies(1, (False,), 2)]
    question = Question(
        (Cloth("a", box(0, 0, 500, 500)),), tuple(Shape(n, rect(10, 10), count=2) for n in "st")
    )
    assert cant_be_shared(question, copies, (0,), [], apart, [])
    assert not cant_be_shared(question, copies, (0,), [], [], [])

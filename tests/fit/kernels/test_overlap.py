"""How deep things lie in each other, against distances in shapely's own no-fit polygons."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon, box
from small_tasks import Small, differences, small

from salvage.fit.kernels.calls import outside_of, overlap_of, put

L_SHAPE = Polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)])
WEDGE = Polygon([(0, 0), (50, 0), (30, 25), (5, 30)])
places = st.tuples(st.floats(-70, 70), st.floats(-70, 70))


def depth(no_fit: Polygon, at: Point, gap: float) -> float:
    """How far a point must go to be the gap away from a convex polygon."""
    if no_fit.covers(at):
        return gap + float(no_fit.exterior.distance(at))
    return max(0.0, gap - float(no_fit.distance(at)))


def overlap(asked: Small, a: int, b: int, x: float, y: float) -> float:
    return sum(depth(each, Point(x, y), asked.task.gap) for each in asked.no_fit(a, b))


WITH_GAP = small([box(0, 0, 400, 400)], [L_SHAPE, WEDGE], 4.0)
WITHOUT = small([box(0, 0, 400, 400)], [L_SHAPE, WEDGE])


@settings(max_examples=200)
@given(places, st.sampled_from([(0, 0), (0, 1), (1, 0), (1, 1)]), st.sampled_from([WITH_GAP, WITHOUT]))
def test_overlap_is_the_sum_of_the_depths_of_the_parts(
    at: tuple[float, float], pair: tuple[int, int], asked: Small
) -> None:
    assert overlap_of(asked.t, *pair, *at) == pytest.approx(overlap(asked, *pair, *at), abs=2e-8)


def test_the_depth_of_two_squares_is_the_shorter_way_out() -> None:
    """Two squares of 20, their middles 15 and 4 mm apart: 5 mm to the side sets them free, and the gap on top."""
    squares = small([box(0, 0, 100, 100)], [box(0, 0, 20, 20)], 3.0)
    assert overlap_of(squares.t, 0, 0, 15.0, 4.0) == pytest.approx(5.0 + 3.0)
    assert overlap_of(squares.t, 0, 0, 22.0, 4.0) == pytest.approx(1.0)
    assert overlap_of(squares.t, 0, 0, 21.8, 22.4) == pytest.approx(
        0.0
    )  # corner to corner, 1.8 and 2.4: 3 mm
    assert overlap_of(squares.t, 0, 0, 21.2, 21.6) == pytest.approx(1.0)  # 1.2 and 1.6: 2 mm
    assert overlap_of(squares.t, 0, 0, 23.0, 0.0) == 0.0


@settings(max_examples=100)
@given(st.floats(-40, 240), st.floats(-40, 340))
def test_outside_is_how_far_it_sticks_out_and_how_deep_it_lies_in_holes(x: float, y: float) -> None:
    hole = box(80, 120, 110, 160)
    asked = small([box(0, 0, 200, 300).difference(hole)], [WEDGE])
    left, bottom, right, top = asked.lying(0, x, y).bounds
    out = max(0.0, -left) + max(0.0, -bottom) + max(0.0, right - 200) + max(0.0, top - 300)
    corners = np.array(hole.exterior.coords)[:-1]
    within = depth(differences(corners, asked.task.orientations[0].ring), Point(x, y), 0.0)
    assert outside_of(asked.t, 0, 0, x, y) == pytest.approx(out + within, abs=2e-8)


@settings(max_examples=30)
@given(st.lists(st.tuples(st.integers(0, 4), st.integers(-1, 1), places), min_size=4, max_size=12))
def test_the_overlaps_kept_are_those_worked_out_anew(
    steps: list[tuple[int, int, tuple[float, float]]],
) -> None:
    """Items laid on two grounds, moved and taken up again: each row is what it would be from nothing."""
    asked = small([box(0, 0, 90, 90), box(0, 0, 70, 80)], [L_SHAPE, WEDGE], 2.0, counts=[2, 3])
    kind = asked.task.kind_of
    for i, g, at in steps:
        put(asked.t, asked.s, i, g, int(kind[i]), *at)
    s = asked.state
    for i in range(5):
        away = (
            outside_of(asked.t, int(s.ground[i]), int(kind[i]), s.x[i], s.y[i]) if s.ground[i] >= 0 else 0.0
        )
        assert s.outside[i] == away
        for j in range(5):
            together = i != j and s.ground[i] == s.ground[j] >= 0
            wanted = overlap(asked, kind[i], kind[j], s.x[j] - s.x[i], s.y[j] - s.y[i]) if together else 0.0
            assert s.overlap[i, j] == pytest.approx(wanted, abs=5e-8)


def test_a_shape_off_its_cloth_in_a_pocket_of_the_edge_lies_outside() -> None:
    """A cloth with a bay: the hull alone would take the bay for cloth."""
    bay = box(0, 0, 200, 200).difference(box(60, 100, 140, 200))
    asked = small([bay], [box(0, 0, 40, 40)])
    assert outside_of(asked.t, 0, 0, 100.0, 150.0) > 0
    assert outside_of(asked.t, 0, 0, 100.0, 80.0) == 0
    assert outside_of(asked.t, 0, 0, 100.0, 81.0) == pytest.approx(1.0)
    moved = affinity.translate(box(-20, -20, 20, 20), 40.0, 150.0)
    assert bay.covers(moved)
    assert outside_of(asked.t, 0, 0, 40.0, 150.0) == 0

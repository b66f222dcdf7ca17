"""Usable cloth: what is blocked is never in it, and rounding never adds any."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, BlockedKind, Piece
from salvage.cloth.usable import GRID, SMALLEST_PART, grown, tidy, usable, usable_of


def blocked(shape: BaseGeometry, margin: float = 3.0, kind: BlockedKind = BlockedKind.OTHER) -> Blocked:
    return Blocked(kind, shape, margin)


def test_a_seam_across_a_square_takes_its_margin_on_both_sides() -> None:
    seam = blocked(LineString([(50, -10), (50, 110)]), 6.0, BlockedKind.SEAM)
    found = usable_of(box(0, 0, 100, 100), [seam])
    assert len(found.geoms) == 2
    assert found.area == pytest.approx(100 * 88, rel=2e-3)
    assert found.area <= 100 * 88


def test_round_hole_takes_its_whole_disc() -> None:
    found = usable_of(box(0, 0, 100, 100), [blocked(Point(50, 50).buffer(1e-3), 10.0)])
    assert found.area <= 100 * 100 - math.pi * 10**2
    assert found.area == pytest.approx(100 * 100 - math.pi * 10**2, rel=2e-3)


def test_scraps_are_dropped() -> None:
    near_edge = blocked(LineString([(4, -10), (4, 110)]), 3.7)
    found = usable_of(box(0, 0, 100, 100), [near_edge])
    assert len(found.geoms) == 1  # 0.3 x 100 mm at the left edge is under 50 mm^2
    assert min(part.area for part in found.geoms) >= SMALLEST_PART


def test_recorded_usable_is_taken_as_it_is() -> None:
    given_usable = usable_of(box(0, 0, 30, 30), [])
    piece = Piece("a", box(0, 0, 100, 100), usable=given_usable)
    assert usable(piece) is given_usable


@given(
    st.lists(st.tuples(st.floats(0, 200), st.floats(0, 200)), min_size=3, max_size=8),
    st.lists(st.tuples(st.floats(0, 200), st.floats(0, 200), st.floats(0, 12)), max_size=5),
)
@settings(max_examples=60, deadline=None)
def test_usable_lies_within_the_outline_and_off_everything_blocked(
    corners: list[tuple[float, float]], spots: list[tuple[float, float, float]]
) -> None:
    outline = Polygon(corners).convex_hull
    if not isinstance(outline, Polygon) or outline.area < 10:
        return
    shapes = [blocked(LineString([(x, y), (x + 30, y + 7)]), margin) for x, y, margin in spots]
    found = usable_of(outline, shapes)
    if found.is_empty:
        return
    assert outline.buffer(1e-9).covers(found)
    for each in shapes:
        assert found.distance(each.shape) >= each.margin - 1e-6


@given(
    st.integers(0, 10**6),
    st.sampled_from([0.005, 0.03, 0.1, 0.5]),
    st.floats(0.3, 30),
    st.booleans(),
    st.floats(1, 30),
)
@settings(max_examples=80, deadline=None)
def test_a_line_that_bends_as_seams_do_keeps_its_whole_margin(
    seed: int, bend: float, step: float, closed: bool, margin: float
) -> None:
    rng = np.random.default_rng(seed)
    turned = np.cumsum(rng.normal(0, bend, 40))
    path = np.cumsum(
        np.stack([np.cos(turned), np.sin(turned)], axis=1) * step * rng.uniform(0.2, 1, (40, 1)), axis=0
    )
    line = Polygon(path).buffer(0) if closed else LineString(path)
    if line.is_empty:
        return
    edge = shapely.get_coordinates(grown(line, margin).boundary.segmentize(margin / 20))
    assert shapely.distance(shapely.points(edge), line).min() >= margin - 1e-9
    assert shapely.distance(shapely.points(edge), line).max() <= 1.05 * margin


@given(st.lists(st.tuples(st.floats(0, 500), st.floats(0, 500)), min_size=3, max_size=9))
@settings(max_examples=60, deadline=None)
def test_rounding_only_shrinks(corners: list[tuple[float, float]]) -> None:
    shape = Polygon(corners).buffer(0)
    found = tidy(shape)
    if found.is_empty:
        return
    assert shape.buffer(1e-9).covers(found)
    for part in found.geoms:
        on_grid = np.asarray(part.exterior.coords) / GRID
        assert np.allclose(on_grid, np.round(on_grid), atol=1e-6)


@given(st.floats(0.5, 40))
@settings(max_examples=30, deadline=None)
def test_grown_never_falls_short_of_the_true_circle(margin: float) -> None:
    assert grown(Point(0, 0), margin).covers(Point(0, 0).buffer(margin, quad_segs=64).buffer(-1e-6))

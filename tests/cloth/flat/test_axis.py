"""The garment's own axis, from outlines whose axis is known because they were drawn."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.cloth.flat.axis import Axis, axis_told, find_axis
from salvage.cloth.flat.picture import Flat
from salvage.cloth.flat.whole import (
    EVERY,
    FACES,
    KINDS,
    LANDMARKS,
    LINES,
    PARTS,
    SPOTS,
    _garment,
    _Seen,
    _told,
)

BODY = Polygon([(-230, 0), (230, 0), (240, 500), (220, 690), (80, 720), (-80, 720), (-220, 690), (-240, 500)])


def sleeve(side: int, out: float) -> Polygon:
    """A sleeve from the shoulder, `out` degrees from hanging straight down."""
    hanging = box(-70, -560, 70, 20)
    return affinity.translate(affinity.rotate(hanging, side * out, origin=(0, 0)), side * 190, 660)


def jacket(left: float, right: float, turn: float = 0.0) -> Polygon:
    whole = BODY.union(sleeve(-1, left)).union(sleeve(1, right)).buffer(1)
    return affinity.rotate(whole, turn, origin=(0, 0))


def off(a: float, b: float) -> float:
    return abs((a - b + 90) % 180 - 90)


@pytest.mark.parametrize(("left", "right"), [(35, 35), (35, 80), (20, 110), (70, 140)])
@pytest.mark.parametrize("turn", [0.0, 37.0])
def test_sleeves_that_lie_unlike_each_other_do_not_turn_the_axis(
    left: float, right: float, turn: float
) -> None:
    axis = find_axis(jacket(left, right, turn))
    assert axis.is_symmetric
    assert off(axis.up, 90 + turn) <= 7.0


@pytest.mark.parametrize(("left", "right"), [(35, 80), (60, 150), (80, 155), (40, 140)])
def test_a_mirrored_garment_has_the_mirrored_axis(left: float, right: float) -> None:
    cloth = jacket(left, right, 3.0)
    mirrored = find_axis(affinity.scale(cloth, -1.0, 1.0, origin=(0, 0)))
    assert off(180.0 - mirrored.up, find_axis(cloth).up) <= 2.0


def test_a_shape_like_none_of_its_mirror_images_says_so() -> None:
    torn = Polygon([(0, 0), (500, 30), (620, 240), (180, 260), (150, 700), (60, 680)])
    assert not find_axis(torn).is_symmetric
    assert find_axis(torn).plus_minus == 90.0


@settings(max_examples=15)
@given(st.floats(0, 360), st.booleans())
def test_which_end_is_up_is_taken_from_what_is_told(turn: float, wrong_by_a_little: bool) -> None:
    axis = axis_told(jacket(40, 40, turn), (90 + turn + (25 if wrong_by_a_little else 0)) % 360)
    assert np.cos(np.radians(axis.up - 90 - turn)) > 0.99
    assert axis.sure


@settings(max_examples=20)
@given(st.floats(0, 360))
def test_a_view_turned_upright_maps_there_and_back(turn: float) -> None:
    cloth = affinity.translate(jacket(40, 60, turn), 300, 200)
    left, low, right, top = (round(v) for v in cloth.buffer(20).bounds)
    shape = ((top - low) // 4, (right - left) // 4)
    flat = Flat(np.zeros((*shape, 3), np.uint8), np.zeros(shape, bool), 4.0, left, top)
    flat = Flat(flat.rgb, flat.raster(cloth), 4.0, left, top)
    _, mask, view = _garment(flat, 90 + turn)
    count = len(LINES) + len(SPOTS) + len(PARTS) + len(LANDMARKS)
    size = mask.shape[0] // EVERY
    facts = np.zeros(len(KINDS) + len(FACES) + 4, np.float32)
    maps = np.zeros((count, size, size), np.float32)
    whole = _told(_Seen(maps, facts, maps[None, : len(LINES)]), mask, view)
    points = np.array(cloth.exterior.coords)[:, :2]
    assert whole.to_mm(whole.to_grid_px(points)) == pytest.approx(points, abs=1e-6)
    # upright, the garment fills the square from side to side or from top to bottom, and its hem lies below
    px = whole.to_grid_px(points)
    assert np.abs(px - (size - 1) / 2).max() <= size / 2
    hem = whole.to_grid_px(
        np.array(
            affinity.translate(
                affinity.rotate(box(-9, 0, 9, 1), turn, origin=(0, 0)), 300, 200
            ).centroid.coords
        )
    )
    assert hem[0, 1] > (size - 1) / 2
    assert mask.mean() == pytest.approx(cloth.area / (view.step / EVERY * mask.shape[0]) ** 2, rel=0.03)


def test_a_garment_as_wide_as_high_lies_as_it_is_told() -> None:
    cross = Polygon(
        [(-100, -300), (100, -300), (100, -100), (310, -100), (310, 100), (100, 100), (100, 300), (-100, 300),
         (-100, 100), (-310, 100), (-310, -100), (-100, -100)]
    )  # fmt: skip
    for up in (0.0, 90.0, 180.0, 270.0):
        assert abs((axis_told(cross, up + 8.0).up - up + 180.0) % 360.0 - 180.0) < 3.0


def test_the_like_of_a_shape_lies_as_far_off_the_axis_on_the_other_side() -> None:
    axis = Axis(70.0, (120.0, 340.0), 0.95, True)
    pocket = box(200, 300, 260, 420)
    like = axis.like_of(pocket)
    at, there = (axis.own(np.asarray(each.centroid.coords))[0] for each in (pocket, like))
    assert there == pytest.approx(at * (-1.0, 1.0))
    assert axis.like_of(like).symmetric_difference(pocket).area < 1e-6


def test_one_half_tells_of_the_other_only_where_the_axis_is_known() -> None:
    assert Axis(90.0, (0.0, 0.0), 0.98, True).compares
    assert not Axis(90.0, (0.0, 0.0), 0.7, True).compares

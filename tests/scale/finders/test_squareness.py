"""Four corners drawn by a camera of our own: what is a square is taken for one however it lies, and a sheet isn't."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from salvage.scale.finders.squareness import (
    View,
    foreshortening,
    misfit,
    pose_of,
    side_on_plane_of,
    squareness_on_plane_of,
)

SIZE = (1600, 1200)
VIEW = View.of(SIZE, 26.0)
FOCAL = 26.0 * math.hypot(*SIZE) / math.hypot(36.0, 24.0)


def seen(
    width: float, length: float, tilt: float, turn: float, at: tuple[float, float] = (0.0, 0.0)
) -> NDArray[np.float64]:
    """Corners of a rectangle on a floor 1000 mm under a camera that looks down, tilted about x. Plain numpy."""
    t, a = math.radians(tilt), math.radians(turn)
    flat = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) / 2 * [width, length]
    flat = flat @ np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]]) + at
    points = np.column_stack([flat, np.zeros(4)])
    turned = points @ np.array([[1, 0, 0], [0, math.cos(t), math.sin(t)], [0, -math.sin(t), math.cos(t)]])
    turned[:, 2] += 1000.0
    return FOCAL * turned[:, :2] / turned[:, 2:] + VIEW.centre_px


@settings(max_examples=40, deadline=None)
@given(st.floats(0, 40), st.floats(0, 90), st.floats(-150, 150), st.floats(-100, 100))
def test_a_square_is_one_however_it_lies(tilt: float, turn: float, x: float, y: float) -> None:
    pose = pose_of(seen(150, 150, tilt, turn, (x, y)), 0.5, VIEW, FOCAL)
    assert pose is not None
    assert pose.aspect == pytest.approx(1.0, abs=1e-6)
    assert pose.skew == pytest.approx(0.0, abs=1e-5)
    assert pose.tilt == pytest.approx(tilt, abs=0.01)


@pytest.mark.parametrize("tilt", [0.0, 20.0, 35.0])
@pytest.mark.parametrize("turn", [0.0, 30.0, 90.0])
def test_a_sheet_is_no_square_and_a_square_no_sheet(tilt: float, turn: float) -> None:
    sheet, square = seen(210, 297, tilt, turn), seen(150, 150, tilt, turn)
    assert misfit(sheet, 0.5, VIEW, 1.0)[0] > 3.0  # type: ignore[index]
    assert misfit(square, 0.5, VIEW, 1.0)[0] < 1.0  # type: ignore[index]
    for aspect in (210 / 297, 297 / 210):
        assert misfit(sheet, 0.5, VIEW, aspect)[0] < 1.0  # type: ignore[index]
        assert misfit(square, 0.5, VIEW, aspect)[0] > 3.0  # type: ignore[index]


def test_corners_that_are_less_sure_may_be_further_off() -> None:
    bent = seen(150, 160, 10.0, 20.0)
    sharp, soft = misfit(bent, 0.2, VIEW), misfit(bent, 8.0, VIEW)
    assert sharp is not None
    assert soft is not None
    assert sharp[0] > soft[0]


def test_three_corners_on_a_line_are_no_rectangle() -> None:
    assert misfit(np.array([(0.0, 0.0), (50.0, 0.0), (100.0, 0.0), (50.0, 80.0)]), 0.5, VIEW) is None


def test_without_a_focal_length_several_are_tried() -> None:
    unknown = View.of(SIZE, None)
    assert len(unknown.focals_px) > 1
    assert misfit(seen(150, 150, 30.0, 20.0), 0.5, unknown)[0] < 1.0  # type: ignore[index]


@pytest.mark.parametrize("tilt", [0.0, 20.0, 45.0])
def test_foreshortening_is_about_the_cosine_of_the_tilt(tilt: float) -> None:
    assert foreshortening(seen(40, 40, tilt, 30.0)) == pytest.approx(math.cos(math.radians(tilt)), abs=0.03)


@pytest.mark.parametrize("turn", [0.0, 90.0])
def test_of_a_sheet_the_way_round_that_needs_less_tilt_is_taken(turn: float) -> None:
    found = foreshortening(seen(42, 59.4, 20.0, turn), 210 / 297)
    assert found == pytest.approx(math.cos(math.radians(20.0)), abs=0.03)


def test_another_square_is_measured_on_the_first_ones_floor() -> None:
    pose = pose_of(seen(150, 150, 25.0, 10.0), 0.5, VIEW, FOCAL)
    assert pose is not None
    other = seen(75, 75, 25.0, 55.0, (260.0, -120.0))
    assert side_on_plane_of(other, pose, VIEW) == pytest.approx([0.5] * 4, abs=1e-3)
    assert squareness_on_plane_of(other, pose, VIEW) == pytest.approx(1.0, abs=1e-3)
    assert squareness_on_plane_of(seen(75, 100, 25.0, 55.0), pose, VIEW) == pytest.approx(0.75, abs=1e-3)

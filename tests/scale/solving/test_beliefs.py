"""What is believed of a camera before the picture is looked at."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.scale.solving.beliefs import beliefs_of
from salvage.scale.solving.camera import CENTRE_X, LN_FOCAL, NORMAL_X

SIZE = (4032, 3024)


def test_the_focal_length_is_that_of_the_35_mm_frame_by_its_diagonal() -> None:
    """A 3:2 picture has the frame's own shape: 36 mm across, so f mm are f / 36 of its width (CIPA DCG-001)."""
    assert beliefs_of((3600, 2400), 26.0).focal_px == pytest.approx(2600.0)
    assert beliefs_of((2400, 3600), 26.0).focal_px == pytest.approx(2600.0)  # held upright: the same


@pytest.mark.parametrize("said", [None, 0.0, -3.0, math.nan, math.inf])
def test_without_a_word_of_the_camera_a_telephone_is_believed_and_less_firmly(said: float | None) -> None:
    told, guessed = beliefs_of(SIZE, 26.0), beliefs_of(SIZE, said)
    assert guessed.focal_px == told.focal_px
    assert guessed.focal_sd > 5 * told.focal_sd


def test_a_crop_may_lie_anywhere_and_have_any_size() -> None:
    whole, crop = beliefs_of(SIZE, 26.0), beliefs_of(SIZE, 26.0, cropped=True)
    assert crop.focal_sd > 10 * whole.focal_sd
    assert crop.centre_sd_px > 10 * whole.centre_sd_px
    assert crop.centre_px == whole.centre_px == (2015.5, 1511.5)  # (0, 0) is the middle of the first pixel


def test_what_is_told_goes_before() -> None:
    told = beliefs_of(SIZE, 26.0, cropped=True, lens_sd=0.15, focal_sd=0.03)
    assert (told.focal_sd, told.lens_sd) == (0.03, 0.15)
    assert told.lens_sd_k2 / told.lens_sd == pytest.approx(
        beliefs_of(SIZE, 26.0).lens_sd_k2 / beliefs_of(SIZE, 26.0).lens_sd
    )


@settings(max_examples=25)
@given(st.lists(st.floats(-0.4, 0.4), min_size=8, max_size=8))
def test_the_slopes_are_those_of_the_misfit(steps: list[float]) -> None:
    believed = beliefs_of(SIZE, 26.0)
    camera = np.array(steps)
    camera[LN_FOCAL] += math.log(believed.focal_px)
    none = believed.start
    by_steps = np.empty((7, 8))
    for k in range(8):
        step = np.zeros(8)
        step[k] = 1e-4
        by_steps[:, k] = (
            believed.residuals(camera + step, none) - believed.residuals(camera - step, none)
        ) / 2e-4
    assert believed.jacobian(camera, none) == pytest.approx(by_steps, rel=1e-5, abs=1e-5)


def test_one_standard_deviation_off_is_one() -> None:
    believed = beliefs_of(SIZE, 26.0)
    camera = np.zeros(8)
    camera[LN_FOCAL] = math.log(believed.focal_px) + believed.focal_sd
    camera[CENTRE_X] = believed.centre_px[0] - believed.centre_sd_px
    camera[NORMAL_X] = 2 * believed.tilt_sd
    misfit = believed.residuals(camera, believed.start)
    assert misfit[0] == pytest.approx(1.0)
    assert misfit[1] == pytest.approx(-1.0)
    assert misfit[5] == pytest.approx(2.0)

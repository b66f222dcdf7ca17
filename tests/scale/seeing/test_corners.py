"""Corners of drawn quadrilaterals to hundredths of a pixel, whatever is lighter, and what to believe of them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from drawn_photo import Camera, Scene, plain_floor, rectangle
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.scale.seeing.corners import counter_clockwise, fit_quad

GREY = plain_floor((0.2, 0.2, 0.2), rough=0.02)
CARD = rectangle(100, 100, (5, -8), 23)


def drawn(
    colour: tuple[float, float, float], camera: Camera, **photograph: Any
) -> tuple[np.ndarray, np.ndarray]:
    """(pixels, true corners in the order that fit_quad keeps)."""
    scene = Scene.on(camera, GREY)
    scene.lay(CARD, colour)
    return scene.photograph(**photograph).pixels, counter_clockwise(camera.to_px(CARD))


@pytest.mark.parametrize("colour", [(0.6, 0.6, 0.6), (0.02, 0.02, 0.02)])
@pytest.mark.parametrize("blur_px", [0.6, 1.2])
def test_lighter_and_darker_cards_are_equally_unbiased(
    colour: tuple[float, float, float], blur_px: float
) -> None:
    # In sRGB values, not in light, each of these edges would lie 0.3 px and more on the dark side.
    pixels, truth = drawn(colour, Camera((500, 400), 60.0, 500.0, tilt=10.0), blur_px=blur_px)
    fit = fit_quad(pixels, truth + 1.5, 4.0)
    assert fit is not None
    assert np.abs(fit.corners_px - truth).max() < 0.06


@settings(max_examples=12, deadline=None)
@given(
    tilt=st.floats(0, 35),
    toward=st.floats(0, 360),
    turn=st.floats(-90, 90),
    k1=st.floats(-0.3, 0.3),
    off=st.tuples(st.floats(-2, 2), st.floats(-2, 2)),
)
def test_any_turn_tilt_and_lens(
    tilt: float, toward: float, turn: float, k1: float, off: tuple[float, float]
) -> None:
    camera = Camera((500, 400), 60.0, 520.0, tilt=tilt, toward=toward, turn=turn, k1=k1)
    pixels, truth = drawn((0.6, 0.6, 0.6), camera)
    fit = fit_quad(pixels, truth + off, 4.0)
    assert fit is not None
    assert np.abs(fit.corners_px - truth).max() < 0.12


def test_burnt_out_card_is_put_right_and_doubted() -> None:
    pixels, truth = drawn((2.0, 2.0, 2.0), Camera((500, 400), 60.0, 500.0), blur_px=0.8)
    fit = fit_quad(pixels, truth + 1.0, 4.0)
    assert fit is not None
    assert np.abs(fit.corners_px - truth).max() < 0.35
    assert fit.corner_sd_px.min() > 0.15


def test_more_noise_more_doubt() -> None:
    doubts = []
    for noise in (0.003, 0.05):
        pixels, truth = drawn((0.4, 0.4, 0.4), Camera((500, 400), 60.0, 500.0), noise=noise)
        fit = fit_quad(pixels, truth, 4.0)
        assert fit is not None
        doubts.append(fit.corner_sd_px.mean())
    assert doubts[1] > 1.5 * doubts[0]


def test_where_nothing_is_edges_are_not_straight() -> None:
    scene = Scene.on(Camera((500, 400), 60.0, 500.0), GREY)
    fit = fit_quad(scene.photograph().pixels, scene.camera.to_px(CARD), 4.0)
    assert fit is not None
    assert max(edge.spread_px for edge in fit.edges) > 0.8


def test_order_of_corners_is_kept() -> None:
    square = np.array(
        [[0.0, 10.0], [10.0, 10.0], [10.0, 0.0], [0.0, 0.0]]
    )  # counter-clockwise as seen, y down
    assert np.array_equal(counter_clockwise(square), square)
    assert np.array_equal(counter_clockwise(square[::-1]), square)

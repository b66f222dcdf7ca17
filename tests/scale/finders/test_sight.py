"""What the square finders look at: regions of a drawn picture, brought back to its own pixels; and what was pointed at."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from salvage.scale.finders.found import PrintedFit
from salvage.scale.finders.sight import SquareSight
from salvage.scale.finders.squareness import View
from salvage.scale.seeing.corners import QuadFit
from salvage.scale.seeing.regions import WORK_PX

SIZE = (1800, 1200)
ONE = np.array([[300.0, 200.0], [540.0, 200.0], [540.0, 440.0], [300.0, 440.0]])
OTHER = np.array([[1200.0, 700.0], [1440.0, 700.0], [1440.0, 940.0], [1200.0, 940.0]])
CUT = np.array([[-100.0, 800.0], [140.0, 800.0], [140.0, 1040.0], [-100.0, 1040.0]])


@pytest.fixture(scope="module")
def picture() -> NDArray[np.uint8]:
    """Two light cards on a dark floor, and one that the frame cuts."""
    pixels = np.full((SIZE[1], SIZE[0], 3), 60, np.uint8)
    for corners in (ONE, OTHER, CUT):
        cv2.fillConvexPoly(pixels, np.round(corners).astype(np.int32), (205, 200, 190))
    noise = np.random.default_rng(1).normal(0, 2, pixels.shape)
    return np.clip(cv2.GaussianBlur(pixels, (0, 0), 1.0) + noise, 0, 255).astype(np.uint8)


def sight(picture: NDArray[np.uint8], *pointed_at: tuple[float, float]) -> SquareSight:
    return SquareSight(picture, View.of(SIZE, 26.0), pointed_at=pointed_at)


def seen(found: SquareSight, card: NDArray[np.float64]) -> bool:
    """Whether one of the whole regions is that card, to 12 pixels: regions are first guesses."""
    for each in found.glances:
        corners = each.region.scaled(1 / found.factor).corners_px
        if len(corners) == 4 and all(np.hypot(*(corners - corner).T).min() < 12 for corner in card):
            return True
    return False


def test_a_large_picture_is_looked_at_reduced_and_a_small_one_as_it_is(picture: NDArray[np.uint8]) -> None:
    found = sight(picture)
    assert found.factor == pytest.approx(WORK_PX / 1800)
    assert found.small.shape == (800, WORK_PX, 3)
    small = sight(picture[:300, :400])
    assert small.factor == 1.0
    assert np.array_equal(small.small, small.pixels)


def test_whole_cards_and_those_that_the_frame_cuts_are_told_apart(picture: NDArray[np.uint8]) -> None:
    found = sight(picture)
    assert seen(found, ONE)
    assert seen(found, OTHER)
    assert not seen(found, CUT)
    ends = [each.scaled(1 / found.factor).corners_px for each in found.cut]
    assert any(np.abs(corners[:, 0]).min() < 5 and abs(corners[:, 0].max() - 140) < 4 for corners in ends)


@pytest.mark.parametrize(
    ("at", "there"),
    [((420.0, 320.0), (True, False)), ((1300.0, 800.0), (False, True)), ((900.0, 300.0), (False, False))],
)
def test_only_what_was_pointed_at_is_meant(
    picture: NDArray[np.uint8], at: tuple[float, float], there: tuple[bool, bool]
) -> None:
    found = sight(picture, at)
    assert (seen(found, ONE), seen(found, OTHER)) == there
    both = sight(picture, (420.0, 320.0), (1300.0, 800.0))
    assert (seen(both, ONE), seen(both, OTHER)) == (True, True)


def test_a_cut_card_is_pointed_at_too(picture: NDArray[np.uint8]) -> None:
    assert sight(picture, (60.0, 900.0)).cut
    assert not sight(picture, (420.0, 320.0)).cut


@pytest.mark.parametrize(
    ("modules_off", "holds"), [(-4.0, True), (0.5, True), (0.95, True), (1.05, False), (3.0, False)]
)
def test_a_printed_square_holds_its_white_margin_of_one_module(modules_off: float, holds: bool) -> None:
    """Its border is 8 modules across (AprilTag: 6 bits and the border's two), so a module is an eighth of it."""
    corners = np.array([[100.0, 100.0], [180.0, 100.0], [180.0, 180.0], [100.0, 180.0]])
    mark = PrintedFit(5, QuadFit(corners, np.full(4, 0.3), ()))
    assert mark.holds((180.0 + modules_off * 10.0, 140.0)) is holds
    assert mark.holds((140.0, 100.0 - modules_off * 10.0)) is holds

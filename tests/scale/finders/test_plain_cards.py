"""What makes a four-cornered thing a card: edges that end, one colour, sharp cuts."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from salvage.scale.finders.plain import edges_score, evenness, fade, goes_on, same_colour
from salvage.scale.seeing.edges import EdgeFit
from salvage.scale.seeing.surface import Surface

CORNERS = np.array([(80.0, 80.0), (160.0, 80.0), (160.0, 160.0), (80.0, 160.0)])


def picture(*, tiles: bool) -> np.ndarray:
    """A light square on a dark floor, or the same square among its like with joints."""
    rng = np.random.default_rng(1)
    pixels = np.full((240, 240, 3), 70.0)
    if tiles:
        pixels[:] = 190.0
        for at in (0, 80, 160):
            pixels[at - 1 : at + 2, :] = 60.0
            pixels[:, at - 1 : at + 2] = 60.0
    else:
        pixels[80:160, 80:160] = 190.0
    pixels = cv2.GaussianBlur(pixels, (0, 0), 0.8) + rng.normal(0, 2, pixels.shape)
    return np.clip(pixels, 0, 255).astype(np.uint8)


def going_on(pixels: np.ndarray) -> list[float]:
    return [
        goes_on(pixels, CORNERS[i], CORNERS[i] - CORNERS[(i + step) % 4])
        for i in range(4)
        for step in (1, -1)
    ]


def test_the_edges_of_a_card_end_at_its_corners() -> None:
    assert max(going_on(picture(tiles=False))) < 0.2


def test_the_edges_of_a_tile_go_on() -> None:
    assert min(going_on(picture(tiles=True))) > 0.8


def test_beyond_the_picture_nothing_goes_on() -> None:
    assert goes_on(picture(tiles=True), np.array([238.0, 160.0]), np.array([80.0, 0.0])) == 0.0


@pytest.mark.parametrize(("value", "share"), [(-1.0, 0.0), (2.0, 0.0), (3.0, 0.5), (4.0, 1.0), (9.0, 1.0)])
def test_a_reason_fades_between_nothing_and_full(value: float, share: float) -> None:
    assert fade(value, 2.0, 4.0) == share


def test_a_reason_may_fade_downwards() -> None:
    assert fade(-0.06, -0.06, -0.03) == 0.0
    assert fade(-0.03, -0.06, -0.03) == 1.0


def surface(texture: float, contrast: float) -> Surface:
    return Surface(texture, contrast, np.ones(3), 0.0)


def test_a_card_is_even_and_stands_out() -> None:
    assert evenness(surface(0.05, 0.2)) == 1.0
    assert evenness(surface(0.25, 0.2)) == 0.0  # rough as cloth
    assert evenness(surface(0.05, 0.02)) == 0.0  # hardly to be seen
    assert 0.0 < evenness(surface(0.14, 0.2)) < 1.0


def edge(supported: float, spread_px: float) -> EdgeFit:
    return EdgeFit(
        np.zeros((1, 2)), supported, spread_px, 1.0, np.zeros(3), np.eye(3), np.zeros(2), np.ones(2)
    )


def test_the_worst_edge_tells() -> None:
    good, broken, bent = edge(0.95, 0.2), edge(0.4, 0.2), edge(0.95, 3.0)
    assert edges_score([good] * 4, 100.0) == 1.0
    assert edges_score([good, good, good, broken], 100.0) == 0.0
    assert edges_score([good, good, good, bent], 100.0) == 0.0


@pytest.mark.parametrize(
    ("other", "same"),
    [
        ((0.4, 0.3, 0.2), True),
        ((0.2, 0.15, 0.1), True),
        ((0.09, 0.0675, 0.045), False),
        ((0.2, 0.3, 0.4), False),
    ],
)
def test_cards_of_one_sheet_differ_by_light_only(other: tuple[float, ...], same: bool) -> None:
    card = np.array([0.4, 0.3, 0.2])
    assert same_colour(card, np.array(other)) is same
    assert same_colour(np.array(other), card) is same

"""Squares that the frame cuts, drawn: found where they are, and nothing else that reaches the frame is one."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from salvage.scale.finders import cut
from salvage.scale.finders.found import CutCard, FoundSquares, PrintedFit
from salvage.scale.finders.sight import SquareSight
from salvage.scale.finders.squareness import View
from salvage.scale.seeing.corners import QuadFit
from salvage.scale.seeing.regions import Region

SIZE = (1000, 750)
Corners = NDArray[np.float64]


def turned(centre: tuple[float, float], side: float, degrees: float = 3.0, long: float = 1.0) -> Corners:
    half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * side / 2 * [1.0, long]
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return half @ np.array([[c, s], [-s, c]]) + centre


def drawn(*things: Corners, colour: tuple[int, int, int] = (210, 205, 200)) -> NDArray[np.uint8]:
    pixels = np.full((SIZE[1], SIZE[0], 3), (95, 80, 70), np.uint8)
    for corners in things:
        cv2.fillConvexPoly(pixels, np.round(corners * 16).astype(np.int32), colour, cv2.LINE_AA, 4)
    noise = np.random.default_rng(2).normal(0, 2, pixels.shape)
    return np.clip(cv2.GaussianBlur(pixels, (0, 0), 0.8) + noise, 0, 255).astype(np.uint8)


def found(pixels: NDArray[np.uint8], before: FoundSquares = FoundSquares()) -> tuple[CutCard, ...]:  # noqa: B008
    return cut.find(SquareSight(pixels, View.of(SIZE, 26.0)), before).cut


@pytest.mark.parametrize(
    "centre", [(40.0, 400.0), (960.0, 300.0), (500.0, 30.0), (450.0, 720.0), (30.0, 40.0)], ids=str
)
def test_a_card_cut_at_any_side_is_found_where_it_is(centre: tuple[float, float]) -> None:
    card = turned(centre, 180.0)
    (best, *_) = found(drawn(card))
    assert best.score > 0.5
    inside = np.clip(card, 0, np.array(SIZE) - 1.0)
    assert best.region.corners_px.mean(axis=0) == pytest.approx(inside.mean(axis=0), abs=12)


def test_in_a_large_picture_it_lies_where_it_is_in_the_picture_itself() -> None:
    card = turned((40.0, 400.0), 180.0)
    large = cv2.resize(drawn(card), None, fx=1.8, fy=1.8, interpolation=cv2.INTER_CUBIC)
    sight = SquareSight(large, View.of((1800, 1350), 26.0))
    (best, *_) = cut.find(sight, FoundSquares()).cut
    middle = np.clip(card, 0, np.array(SIZE) - 1.0).mean(axis=0)
    assert best.region.corners_px.mean(axis=0) == pytest.approx(1.8 * middle, abs=18)


def test_the_more_of_it_is_seen_the_surer_and_a_sliver_tells_nothing() -> None:
    assert found(drawn(turned((-86.0, 400.0), 180.0))) == ()  # a few pixels of it
    (half,) = found(drawn(turned((10.0, 400.0), 180.0)))[:1]
    assert half.score > 0.5
    for x in (8.0, 20.0):  # no edge of it is long enough to be measured by
        assert all(card.score < 0.1 for card in found(drawn(turned((x, 400.0), 40.0))))


def test_a_whole_card_is_not_cut() -> None:
    assert found(drawn(turned((500.0, 400.0), 180.0))) == ()


def test_a_strip_that_is_longer_than_a_square_is_none() -> None:
    """An edge that the frame cuts is shorter than a square's own; here it is four times as long."""
    strip = turned((100.0, 400.0), 90.0, 3.0, 1.0)
    strip[[0, 3], 0] -= 300.0
    strip[[1, 2], 0] += 260.0
    assert all(card.score < 0.1 for card in found(drawn(strip)))


def test_a_round_thing_at_the_frame_is_none() -> None:
    turn = np.linspace(0, 2 * np.pi, 60)
    plate = np.stack([30 + 110 * np.cos(turn), 400 + 110 * np.sin(turn)], 1)
    assert all(card.score < 0.1 for card in found(drawn(plate)))


def test_tiles_are_no_cards() -> None:
    tiles = [turned((x, y), 118.0, 0.0) for x in range(0, 1100, 125) for y in range(0, 800, 125)]
    assert found(drawn(*tiles)) == ()


def test_nothing_is_looked_for_where_a_printed_square_was_found_whole() -> None:
    pixels = drawn(turned((40.0, 400.0), 180.0))
    known = FoundSquares((PrintedFit(5, QuadFit(turned((600.0, 400.0), 90.0), np.full(4, 0.3), ())),))
    assert found(pixels, known) == ()
    earlier = found(pixels)[0]
    assert found(pixels, FoundSquares(cut=(earlier,)))[0] is earlier  # what was found before stays


def test_the_best_comes_first_and_two_are_both_found() -> None:
    cards = found(drawn(turned((40.0, 250.0), 180.0), turned((955.0, 500.0), 180.0)))
    scores = [card.score for card in cards]
    assert scores == sorted(scores, reverse=True)
    middles = [card.region.corners_px.mean(axis=0)[0] for card in cards]
    assert min(middles) < 150
    assert max(middles) > 850


@pytest.mark.parametrize(
    ("corners", "free", "share"),
    [
        # One edge uncut, 100: the others, to the frame, may be up to 1.25 of it, and from 1.6 on it is none.
        ([(0, 0), (100, 0), (100, 100), (0, 100)], (True, True, True, False), 1.0),
        ([(0, 0), (124, 0), (124, 100), (0, 100)], (True, True, True, False), 1.0),
        ([(0, 0), (161, 0), (161, 100), (0, 100)], (True, True, True, False), 0.0),
        ([(0, 0), (40, 0), (40, 40), (0, 40)], (True, True, True, False), 0.0),  # too little to tell
        ([(0, 0), (90, 0), (90, 90), (0, 90)], (True, True, False, False), 1.0),  # a corner of the picture
        ([(0, 0), (41, 0), (41, 90), (0, 90)], (True, True, False, False), 0.0),
    ],
)
def test_no_edge_is_longer_than_a_squares(
    corners: list[tuple[float, float]], free: tuple[bool, ...], share: float
) -> None:
    assert cut._shape(Region(np.array(corners, float), free, 1.0)) == pytest.approx(share, abs=1e-6)

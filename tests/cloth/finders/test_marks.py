"""Holes, tears and rubbed places are likelier to be flaws than shade, prints and the weave; what is known is left alone."""

from types import SimpleNamespace
from typing import Any

import cv2
import numpy as np
import pytest
from shapely.geometry import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from salvage.cloth.finders.found import Found, Spot
from salvage.cloth.finders.wear import marks
from salvage.cloth.flat.chances import EVERY
from salvage.cloth.flat.picture import Flat
from salvage.cloth.garment import MARK, BlockedKind

SIZE = 360
CLOTH = (70, 90, 120)


def sight_of(rgb: np.ndarray) -> Any:
    """A square of cloth in which no network sees anything."""
    mask = np.zeros((SIZE, SIZE), bool)
    mask[12:-12, 12:-12] = True
    flat = Flat(rgb.clip(0, 255).astype(np.uint8), mask, 1.0, 0.0, SIZE - 1.0, 0.5)
    nothing = np.zeros((SIZE // EVERY, SIZE // EVERY), np.float32)
    names = ("worn", "closure", "stitch", "pocket", "seam", "edge")
    whole = SimpleNamespace(
        spots={"worn": None, "hardware": None}, step=4.0, at=lambda _, points: np.zeros(len(points))
    )
    return SimpleNamespace(
        cloth=box(12, 12, SIZE - 13, SIZE - 13),
        plain=flat,
        chances=SimpleNamespace(**dict.fromkeys(names, nothing)),
        whole=whole,
    )


def woven(spread: float = 5.0) -> np.ndarray:
    noise = np.random.default_rng(3).normal(0, spread, (SIZE, SIZE, 1))
    return np.asarray(np.array(CLOTH) + cv2.GaussianBlur(noise, (0, 0), 0.8)[..., None] * 2.0, float)


def painted(rgb: np.ndarray, shape: BaseGeometry, colour: tuple[float, float, float]) -> np.ndarray:
    rgb = rgb.copy()
    flat = Flat(np.zeros((SIZE, SIZE, 3), np.uint8), np.ones((SIZE, SIZE), bool), 1.0, 0.0, SIZE - 1.0)
    inside = cv2.GaussianBlur(flat.raster(shape).astype(np.float32), (0, 0), 0.7)[..., None]
    return np.asarray(rgb + inside * (np.array(colour) - rgb))


def found_on(rgb: np.ndarray, found: Found | None = None) -> list[Spot]:
    return list(marks.find(sight_of(rgb), found or Found()).worn)


HOLE = Point(150, 200).buffer(8)
TEAR = Polygon([(100, 150), (120, 145), (140, 150), (120, 155)])


@pytest.mark.parametrize("shape", [HOLE, TEAR])
@pytest.mark.parametrize("behind", [(20, 18, 15), (190, 170, 140), (160, 40, 40)])
def test_a_hole_or_a_tear_is_found_and_no_more_than_what_lies_close_to_it(
    shape: Polygon, behind: tuple[int, int, int]
) -> None:
    """The layer behind is black, pale or red."""
    (spot,) = found_on(painted(woven(), shape, behind))
    assert spot.what == MARK
    assert spot.kind is BlockedKind.WORN
    assert spot.shape.intersection(shape).area > 0.8 * shape.area
    assert spot.shape.within(shape.buffer(14))


@pytest.mark.parametrize("colour", [(235, 235, 225), (170, 40, 40), (15, 15, 15)])
@pytest.mark.parametrize("radius", [3.0, 8.0])
def test_a_mark_of_any_colour_is_found_where_it_is(colour: tuple[int, int, int], radius: float) -> None:
    place = Point(200, 150).buffer(radius)
    (spot,) = found_on(painted(woven(), place, colour))
    assert spot.shape.intersection(place).area > 0.6 * place.area


def test_of_several_marks_each_is_found_and_the_less_likely_the_more_are_alike() -> None:
    places = [Point(at).buffer(5) for at in ((80, 90), (200, 150), (240, 250))]
    one, rgb = found_on(painted(woven(), places[0], (15, 15, 15))), woven()
    for each in places:
        rgb = painted(rgb, each, (15, 15, 15))
    found = found_on(rgb)
    assert len(found) == 3
    for place in places:
        assert max(each.shape.intersection(place).area for each in found) > 0.6 * place.area
    again = next(each for each in found if each.shape.intersects(places[0]))
    assert again.confidence < one[0].confidence


def test_a_thread_is_none() -> None:
    assert found_on(painted(woven(), box(40, 100, 280, 104), (235, 235, 225))) == []


def test_sound_cloth_has_none_nor_has_soft_shade() -> None:
    assert found_on(woven()) == []
    y, x = np.mgrid[:SIZE, :SIZE]
    shade = 1 - 0.35 * np.exp(-((x - 180) ** 2 + (y - 150) ** 2) / (2 * 30.0**2))
    assert found_on(woven() * shade[..., None]) == []


def test_a_print_of_dots_is_none() -> None:
    rgb = woven()
    for x in range(40, 330, 28):
        for y in range(40, 330, 28):
            rgb = painted(rgb, Point(x, y).buffer(6), (180, 170, 60))
    assert found_on(rgb) == []


def test_what_is_known_to_be_worn_isnt_found_again_and_what_is_sewn_on_is_none() -> None:
    rgb = painted(woven(), HOLE, (20, 18, 15))
    known = Spot(BlockedKind.WORN, HOLE.buffer(5), "odd colour", 0.6)
    assert found_on(rgb, Found(worn=(known,))) == [known]
    button = Spot(BlockedKind.CLOSURE, HOLE.buffer(3), "button or snap", 0.9)
    assert found_on(rgb, Found(fittings=(button,))) == []


def test_rubbed_cloth_has_another_texture() -> None:
    """Streaks of its own colour, hardly lighter on average: known by the strength of its fine texture."""
    rgb = woven(3.0)
    streaks = cv2.GaussianBlur(np.random.default_rng(4).normal(0, 1, (SIZE, SIZE)), (0, 0), 3.0, sigmaY=0.7)
    inside = np.hypot(*(np.mgrid[:SIZE, :SIZE] - 180.0)) < 28
    rgb[inside] += (60.0 * streaks[inside] + 4.0)[:, None]
    sight = sight_of(rgb)
    best = max(marks.marks_of(sight, sight.plain.mask, marks.SOFT), key=lambda m: m.terms["texture"])
    place = marks.shape_of(best.region, sight.plain, marks.SOFT)
    assert best.terms["texture"] > 3.0
    assert place.intersection(Point(180, SIZE - 181).buffer(28)).area > 0.6 * place.area


def test_every_term_that_was_fitted_is_worked_out_and_no_other() -> None:
    sight = sight_of(painted(woven(), HOLE, (20, 18, 15)))
    for scale in marks.SCALES:
        first = marks.marks_of(sight, sight.plain.mask, scale)[0]
        assert set(first.terms) == set(marks._fitted()[scale.name]["terms"])

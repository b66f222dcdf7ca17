"""Colours compared in equal light, and the odd places found that way: shade is no stain, a fade in it is."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from skimage.color import rgb2lab, rgb2xyz

from salvage.cloth.finders.wear.odd import odd_places
from salvage.cloth.flat.areas import together
from salvage.cloth.flat.colour import in_equal_light, linear_from_lab, luminance
from salvage.cloth.flat.picture import Flat
from salvage.photo.srgb import linear_of_bytes

HEIGHT, WIDTH = 420, 520
SPOT = Point(330, 219).buffer(32)


def flat_of(picture: NDArray[np.uint8]) -> Flat:
    mask = np.ones(picture.shape[:2], bool)
    return Flat(picture, mask, 1.0, 0.0, HEIGHT - 1.0)


def encoded(light: NDArray[np.float64]) -> NDArray[np.uint8]:
    low, high = 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055
    return np.clip(255 * np.where(light <= 0.0031308, low, high), 0, 255).round().astype(np.uint8)


def cloth(
    shade: float | NDArray[np.float64] = 1.0,
    spot: tuple[float, float, float] = (1.0, 1.0, 1.0),
    stripes: bool = False,
    seed: int = 4,
) -> NDArray[np.uint8]:
    """Cloth with a weave. shade: factor on its light, a number or (h, w). spot: factors on the light at SPOT."""
    light = np.full((HEIGHT, WIDTH, 3), (0.10, 0.16, 0.30))
    if stripes:
        light[np.arange(HEIGHT) % 18 < 4] = (0.03, 0.03, 0.05)
    light *= np.random.default_rng(seed).normal(1, 0.05, (HEIGHT, WIDTH, 1))
    inside = flat_of(np.zeros((HEIGHT, WIDTH, 3), np.uint8)).raster(SPOT)
    light[inside] *= np.array(spot)
    return encoded(light * (np.asarray(shade)[..., None] if np.ndim(shade) else shade))


def found_in(picture: NDArray[np.uint8]) -> list[Polygon]:
    return [shape for shape, _ in odd_places(flat_of(picture), np.ones((HEIGHT, WIDTH), bool))]


COLOURS = st.tuples(*[st.integers(50, 250)] * 3)


@settings(deadline=None, max_examples=60)
@given(colour=COLOURS, dimmed=st.floats(0.3, 1.0))
def test_the_same_cloth_in_less_light_is_the_same_in_equal_light(
    colour: tuple[int, int, int], dimmed: float
) -> None:
    light = linear_of_bytes(np.array([[colour]], np.uint8))
    assert in_equal_light(light * dimmed, 0.2) == pytest.approx(in_equal_light(light, 0.2), abs=0.05)


@settings(deadline=None, max_examples=60)
@given(colour=COLOURS)
def test_light_by_two_independent_ways(colour: tuple[int, int, int]) -> None:
    """Luminance is the Y of scikit-image's XYZ; a colour in its own light is scikit-image's CIELAB."""
    rgb = np.array([[colour]], np.uint8)
    light = linear_of_bytes(rgb)
    bright = float(luminance(light)[0, 0])
    assert bright == pytest.approx(rgb2xyz(rgb)[0, 0, 1], abs=1e-3)
    assert in_equal_light(light, bright)[0, 0] == pytest.approx(rgb2lab(rgb)[0, 0], abs=0.3)
    lab = np.asarray(cv2.cvtColor(rgb.astype(np.float32) / 255, cv2.COLOR_RGB2LAB), np.float32)
    assert linear_from_lab(lab) == pytest.approx(light, abs=6e-3)


FOLDS = 1 - 0.35 * np.exp(
    -(((np.arange(WIDTH)[None] + 0.5 * np.arange(HEIGHT)[:, None]) % 170 - 85) ** 2) / 900
)
LAMP = np.repeat(np.linspace(1.0, 0.45, WIDTH)[None], HEIGHT, 0)


@pytest.mark.parametrize("shade", [FOLDS, LAMP, FOLDS * LAMP])
@pytest.mark.parametrize("stripes", [False, True])
def test_folds_and_a_lamp_to_one_side_are_no_stains(
    shade: float | NDArray[np.float64], stripes: bool
) -> None:
    assert found_in(cloth(shade, stripes=stripes)) == []


@pytest.mark.parametrize("shade", [1.0, FOLDS, LAMP])
@pytest.mark.parametrize("stripes", [False, True])
@pytest.mark.parametrize("spot", [(1.35, 1.15, 0.95), (0.8, 0.65, 0.5)])  # faded; a brown stain
def test_a_faint_change_of_colour_is_found_in_any_light(
    shade: float | NDArray[np.float64], stripes: bool, spot: tuple[float, float, float]
) -> None:
    found = found_in(cloth(shade, spot, stripes))
    assert len(found) == 1
    assert found[0].intersection(SPOT).area > 0.8 * SPOT.area
    assert found[0].area < 1.6 * SPOT.area


def test_places_that_overlap_are_made_one() -> None:
    shapes = [Point(0, 0).buffer(2), Point(1, 0).buffer(2), Polygon([(9, 9), (10, 9), (10, 10)])]
    assert [parts for _, parts in together(shapes)] == [[0, 1], [2]]

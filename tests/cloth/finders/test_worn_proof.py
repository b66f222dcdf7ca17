"""What a place must show to be called worn: a colour of its own and an edge, the more the coarser the photograph."""

import cv2
import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Point, Polygon, box

from salvage.cloth.finders.found import Spot
from salvage.cloth.finders.wear.proof import is_proved, shades_of
from salvage.cloth.finders.wear.worn import HOLE, ODD_COLOUR, proved
from salvage.cloth.flat.picture import Flat, flatten
from salvage.cloth.garment import BlockedKind
from salvage.photo.srgb import encoded

SIZE = 360
CLOTH = box(30, 30, 330, 330)
SPOT = Point(180, 180).buffer(34)
BLUE, BLACK = (0.10, 0.16, 0.30), (0.0035, 0.0035, 0.004)  # amounts of light
COARSE, FINE = 2.5, 0.5  # mm a photo pixel
TEA, DARKER = (0.75, 0.55, 0.35), (0.55, 0.55, 0.55)  # factors on the light


def picture(
    factor: ArrayLike,
    *,
    shape: Polygon = SPOT,
    light: tuple[float, float, float] = BLUE,
    step: float = COARSE,
    soft: float = 2.0,
    spread: float = 0.04,
) -> Flat:
    """Cloth with a place where its light is multiplied. soft: mm its edge is blurred over."""
    blank = Flat(np.zeros((SIZE, SIZE, 3), np.uint8), np.ones((SIZE, SIZE), bool), 1.0, 0.0, SIZE - 1.0)
    share = cv2.GaussianBlur(blank.raster(shape).astype(np.float32), (0, 0), soft)[..., None]
    seen = np.asarray(light) * np.random.default_rng(3).normal(1, spread, (SIZE, SIZE, 1))
    seen = seen * (1 - share + share * np.asarray(factor))
    rgb = np.clip(255 * encoded(seen), 0, 255).round().astype(np.uint8)
    return Flat(rgb, blank.raster(CLOTH), 1.0, 0.0, SIZE - 1.0, step)


def told(flat: Flat, shape: Polygon = SPOT) -> bool:
    return is_proved(shape, flat, CLOTH, shades_of(flat))


@pytest.mark.parametrize("step", [COARSE, FINE])
def test_a_place_of_another_colour_with_an_edge_is_worn(step: float) -> None:
    assert told(picture(TEA, step=step))


def beside_a_fold(step: float) -> tuple[Flat, Polygon]:
    """As dark as DARKER on the fold, which is straight, and lighter and lighter away from it."""
    away = np.clip((np.arange(SIZE) - 146) / 68, 0, 1)
    factor = np.where(np.arange(SIZE) < 146, 1.0, 0.45 + 0.55 * away)[None, :, None]
    return picture(factor, shape=box(0, 0, SIZE, SIZE), step=step), box(147, 90, 185, 270)


def test_what_is_only_darker_is_a_stain_where_it_has_an_edge_all_round_and_shade_beside_a_fold() -> None:
    assert told(picture(DARKER, step=COARSE))
    assert told(picture(DARKER, step=FINE))
    assert not told(*beside_a_fold(COARSE))


def beside_a_crease(step: float) -> tuple[Flat, Polygon]:
    """Shine of black leather: lightest on a crease, less and less to one side of it."""
    _, strip = beside_a_fold(step)
    away = np.clip((np.arange(SIZE) - 146) / 68, 0, 1)
    factor = np.where(np.arange(SIZE) < 146, 1.0, 3.0 - 2.0 * away)[None, :, None]
    return picture(factor, shape=box(0, 0, SIZE, SIZE), light=(0.02, 0.02, 0.021), step=step), strip


@pytest.mark.parametrize("step", [COARSE, FINE])
def test_shine_beside_a_crease_is_none_and_a_bleached_blot_is(step: float) -> None:
    assert not told(*beside_a_crease(step))
    assert told(picture((9.0, 9.0, 9.0), light=(0.02, 0.02, 0.021), step=step))


def test_what_is_far_lighter_than_light_could_make_it_is_worn() -> None:
    assert told(picture((9.0, 5.6, 3.0)))


def test_a_change_without_an_edge_is_none_in_a_coarse_photograph() -> None:
    assert not told(picture(TEA, soft=45.0))


@pytest.mark.parametrize("step", [COARSE, FINE])
def test_what_runs_along_the_outline_is_none(step: float) -> None:
    strip = box(31, 60, 50, 300)
    assert not told(picture(TEA, shape=strip, step=step), strip)
    half = Point(31, 180).buffer(60).intersection(CLOTH)  # but a stain cut by the edge is one
    assert told(picture(TEA, shape=half, step=step), half)


def test_in_black_cloth_a_step_of_one_number_is_no_colour() -> None:
    assert not told(picture((1.0, 1.0, 1.5), light=BLACK, spread=0.0))


def test_one_colour_of_a_print_of_many_is_none() -> None:
    rng = np.random.default_rng(5)
    flat = picture(TEA)
    blots = cv2.resize(rng.uniform(0, 255, (24, 24, 3)).astype(np.float32), (SIZE, SIZE))
    inside = cv2.GaussianBlur(flat.raster(SPOT).astype(np.float32), (0, 0), 2.0)[..., None]
    rgb = 0.75 * blots + 40 + inside * (18, 0, -18)
    flat = Flat(np.clip(rgb, 0, 255).astype(np.uint8), flat.mask, 1.0, 0.0, SIZE - 1.0, COARSE)
    assert not told(flat)


def test_a_hole_is_proved_by_the_outline() -> None:
    flat, shade = beside_a_fold(COARSE)
    hole = Spot(BlockedKind.WORN, SPOT, HOLE, 0.9)
    assert proved([hole, Spot(BlockedKind.WORN, shade, ODD_COLOUR, 0.9)], flat, CLOTH) == [hole]


@pytest.mark.parametrize("pixel", [0.5, 2.5])
def test_a_flat_picture_knows_how_large_the_pixels_of_its_photograph_are(pixel: float) -> None:
    class Straight:
        def to_px(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
            return np.asarray(points, float) * [1.0, -1.0] / pixel + [0.0, 400.0]

    flat = flatten(np.zeros((400, 400, 3), np.uint8), Straight(), box(20, 20, 120, 120), 1.0)
    assert flat.photo_step == pytest.approx(pixel, rel=0.02)

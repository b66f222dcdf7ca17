"""Highlights and folds are explained by the light where the cloth has more of them; a colour of its own or a hole is not."""

import numpy as np
import pytest
from shapely.geometry import Point

from salvage.cloth.finders.wear.proof import shades_of
from salvage.cloth.finders.wear.relief import Relief
from salvage.cloth.flat.picture import Flat

SIZE = 400
SOUND = np.ones((SIZE, SIZE), bool)
SPOT = Point(200, 200).buffer(22)


def cloth(waves: float, factor: tuple[float, float, float]) -> Flat:
    """Brown cloth whose light goes up and down by `waves`, with a spot where it is multiplied."""
    x, y = np.meshgrid(np.arange(SIZE), np.arange(SIZE))
    light = 1 + waves * np.sin(x / 9.0) * np.sin(y / 11.0)
    rgb = np.array([120.0, 84.0, 60.0]) * light[..., None]
    flat = Flat(np.zeros((SIZE, SIZE, 3), np.uint8), SOUND, 1.0, 0.0, SIZE - 1.0)
    rgb[flat.raster(SPOT)] = np.array([120.0, 84.0, 60.0]) * factor
    return Flat(rgb.clip(0, 255).astype(np.uint8), SOUND, 1.0, 0.0, SIZE - 1.0)


def explained(waves: float, factor: tuple[float, float, float]) -> bool:
    flat = cloth(waves, factor)
    return Relief.of(flat, SOUND).explains(SPOT, flat, shades_of(flat))


@pytest.mark.parametrize("factor", [(1.25, 1.25, 1.25), (0.78, 0.78, 0.78)])
def test_a_highlight_or_a_shadow_on_cloth_full_of_them_is_the_light(
    factor: tuple[float, float, float],
) -> None:
    assert explained(0.4, factor)
    assert not explained(0.0, factor)  # on smooth cloth it is there alone


@pytest.mark.parametrize("factor", [(0.8, 1.0, 1.3), (0.1, 0.1, 0.1)])
def test_another_colour_or_a_hole_is_not(factor: tuple[float, float, float]) -> None:
    assert not explained(0.4, factor)


def test_where_no_cloth_is_sound_nothing_is_explained() -> None:
    assert Relief.of(cloth(0.4, (1.0, 1.0, 1.0)), ~SOUND).usual == 0.0

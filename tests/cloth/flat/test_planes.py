"""What the networks see of colours, worked out once more in plain numpy, place by place."""

from __future__ import annotations

from typing import Any, cast

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from salvage.cloth.flat.planes import own_colours

Map = NDArray[np.float32]
CARD = {"farthest": 4.0, "least_spread": 0.02, "least_local_spread": 0.01}


def smooth(values: Map) -> Map:
    return cast(Map, ndimage.uniform_filter(values, 5, mode="reflect"))


def planes(rgb: Map, mask: Map) -> list[Map]:
    return own_colours(rgb, mask, cast(Any, CARD), smooth)


@pytest.fixture
def cloth() -> tuple[Map, Map]:
    rng = np.random.default_rng(3)
    rgb = rng.uniform(0, 1, (24, 31, 3)).astype(np.float32)
    mask = np.zeros((24, 31), np.float32)
    mask[4:20, 6:28] = 1.0
    return rgb, mask


def test_a_second_slower_way_gives_the_same(cloth: tuple[Map, Map]) -> None:
    rgb, mask = cloth
    inside = mask > 0
    colours = rgb[inside]
    spread = float(np.sqrt(((colours - colours.mean(0)) ** 2).mean()))
    red, green, blue, near, last = planes(rgb, mask)
    whole = np.stack([red, green, blue], -1)
    assert whole[inside] == pytest.approx(np.clip((colours - colours.mean(0)) / spread, -4, 4), abs=1e-4)
    grey = rgb.mean(2)
    for y, x in ((6, 9), (4, 6), (19, 27), (12, 15)):
        here = [
            grey[min(max(y + dy, 0), 23), min(max(x + dx, 0), 30)]
            for dy in range(-2, 3)
            for dx in range(-2, 3)
            if inside[min(max(y + dy, 0), 23), min(max(x + dx, 0), 30)]
        ]
        assert near[y, x] == pytest.approx((grey[y, x] - np.mean(here)) / np.std(here), abs=1e-3)
    assert np.array_equal(last, mask)


def test_the_floor_changes_nothing_and_is_nothing(cloth: tuple[Map, Map]) -> None:
    rgb, mask = cloth
    other = np.where(mask[..., None] > 0, rgb, np.float32(0.9)).astype(np.float32)
    for one, two in zip(planes(rgb, mask), planes(other, mask), strict=True):
        assert one == pytest.approx(two, abs=1e-4)
        assert not one[mask == 0].any()


def test_brighter_light_and_another_dye_of_as_much_spread_look_the_same(cloth: tuple[Map, Map]) -> None:
    rgb, mask = cloth
    lit = (0.5 * rgb + np.array([0.1, 0.3, 0.2], np.float32)).astype(np.float32)
    for one, two in zip(planes(rgb, mask), planes(lit, mask), strict=True):
        assert one == pytest.approx(two, abs=2e-3)


def test_plain_cloth_has_no_noise_made_large_and_nothing_is_farther_than_told() -> None:
    mask = np.ones((20, 20), np.float32)
    rgb = np.full((20, 20, 3), 0.5, np.float32)
    rgb[10, 10] += 0.0005
    assert all(np.abs(each).max() < 0.2 for each in planes(rgb, mask)[:4])
    rgb[10, 10] = 1.0
    found = planes(rgb, mask)
    assert all(each.max() == CARD["farthest"] for each in found[:4])
    assert all(np.isfinite(each).all() for each in planes(rgb, np.zeros_like(mask)))

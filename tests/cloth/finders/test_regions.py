"""Regions are patches with a step all round; where the picture changes softly, or nothing is sound, there is none."""

import cv2
import numpy as np
import pytest

from salvage.cloth.finders.wear.regions import Wanted, stable_regions

SIZE = 200
WANTED = Wanted((12, 2500), 9.0, 0.6, 0.9, 50, 90.0)
SOUND = np.ones((SIZE, SIZE), bool)


def disc(radius: float, soft: float = 0.8) -> np.ndarray:
    """One disc, 30 high, on a little noise."""
    y, x = np.mgrid[:SIZE, :SIZE]
    drawn = (np.hypot(x - 90, y - 110) < radius).astype(np.float32) * 30
    noise = np.random.default_rng(1).normal(0, 0.5, (SIZE, SIZE))
    return np.asarray(cv2.GaussianBlur(drawn, (0, 0), soft) + noise, np.float32)


def found(picture: np.ndarray, sound: np.ndarray = SOUND, wanted: Wanted = WANTED) -> list:
    return stable_regions([picture * 4], picture[..., None], sound, wanted, 0.3)


@pytest.mark.parametrize("radius", [3.0, 8.0, 20.0])
def test_a_disc_is_the_strongest_region_and_as_large_as_it_is(radius: float) -> None:
    first = found(disc(radius))[0]
    assert len(first.points) == pytest.approx(np.pi * radius**2, rel=0.35)
    assert first.points.mean(axis=0) == pytest.approx((90, 110), abs=0.5)
    assert first.long == pytest.approx(radius, rel=0.2)
    assert first.short == pytest.approx(radius, rel=0.2)


def test_its_step_is_that_of_its_border() -> None:
    """A step of 30 blurred by s is 30 / (s sqrt(2 pi)) a pixel in its middle; a region near it sees a good part of that."""
    steep, gentle = (found(disc(20.0, soft))[0].step for soft in (1.0, 4.0))
    assert 0.5 * 30 / np.sqrt(2 * np.pi) < steep < 30 / np.sqrt(2 * np.pi) * 1.1
    assert gentle < 0.5 * steep


def test_what_is_too_large_slim_or_not_on_sound_cloth_is_left_out() -> None:
    large, slim = Wanted((12, 200), 9.0, 0.6, 0.9, 50, 90.0), Wanted((12, 2500), 1.5, 0.6, 0.9, 50, 90.0)
    assert not any(len(each.points) > 200 for each in found(disc(20.0), wanted=large))
    bar = np.zeros((SIZE, SIZE), np.float32)
    bar[100:106, 60:100] = 30
    assert found(bar)
    assert not found(bar, wanted=slim)
    assert found(bar, ~SOUND) == []


def test_of_regions_within_one_another_one_stays_and_no_more_than_wanted() -> None:
    regions = found(disc(12.0))
    taken = np.zeros((SIZE, SIZE), int)
    for each in regions:
        taken[each.points[:, 1], each.points[:, 0]] += 1
    inside = np.hypot(*(np.mgrid[:SIZE, :SIZE] - np.array([110, 90])[:, None, None])) < 11
    assert taken[inside].mean() < 1.5
    few = Wanted((12, 2500), 9.0, 0.6, 0.9, 1, 90.0)
    assert len(found(disc(12.0), wanted=few)) == 1

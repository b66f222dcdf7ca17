"""An odd place that no network sees anything in is light and shade; one that they see stays, the surer for it."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from shapely.geometry import box

from salvage.cloth.finders.found import Spot
from salvage.cloth.finders.wear.borne import LEAST, chance, witnessed
from salvage.cloth.flat.chances import EVERY
from salvage.cloth.flat.picture import Flat
from salvage.cloth.garment import BlockedKind

PLACE = Spot(BlockedKind.WORN, box(40, 40, 80, 80), "odd colour", 0.6, fine=True)


def test_what_neither_sees_is_dropped_unless_the_finder_is_sure() -> None:
    assert chance(0.5, 0.0, 0.0) < LEAST < chance(0.9, 0.0, 0.0)


@pytest.mark.parametrize("more", [(0.8, 0.1, 0.1), (0.5, 0.8, 0.1), (0.5, 0.1, 0.8)])
def test_each_of_the_three_makes_it_likelier(more: tuple[float, float, float]) -> None:
    assert chance(*more) > chance(0.5, 0.1, 0.1)


def test_the_greatest_chance_within_the_place_is_taken() -> None:
    near = np.zeros((100 // EVERY, 100 // EVERY), np.float32)
    flat = Flat(np.zeros((100, 100, 3), np.uint8), np.ones((100, 100), bool), 1.0, 0.0, 99.0)
    (column, row) = (int(each) // EVERY for each in flat.to_flat_px(np.array([[60.0, 60.0]]))[0])
    near[row, column], near[2, 2] = 0.7, 0.9  # in it, and elsewhere
    whole = SimpleNamespace(
        spots={"worn": None},
        step=4.0,
        at=lambda _, points: np.where(np.linalg.norm(points - 60.0, axis=1) < 9, 0.5, 0.0),
    )
    sight: Any = SimpleNamespace(plain=flat, chances=SimpleNamespace(worn=near), whole=whole)
    assert witnessed(PLACE, sight) == (pytest.approx(0.7), pytest.approx(0.5))

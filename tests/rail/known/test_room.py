"""Bounds on clear rectangles: the lower one never promises too much, the upper one never refuses what fits."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.fit.question import Cloth
from salvage.rail.known.room import STEP, Room, has_room, least_room, longest_at, may_have_room, most_room


@st.composite
def cloths(draw: st.DrawFn) -> Cloth:
    """A star-shaped piece of cloth with a hole, at some grain."""
    radii = draw(st.lists(st.floats(60, 260), min_size=5, max_size=9))
    ring = [
        (r * math.cos(2 * math.pi * k / len(radii)), r * math.sin(2 * math.pi * k / len(radii)))
        for k, r in enumerate(radii)
    ]
    hole = shapely.Point(draw(st.floats(-80, 80)), draw(st.floats(-80, 80))).buffer(draw(st.floats(1, 40)))
    whole = Polygon(ring).buffer(0).difference(hole)
    largest = max(getattr(whole, "geoms", [whole]), key=lambda each: each.area)
    return Cloth("cloth", largest, grain=draw(st.floats(0, 180)))


@given(cloths(), st.floats(15, 300), st.floats(15, 400), st.integers(0, 1000))
def test_a_rectangle_that_lies_on_the_cloth_is_never_refused(
    cloth: Cloth, width: float, length: float, seed: int
) -> None:
    """Rectangles are thrown on to the cloth; each that lies on it must be held possible."""
    rng = np.random.default_rng(seed)
    room = most_room([cloth])
    for _ in range(20):
        x, y = rng.uniform(-200, 200, 2)
        share = rng.uniform(0.1, 1.0, 2)
        w, h = width * share[0], length * share[1]
        laid = affinity.rotate(box(x, y, x + w, y + h), cloth.grain - 90.0, origin=(0, 0))
        if cloth.polygon.covers(laid):
            assert may_have_room(room, w, h)
            assert longest_at(room, w) >= h - 1e-6


@given(cloths())
def test_what_surely_has_room_is_on_the_cloth(cloth: Cloth) -> None:
    """Every row of cells that the lower bound tells of is looked for by trying all places of the raster."""
    room = least_room([cloth])
    turned = affinity.rotate(cloth.polygon, 90.0 - cloth.grain, origin=(0, 0))
    shapely.prepare(turned)
    left, bottom, right, top = turned.bounds
    for columns, rows in enumerate(room, 1):
        xs = np.arange(left, right, STEP)
        ys = np.arange(bottom, top, STEP)
        x, y = np.meshgrid(xs, ys)
        # the raster begins a hair within the cloth's corner
        places = shapely.box(x + 0.001, y + 0.001, x + columns * STEP - 0.001, y + rows * STEP - 0.001)
        assert shapely.covers(turned, places).any()


def test_a_plain_rectangle() -> None:
    cloth = Cloth("cloth", box(0, 0, 205, 318))
    assert has_room(least_room([cloth]), 200, 310)
    assert not has_room(least_room([cloth]), 210, 310)
    assert may_have_room(most_room([cloth]), 205, 318)
    assert not may_have_room(most_room([cloth]), 221, 100)
    assert not may_have_room(most_room([cloth]), 100, 331)


def test_the_grain_turns_the_rectangle() -> None:
    cloth = Cloth("cloth", box(0, 0, 200, 400), grain=0.0)  # the warp runs along x: 400 wide, 200 long
    assert has_room(least_room([cloth]), 390, 190)
    assert not may_have_room(most_room([cloth]), 200, 400)


@pytest.mark.parametrize("room", [least_room, most_room])
def test_no_cloth_has_no_room(room: Callable[[Iterable[Cloth]], Room]) -> None:
    assert room([]) == ()
    assert not may_have_room((), 1, 1)
    assert not has_room((), 1, 1)
    assert longest_at((), 1) == 0

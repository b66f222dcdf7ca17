"""Chances as they are added up, and the places of a find at which a look is asked."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import logit as scipys
from shapely.geometry import MultiPoint, Polygon, box

from salvage.cloth.finders.weigh import logit, points_in


@given(st.floats(0.02, 0.98))
def test_a_chance_is_weighed_by_its_odds(chance: float) -> None:
    assert logit(chance) == pytest.approx(float(scipys(chance)), abs=1e-9)


@pytest.mark.parametrize(("chance", "held"), [(0.0, 0.02), (0.01, 0.02), (1.0, 0.98), (1.5, 0.98)])
def test_no_witness_is_surer_than_fifty_to_one(chance: float, held: float) -> None:
    assert logit(chance) == pytest.approx(float(scipys(held)))


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.integers(-60, 60), st.integers(-60, 60)), min_size=3, max_size=6),
    st.floats(2.0, 20.0),
)
def test_the_points_of_a_place_lie_in_it_a_step_apart_and_miss_none(
    ring: list[tuple[int, int]], step: float
) -> None:
    shape = Polygon(ring).convex_hull
    if not isinstance(shape, Polygon):
        return
    points = points_in(shape, step)
    assert shape.buffer(1e-6).covers(MultiPoint(points))
    left, low, right, high = shape.bounds
    one_by_one = sum(
        shapely.contains_xy(shape, x, y)
        for x in np.arange(left, right, step)
        for y in np.arange(low, high, step)
    )
    assert len(points) == one_by_one + 1


def test_a_place_smaller_than_a_step_is_asked_at_its_middle() -> None:
    assert points_in(box(3, 3, 4, 4), 50.0)[-1] == pytest.approx([3.5, 3.5])

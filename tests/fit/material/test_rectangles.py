"""Clear rectangles lie in the cloth, and are as large as they should be."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon, box
from shapely.ops import unary_union

from salvage.fit.material.rectangles import largest_of_ratio, largest_rectangle, longest_run, runs


@st.composite
def cloths(draw: st.DrawFn) -> Polygon:
    """A blob of 8 to 16 corners with up to three holes."""
    count = draw(st.integers(8, 16))
    radii = draw(st.lists(st.floats(120, 400), min_size=count, max_size=count))
    ring = [
        (r * math.cos(2 * math.pi * k / count), r * math.sin(2 * math.pi * k / count))
        for k, r in enumerate(radii)
    ]
    cloth = Polygon(ring).buffer(0)
    for _ in range(draw(st.integers(0, 3))):
        x, y = draw(st.floats(-200, 200)), draw(st.floats(-200, 200))
        cloth = cloth.difference(Point(x, y).buffer(draw(st.floats(5, 40))))
    return max(getattr(cloth, "geoms", [cloth]), key=lambda each: each.area)


@settings(deadline=None, max_examples=40)
@given(cloths(), st.floats(0, 360), st.floats(15, 120))
def test_found_stretches_lie_in_the_cloth(cloth: Polygon, grain: float, width: float) -> None:
    let_out = cloth.buffer(1e-6)
    found = [
        largest_rectangle(cloth, grain),
        largest_of_ratio(cloth, 1.5, grain),
        longest_run(cloth, width, grain),
    ]
    assert found[0] is not None
    assert found[1] is not None
    for each in found:
        if each is not None:
            assert let_out.covers(each.polygon)
            assert each.polygon.area == pytest.approx(each.area, rel=1e-6)
    assert found[1].length == pytest.approx(1.5 * found[1].width)
    if found[2] is not None:
        assert found[2].width == pytest.approx(width)


@settings(deadline=None, max_examples=25)
@given(cloths(), st.floats(20, 80), st.sampled_from([0.0, 3.0]))
def test_runs_lie_apart(cloth: Polygon, width: float, gap: float) -> None:
    found = runs(cloth, width, 70.0, shortest=60.0, gap=gap)
    assert found
    for i, a in enumerate(found):
        assert a.length >= 60.0
        for b in found[i + 1 :]:
            assert a.polygon.distance(b.polygon) >= gap - 1e-6
            assert a.polygon.intersection(b.polygon).area < 1e-6


@pytest.mark.parametrize("grain", [90.0, 0.0, 33.0])
def test_a_turned_rectangle_is_found_whole(grain: float) -> None:
    cloth = affinity.rotate(box(0, 0, 210, 400), grain - 90, origin=(0, 0))
    found = largest_rectangle(cloth, grain)
    assert found is not None
    assert (found.width, found.length) == pytest.approx((210, 400), abs=0.01)


def test_a_run_exactly_as_wide_as_the_cloth_is_found() -> None:
    found = longest_run(box(0, 0, 30, 400), 30.0)
    assert found is not None
    assert found.length == pytest.approx(400, abs=0.01)
    assert longest_run(box(0, 0, 30, 400), 30.01) is None


def test_the_grown_rectangle_matches_one_worked_out_by_hand() -> None:
    """An L: 300 x 100 foot, 100 x 300 upright. Both arms hold 30 000 mm2."""
    found = largest_rectangle(unary_union([box(0, 0, 300, 100), box(0, 0, 100, 300)]))
    assert found is not None
    assert found.area == pytest.approx(30000, rel=1e-4)

"""Helpers on shapely's shapes."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LinearRing, LineString, box

from salvage.shapes import places_of, points_on

CORNERS = [(0.0, 0.0), (30.0, 0.0), (30.0, 40.0)]  # 70 mm, and back to the start 120 mm


@pytest.mark.parametrize("line", [LineString(CORNERS), LinearRing(CORNERS)], ids=["line", "ring"])
def test_points_on_a_line_are_those_found_one_by_one(line: LineString | LinearRing) -> None:
    at = np.linspace(0.0, line.length, 9)
    one_by_one = [line.interpolate(each).coords[0] for each in at]
    assert points_on(line, at).tolist() == [list(each) for each in one_by_one]
    assert points_on(line, at / line.length, normalized=True) == pytest.approx(np.array(one_by_one))


def test_points_lie_where_the_way_along_the_corners_leads() -> None:
    assert points_on(LineString(CORNERS), [10.0, 50.0]).tolist() == [[10.0, 0.0], [30.0, 20.0]]


def test_shapes_nearer_than_so_much_lie_at_one_place() -> None:
    near, far = box(0, 0, 10, 10), LineString([(0, 39), (10, 39)])
    assert len(places_of([near, far], 30.0)) == 1
    assert len(places_of([near, far], 28.0)) == 2
    assert all(any(place.covers(each) for place in places_of([near, far], 28.0)) for each in (near, far))
    assert places_of([], 30.0) == []

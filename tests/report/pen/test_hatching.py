"""Hatchings lie within their area, evenly and in the direction their name shows; dashes have the lengths asked for."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from salvage.report.pen.hatching import dashed, dots, hatching

AREA = Polygon(box(10, 20, 130, 110).exterior, [box(40, 40, 70, 70).exterior.coords])


@pytest.mark.parametrize("downwards", [False, True])
@pytest.mark.parametrize(
    ("hatch", "angles", "apart"),
    [
        ("//", {45}, 12 / 2**0.5),
        ("\\\\", {135}, 12 / 2**0.5),
        ("xx", {45, 135}, 12 / 2**0.5),
        ("--", {0}, 6),
        ("||", {90}, 6),
    ],
)
def test_lines_run_as_their_name_shows_and_equally_far_apart(
    hatch: str, angles: set[int], apart: float, downwards: bool
) -> None:
    runs = hatching(AREA, hatch, 1.0, downwards=downwards)
    lines = [LineString(run) for run in runs]
    assert AREA.buffer(1e-6).covers(shapely.union_all(lines))
    steps = np.array([run[-1] - run[0] for run in runs]) * (1, -1 if downwards else 1)
    assert {round(np.degrees(np.arctan2(y, x))) % 180 for x, y in steps} == angles
    # so much of an area lies nearer to such a line than half the way to the next
    assert sum(line.length for line in lines) == pytest.approx(len(angles) * AREA.area / apart, rel=0.05)


def test_a_hatching_goes_on_in_the_area_beside_it() -> None:
    left, right = box(0, 0, 50, 60), box(50, 0, 100, 60)
    apart = [hatching(each, "//", 1.0, downwards=False) for each in (left, right)]
    whole = hatching(box(0, 0, 100, 60), "//", 1.0, downwards=False)
    together = shapely.union_all([LineString(run) for runs in apart for run in runs])
    assert shapely.union_all([LineString(run) for run in whole]).buffer(1e-6).covers(together)


def test_dots_are_spread_over_the_area_alone_and_grow_with_the_letters() -> None:
    found = dots(AREA, 1.0)
    assert all(AREA.covers(each) for each in found.geoms)
    assert len(found.geoms) == pytest.approx(AREA.area / 36, rel=0.12)
    assert len(dots(AREA, 2.0).geoms) == pytest.approx(AREA.area / 144, rel=0.25)


def test_a_shape_that_no_dot_falls_into_has_none() -> None:
    assert dots(box(1.0, 1.0, 2.0, 2.0), 1.0).is_empty


def test_dashes_follow_a_line_round_its_corners() -> None:
    run = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)])
    drawn = list(dashed([run], (3, 2), 1.0))
    assert [LineString(each).length for each in drawn] == pytest.approx([3, 3, 3, 3])
    assert LineString(run).buffer(1e-6).covers(shapely.union_all([LineString(each) for each in drawn]))
    assert drawn[2].tolist() == [[10.0, 0.0], [10.0, 3.0]]

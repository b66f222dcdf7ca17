"""Drawings of templates moved, turned and mirrored: lengths stay, letters stay the right way up."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from salvage.report.template.drawing import (
    Drawing,
    Layer,
    Line,
    Text,
    Wording,
    arrow_lines,
    box_of,
    moved,
    shape_lines,
    turned,
)

FLAP = ((0.0, 0.0), (200.0, 0.0), (160.0, 90.0), (0.0, 120.0))


def drawing() -> Drawing:
    wording = Wording(box(20, 20, 100, 80), (("flap",),), 90.0)
    return Drawing(
        "flap",
        Polygon(FLAP),
        (Line(Layer.CUT, FLAP, closed=True),),
        (Text((50.0, 40.0), "flap", 10.0),),
        wording,
    )


def signed_area(points: tuple[tuple[float, float], ...]) -> float:
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, (*points[1:], points[0]), strict=True)) / 2


@settings(max_examples=40)
@given(st.floats(-360, 360), st.booleans(), st.floats(-900, 900), st.floats(-900, 900))
def test_true_to_size_however_it_lies(angle: float, mirrored: bool, dx: float, dy: float) -> None:
    made = moved(turned(drawing(), angle, mirrored=mirrored), dx, dy)
    points = made.lines[0].points
    for (a, b), (c, d) in zip(itertools.pairwise(FLAP), itertools.pairwise(points), strict=True):
        assert math.dist(c, d) == pytest.approx(math.dist(a, b), abs=1e-6)
    sign = -1.0 if mirrored else 1.0
    assert signed_area(points) == pytest.approx(sign * signed_area(FLAP), rel=1e-9)
    assert made.outline.area == pytest.approx(Polygon(FLAP).area)
    assert -90 <= made.texts[0].rotation <= 90.001  # never upside down


@given(st.sampled_from([0.0, 90.0, 180.0, 270.0, -90.0]))
def test_a_quarter_turn_is_exact(angle: float) -> None:
    points = turned(drawing(), angle).lines[0].points
    assert {abs(value) for point in points for value in point} == {
        abs(value) for point in FLAP for value in point
    }


def test_turned_counter_clockwise_and_mirrored_left_to_right_first() -> None:
    assert turned(drawing(), 90.0).lines[0].points[1] == pytest.approx((0.0, 200.0))
    assert turned(drawing(), 0.0, mirrored=True).lines[0].points[1] == pytest.approx((-200.0, 0.0))
    assert turned(drawing(), 90.0, mirrored=True).lines[0].points[1] == pytest.approx((0.0, -200.0))


@given(st.floats(-180, 180), st.booleans())
def test_the_grain_is_turned_with_the_panel(angle: float, mirrored: bool) -> None:
    made = turned(drawing(), angle, mirrored=mirrored).wording
    assert made is not None
    assert made.warp is not None
    assert math.cos(math.radians(made.warp - (90.0 + angle))) == pytest.approx(
        1.0, abs=1e-9
    )  # up stays up in a mirror


def test_an_arrow_points_at_its_end() -> None:
    line, end, start = arrow_lines((0.0, 0.0), (0.0, 50.0), both=True)
    assert line.points == ((0.0, 0.0), (0.0, 50.0))
    assert end.points[0] == (0.0, 50.0)
    assert start.points[0] == (0.0, 0.0)
    assert {round(y, 6) for _, y in end.points[1:]} == {46.0}
    assert {round(y, 6) for _, y in start.points[1:]} == {4.0}
    assert all(head.filled and head.closed for head in (end, start))
    assert len(arrow_lines((0.0, 0.0), (0.0, 50.0), both=False)) == 2


def test_lines_of_a_shape_with_a_hole() -> None:
    shape = box(0, 0, 100, 100).difference(box(40, 40, 60, 60))
    edge, hole = shape_lines(Layer.CUT, shape)
    assert edge.closed
    assert len(edge.points) == 4  # the first isn't repeated
    assert abs(signed_area(edge.points)) - abs(signed_area(hole.points)) == pytest.approx(shape.area)
    assert shape_lines(Layer.CUT, None) == ()


def test_bounds_take_texts_in_that_stand_above() -> None:
    above = Drawing("a", Polygon(FLAP), drawing().lines, (Text((50.0, 140.0), "x", 8.0),))
    assert above.bounds == (0.0, 0.0, 200.0, 148.0)
    assert above.size == (200.0, 148.0)
    wide, high = box_of(Text((0.0, 0.0), "word", 10.0)).bounds[2:]
    assert wide > high  # a word is wider than high, and upright once turned
    assert box_of(Text((0.0, 0.0), "word", 10.0, rotation=90.0)).bounds[2:] == pytest.approx((high, wide))

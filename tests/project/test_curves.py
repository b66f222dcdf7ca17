"""Curves of a drawing cut into chords: near enough to the curve everywhere, and no more of them than that takes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import BPoly
from shapely import LineString, Point, distance, points

from salvage.project.drawing import _bezier, _steps
from salvage.project.svg_bounds import TooMuchError, check_svg

PLACE = st.tuples(st.floats(-500, 500), st.floats(-500, 500))


@settings(max_examples=40)
@given(st.lists(PLACE, min_size=3, max_size=4), st.sampled_from([0.05, 0.5, 2.0]))
def test_no_place_of_the_curve_is_further_from_its_chords_than_told(
    corners: list[tuple[float, float]], within: float
) -> None:
    """The curve itself is SciPy's, from the Bernstein basis."""
    curve = BPoly(np.array(corners)[:, None, :], [0.0, 1.0])
    chords = LineString([corners[0], *_bezier(corners, within)])
    assert distance(points(curve(np.linspace(0, 1, 400))), chords).max() <= within + 1e-6
    assert Point(chords.coords[-1]).distance(Point(corners[-1])) < 1e-9


def test_a_straight_run_needs_few_and_a_bent_one_as_many_as_the_formula_says() -> None:
    assert _steps([(0.0, 0.0), (100.0, 0.0), (200.0, 0.0), (300.0, 0.0)], 0.05) == 4
    # degree 2, second difference (0, -800): sqrt(2 * 800 / (8 * 0.5)) = 20
    assert _steps([(0.0, 0.0), (200.0, 400.0), (400.0, 0.0)], 0.5) == 20
    assert _bezier([(0.0, 0.0), (9.0, 9.0)], 0.5) == [(9.0, 9.0)]
    assert _steps([(0.0, 0.0), (math.inf, 0.0), (9.0, 0.0)], 0.5) == 4


def svg(attribute: str, letters: int) -> bytes:
    value = ("M0 0L9 9" * (letters // 8 + 1))[:letters]
    return f'<svg xmlns="http://www.w3.org/2000/svg"><path {attribute}="{value}"/></svg>'.encode()


@pytest.mark.parametrize("attribute", ["d", "points"])
def test_the_points_of_a_path_may_be_many_and_no_other_word_of_it(attribute: str) -> None:
    check_svg(svg(attribute, 300_000))
    with pytest.raises(TooMuchError, match="too many points"):
        check_svg(svg(attribute, 1_100_000))
    with pytest.raises(TooMuchError, match="is endless"):
        check_svg(svg("class", 21_000))
    check_svg(svg("class", 19_000))

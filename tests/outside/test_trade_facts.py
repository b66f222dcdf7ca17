"""Facts of sewing as common practice, checked by geometry that is not ours.

Source of every rule here: common practice of dressmaking and bag making, no standard found. Where a rule is
really geometry (the slanted join), shapely works it out a second way.
"""

from __future__ import annotations

import pytest
from shapely.affinity import translate
from shapely.geometry import Polygon

from salvage.trade import sewing
from salvage.trade.paper import PAPER


def test_a_strap_folded_to_the_middle_and_once_more_is_cut_four_times_its_width() -> None:
    # common practice: fold both edges to the middle (2 layers over half the width), then in half again
    width = 25.0
    after_first_fold = 4 * width / 2
    after_second_fold = after_first_fold / 2
    assert after_second_fold == width
    assert sewing.strip_cut_width(width, sewing.FOLDS_OF_A_STRAP) == pytest.approx(4 * width)


@pytest.mark.parametrize("allowance", [25.4 * 3 / 8, 25.4 / 2, 25.4 / 4])
def test_a_panel_is_cut_with_an_allowance_on_each_side(allowance: float) -> None:
    # common practice; shapely grows the finished rectangle on all sides
    finished = Polygon([(0, 0), (200, 0), (200, 300), (0, 300)])
    left, bottom, right, top = finished.buffer(allowance, join_style="mitre").bounds
    assert sewing.cut_size(200, allowance) == pytest.approx(right - left)
    assert sewing.cut_size(300, allowance) == pytest.approx(top - bottom)


@pytest.mark.parametrize("width", [30.0, 101.6])
def test_a_join_on_the_bias_costs_the_cut_width(width: float) -> None:
    # Two strips cut at 45 degrees, slid together until their slanted ends meet: the sewn strip's length,
    # measured along its middle, is shorter than the sum by the width.
    first = Polygon([(0, 0), (300, 0), (300 - width, width), (0, width)])
    second = Polygon([(width, 0), (300, 0), (300, width), (0, width)])
    sewn = first.union(translate(second, xoff=300 - width))
    left, _, right, _ = sewn.bounds
    assert sewn.area == pytest.approx((right - left) * width)
    assert 300 + 300 - sewing.bias_join_cost(width) == pytest.approx(right - left)


def test_a_straight_join_costs_two_allowances() -> None:
    # Two strips laid face to face, sewn 8 mm in from their ends and opened out: each ends 8 mm short of its cut end.
    first, second = (
        Polygon([(0, 0), (200, 0), (200, 40), (0, 40)]),
        Polygon([(0, 0), (300, 0), (300, 40), (0, 40)]),
    )
    sewn = first.union(translate(second, xoff=200 - 2 * 8))
    assert 200 + 300 - sewing.straight_join_cost(8) == pytest.approx(sewn.bounds[2])


# ISO 216:2007: A0 is 1 m^2 with sides 1 : sqrt 2, each size is half of the one before, sides in whole mm.
@pytest.mark.parametrize(("name", "n"), [("A3", 3), ("A4", 4), ("A5", 5)])
def test_paper_sizes_follow_from_the_rule_of_iso_216(name: str, n: int) -> None:
    short, long = PAPER[name]
    assert short == pytest.approx(1000 * 2 ** (-n / 2 - 0.25), abs=1.0)
    assert long == pytest.approx(1000 * 2 ** (-n / 2 + 0.25), abs=1.0)


def test_card_and_letter_sizes() -> None:
    # ISO/IEC 7810:2019, ID-1: 85.60 mm x 53.98 mm (3.370 in x 2.125 in); US Letter 8 1/2 x 11 in (ANSI/ASME Y14.1)
    assert PAPER["ID-1"] == pytest.approx((2.125 * 25.4, 3.370 * 25.4), abs=0.01)
    assert PAPER["Letter"] == pytest.approx((215.9, 279.4))

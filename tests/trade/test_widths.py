"""Widths that cloth is sold in: what shops write on the bolt, in metres and in inches (common practice)."""

from __future__ import annotations

import pytest

from salvage.trade.widths import CUT_OFF, SELVEDGES, USUAL_WIDTH, widths
from salvage.units import Unit

INCH = 25.4


def test_inch_people_see_whole_inches_and_the_usual_four() -> None:
    assert [each / INCH for each in widths(Unit.INCH)] == pytest.approx([36, 45, 54, 60])
    assert USUAL_WIDTH[Unit.INCH] / INCH == pytest.approx(54)


@pytest.mark.parametrize("unit", [Unit.MM, Unit.CM])
def test_metric_people_see_whole_centimetres(unit: Unit) -> None:
    assert widths(unit) == (900, 1120, 1400, 1500)
    assert USUAL_WIDTH[unit] == 1400


@pytest.mark.parametrize("unit", list(Unit))
def test_the_usual_width_is_one_of_them_and_they_rise(unit: Unit) -> None:
    assert USUAL_WIDTH[unit] in widths(unit)
    assert list(widths(unit)) == sorted(set(widths(unit)))
    assert min(widths(unit)) / 10 > 2 * SELVEDGES


def test_metric_and_inch_bolts_are_the_same_trade() -> None:
    """36, 45 and 60 in are sold as 90, 112 and 150 cm, within what the selvedges take."""
    for inches, mm in ((36, 900), (45, 1120), (60, 1500)):
        assert inches * INCH in widths(Unit.INCH)
        assert mm in widths(Unit.MM)
        assert abs(inches * INCH - mm) < SELVEDGES + 5


def test_cloth_is_cut_off_by_five_centimetres_or_by_the_eighth_of_a_yard() -> None:
    assert CUT_OFF[Unit.MM] == CUT_OFF[Unit.CM] == 50
    assert CUT_OFF[Unit.INCH] * 8 == pytest.approx(914.4)

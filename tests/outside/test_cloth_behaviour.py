"""Needles, irons and thread, against figures typed from elsewhere.

Needle sizes: metric and American numbers side by side, as needle makers and sewing suppliers print them. Iron:
ISO 3758:2012 as cited by sellers of garments (110, 150, 200 degrees for one, two, three dots). Thread: 2.5 times the
seam for stitch type 301, and 10 to 15 % lost (thread makers' worked example: 220 cm of seam take 550 cm).
"""

from __future__ import annotations

import pytest

from salvage.trade.behaviour import BEHAVIOURS, NEEDLE_SIZES, behaviour_of, thread_for
from salvage.trade.care import SYMBOLS, Iron
from salvage.trade.kinds import KINDS

METRIC_AND_SINGER = {60: 8, 65: 9, 70: 10, 75: 11, 80: 12, 90: 14, 100: 16, 110: 18, 120: 19}


def test_needle_sizes_go_together_as_makers_print_them() -> None:
    assert NEEDLE_SIZES == METRIC_AND_SINGER


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_cloth_behaves_somehow(kind: str) -> None:
    behaviour = BEHAVIOURS[kind]
    low, high = behaviour.sizes
    assert low <= high
    assert {low, high} <= METRIC_AND_SINGER.keys()
    assert 2.0 <= behaviour.stitch[0] <= behaviour.stitch[1] <= 4.0  # stitches that home machines make
    assert behaviour.frays
    assert behaviour.stretches
    assert behaviour.source


def test_heavier_cloth_takes_thicker_needles() -> None:
    # any needle chart: lining finer than plain cloth, plain cloth finer than denim and canvas
    order = [BEHAVIOURS[kind].sizes for kind in ("lining", "woven", "denim")]
    assert order == sorted(order)
    assert BEHAVIOURS["canvas"].sizes[1] >= 100


@pytest.mark.parametrize(("dots", "degrees"), [("one dot", 110), ("two dots", 150), ("three dots", 200)])
def test_dots_of_the_iron(dots: str, degrees: int) -> None:
    (iron,) = (each for each in Iron if each.words.startswith(dots))
    assert iron.words == f"{dots}, up to {degrees} °C"
    assert any(str(degrees) in symbol.means for symbol in SYMBOLS)


def test_what_melts_is_ironed_cool() -> None:
    for kind in ("coated", "lining", "leather"):
        assert (BEHAVIOURS[kind].iron.value or 0) <= 110


def test_thread_for_a_seam_of_220_cm() -> None:
    assert thread_for(2200) == pytest.approx(5500 * 1.15)


def test_a_fabric_called_by_a_kind_behaves_like_it() -> None:
    assert behaviour_of("Lining", "denim").kind == "lining"
    assert behaviour_of("shell", "denim").kind == "denim"
    assert behaviour_of("shell", "").kind == "woven"

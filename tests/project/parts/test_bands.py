"""Straps and bindings by the layers that they lie in: four of a strap, and those of a binding on each side of an edge."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from part_of import cut, part_of

from salvage.project.parts.bands import binding, strap
from salvage.project.project import Grain

widths = st.floats(5, 80)


@given(widths, st.floats(100, 2000), st.integers(2, 8))
def test_a_strap_is_as_wide_as_its_layers_side_by_side(width: float, length: float, layers: int) -> None:
    (strip,) = strap(part_of("strap", width=width, length=length, folds=layers)).strips
    assert cut(strip) == (pytest.approx(layers * width), pytest.approx(length + 20))
    assert (strip.finished_width, strip.folds) == (pytest.approx(width), layers)


def test_a_strap_of_which_nothing_is_said_has_four_layers() -> None:
    """Edges to the middle, then folded in half: 25 mm of strap from 100 mm (common practice)."""
    (strip,) = strap(part_of("strap", width=25, length=600)).strips
    assert cut(strip) == (pytest.approx(100), pytest.approx(620))


@pytest.mark.parametrize(("double", "times"), [(False, 4), (True, 6)])
def test_a_binding_goes_round_the_edge_single_or_double(double: bool, times: int) -> None:
    """Single: seen on both sides and turned in on both, 4 widths. Double: two layers of three, 6 (common practice)."""
    (strip,) = binding(part_of("binding", width=10, around=900, double=double)).strips
    assert cut(strip) == (pytest.approx(10 * times), pytest.approx(1000))
    assert strip.grain is Grain.BIAS


def test_a_binding_may_lie_along_the_grain_and_be_longer_by_what_is_said() -> None:
    (strip,) = binding(part_of("binding", width=10, around=900, straight=True, over=40)).strips
    assert strip.grain is Grain.ALONG
    assert strip.length == pytest.approx(940)

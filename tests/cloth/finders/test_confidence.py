"""The fitted confidence of what the fine finders find."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, box

from salvage.cloth.finders.found import Found, Seam, Spot
from salvage.cloth.finders.lines.confidence import seam_worth, spot_worth, weighed, worth
from salvage.cloth.garment import BlockedKind

KINDS = ["seam", "edge", "closure", "pocket", "worn"]


@given(st.sampled_from(KINDS), st.floats(0, 1), st.floats(0, 1))
def test_a_surer_find_is_never_worth_less_and_none_is_quite_sure(kind: str, one: float, two: float) -> None:
    low, high = sorted((one, two))
    assert 0 <= worth(kind, low) <= worth(kind, high) <= 1


def test_a_kind_that_was_not_fitted_keeps_its_raw_chance() -> None:
    assert worth("padding", 0.37) == 0.37


def test_a_seam_on_the_outline_is_fitted_as_an_edge() -> None:
    line = LineString([(0, 0), (100, 0)])
    assert seam_worth(Seam(line, 0.6, on_outline=True, fine=True)).confidence == pytest.approx(
        worth("edge", 0.6)
    )
    assert seam_worth(Seam(line, 0.6, fine=True)).confidence == pytest.approx(worth("seam", 0.6))
    spot = Spot(BlockedKind.POCKET, box(0, 0, 90, 90), "pocket", 0.6, fine=True)
    assert spot_worth(spot).confidence == pytest.approx(worth("pocket", 0.6))


def test_what_other_finders_saw_keeps_their_confidence() -> None:
    line, place = LineString([(0, 0), (100, 0)]), box(0, 0, 90, 90)
    found = Found(seams=(Seam(line, 0.6),), fittings=(Spot(BlockedKind.POCKET, place, "pocket", 0.6),))
    assert weighed(found) == found

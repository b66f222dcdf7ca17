"""A picture too large for the network is looked at in parts that overlap and leave nothing out."""

from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from salvage.cloth.flat.chances import _LARGEST, _OVERLAP, EVERY, _starts


@given(st.integers(1, 12_000))
def test_parts_overlap_and_cover_the_length(length: int) -> None:
    starts = _starts(length)
    assert starts[0] == 0
    assert all(start % EVERY == 0 for start in starts)
    assert starts[-1] + _LARGEST >= length
    assert starts[-1] == 0 or starts[-1] + _LARGEST < length + EVERY  # none is mostly beyond it
    for one, next_one in itertools.pairwise(starts):
        assert one < next_one <= one + _LARGEST - _OVERLAP

"""Tracks that go well together: as good as the best there are, clear of each other, exact at any angle."""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import box

from salvage.fit.cutting.columns import drawn
from salvage.fit.cutting.tracks import Track, near_each_other, tracks_of
from salvage.project.project import Join, Strip

NARROW = Strip("narrow", 25.0, 400.0, join=Join.STRAIGHT, shortest=50.0, seam_allowance=5.0)
WIDE = Strip("wide", 60.0, 500.0, join=Join.BIAS, shortest=80.0)

tracks = st.lists(
    st.builds(
        lambda bit, angle, width, left, low, length: Track(
            0, bit, angle, width, left, low, low + length, frozenset({NARROW if width == 25.0 else WIDE})
        ),
        st.integers(0, 1),
        st.sampled_from([0.0, 0.0, 30.0]),
        st.sampled_from([25.0, 60.0]),
        st.integers(0, 200).map(float),
        st.integers(0, 100).map(float),
        st.integers(60, 300).map(float),
    ),
    min_size=1,
    max_size=12,
)


@settings(deadline=None, max_examples=60)
@given(tracks, st.sampled_from([0.0, 3.0]))
def test_all_pairs_at_once_are_near_as_each_pair_is(some: list[Track], gap: float) -> None:
    near = near_each_other(some, gap)
    for (i, a), (j, b) in itertools.permutations(enumerate(some), 2):
        assert near[i, j] == a.near(b, gap)
    assert not near.diagonal().any()


@settings(deadline=None, max_examples=40)
@given(tracks, st.sampled_from([0.0, 3.0]))
def test_what_is_drawn_can_be_cut_but_for_lengths_one_above_the_other(some: list[Track], gap: float) -> None:
    near = near_each_other(some, gap)
    for chosen in itertools.islice(drawn((NARROW, WIDE), some, gap, random.Random(1)), 5):
        for a, b in itertools.combinations(sorted(chosen), 2):
            assert not near[a, b] or some[a].left == some[b].left


def test_draws_come_to_the_columns_that_leave_least() -> None:
    # 60 + 25 + 60 side by side fill 145 mm; longest or widest first leave more
    some = tracks_of(0, 0, box(0, 0, 145, 300), 0.0, (NARROW, WIDE), 0.0)
    found = [
        sorted(some[n].width for n in chosen)
        for chosen in itertools.islice(drawn((NARROW, WIDE), some, 0.0, random.Random(0)), 12)
    ]
    assert [25.0, 60.0, 60.0] in found


@pytest.mark.parametrize("angle", [0.0, 17.3, 30.0, 57.8183117570, 123.456789])
def test_strips_side_by_side_fill_a_cloth_exactly_at_any_angle(angle: float) -> None:
    cloth = affinity.translate(affinity.rotate(box(0, 0, 110, 300), angle, origin=(0, 0)), 131.7, -88.3)
    some = tracks_of(0, 0, cloth, angle, (NARROW, WIDE), 0.0)
    left = min(each.left for each in some)
    for width, offset in ((25.0, 0.0), (60.0, 25.0), (25.0, 85.0)):
        assert any(each.width == width and abs(each.left - left - offset) < 1e-6 for each in some)


def test_a_track_among_others_is_kept_though_only_one_of_its_width_can_be_cut() -> None:
    some = tracks_of(0, 0, box(0, 0, 110, 300), 0.0, (NARROW, WIDE), 0.0)
    assert {round(each.left) for each in some if each.width == 60.0} >= {0, 25, 50}

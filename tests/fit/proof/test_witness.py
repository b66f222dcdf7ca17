"""Quick looks for a place, on rectangles: two of them lie on a third exactly if they do side by side or one above the other."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import box
from shapely.ops import unary_union
from small_tasks import small

from salvage.fit.proof.witness import Witness

sides = st.integers(20, 90)


@settings(max_examples=60)
@given(sides, sides, sides, sides, st.sampled_from([0, 3]))
def test_two_rectangles_on_a_cloth(w: int, h: int, w2: int, h2: int, gap: int) -> None:
    asked = small([box(0, 0, 100, 80)], [box(0, 0, w, h), box(0, 0, w2, h2)], float(gap), counts=[2, 1])
    witness = Witness(asked.task, asked.tables)
    alone = [w <= 100 and h <= 80, w2 <= 100 and h2 <= 80]
    assert [witness.fits(k, 0) for k in (0, 1)] == alone
    beside, above = w + gap + w2 <= 100, h + gap + h2 <= 80
    assert witness.both_fit(0, 1, 0) == (all(alone) and (beside or above))
    assert witness.both_fit(1, 0, 0) == witness.both_fit(0, 1, 0)
    assert witness.both_fit(0, 0, 0) == (alone[0] and (2 * w + gap <= 100 or 2 * h + gap <= 80))


def test_each_cloth_for_itself() -> None:
    asked = small([box(0, 0, 50, 50), box(0, 0, 100, 50)], [box(0, 0, 40, 40)], counts=[2])
    witness = Witness(asked.task, asked.tables)
    assert [witness.fits(0, g) for g in (0, 1)] == [True, True]
    assert [witness.both_fit(0, 0, g) for g in (0, 1)] == [False, True]


@pytest.mark.parametrize(("across", "up"), [(1, 1), (-1, 1), (1, -1), (-1, -1)])
def test_a_place_is_found_whichever_corner_it_takes(across: int, up: int) -> None:
    """On this cloth the two lie together if the first goes to the right corner; mirrored, that is another one."""
    crossing = unary_union([box(46, 17, 102, 41), box(30, 34, 94, 80), box(37, 31, 70, 67)])
    cloth = affinity.scale(crossing, across, up, origin=(0, 0))
    asked = small([cloth], [box(0, 0, 26, 28), box(0, 0, 37, 47)])
    assert Witness(asked.task, asked.tables).both_fit(0, 1, 0)

"""Pockets and casings, by hand from how they are sewn."""

from __future__ import annotations

import math

import pytest
from part_of import cut, part_of, sewn
from shapely.geometry import Polygon

from salvage.errors import SalvageError
from salvage.project.parts.pockets import casing, flat_pocket, zip_pocket


def test_a_patch_pocket_has_its_hem_turned_twice_above() -> None:
    """120 x 140, 10 allowance: 140 wide; 10 below, at the top 20 of hem and 10 to turn under."""
    (panel,) = flat_pocket(part_of("flat pocket", width=120, height=140)).panels
    assert cut(panel) == (pytest.approx(140), pytest.approx(180))
    assert sewn(panel).bounds == pytest.approx((0, 0, 120, 140))
    assert Polygon(panel.outline).bounds == pytest.approx((-10, -10, 130, 170))
    (fold,) = panel.guides
    assert [y for _, y in fold.points] == pytest.approx([140, 140])


def test_without_a_hem_the_allowance_goes_all_round() -> None:
    (panel,) = flat_pocket(part_of("flat pocket", width=120, height=140, hem=0)).panels
    assert cut(panel) == (pytest.approx(140), pytest.approx(160))
    assert panel.guides == ()


def test_a_hem_as_high_as_the_pocket_is_refused() -> None:
    with pytest.raises(SalvageError, match="hem must be less than height"):
        flat_pocket(part_of("flat pocket", width=120, height=20))
    assert flat_pocket(part_of("flat pocket", width=120, height=20.5)).panels


def test_a_zip_pocket_hangs_behind_its_opening() -> None:
    """A zip of 160 in an opening of 12, 25 of cloth beside and above it, 110 deep below: 210 wide, 147 high, twice."""
    made = zip_pocket(part_of("zip pocket", zip=160, depth=110))
    (panel,) = made.panels
    assert sewn(panel).bounds == pytest.approx((0, 0, 210, 294))
    fold, window = panel.guides
    assert [y for _, y in fold.points] == pytest.approx([147, 147])
    left, bottom, right, top = Polygon(window.points).bounds
    assert (right - left, top - bottom) == pytest.approx((160, 12))
    assert (left, 210 - right, 294 - top) == pytest.approx((25, 25, 25))
    # from the lower edge of the opening to the fold: as deep as the pocket hangs
    assert bottom - 147 == pytest.approx(110)
    assert [(each.length, each.count) for each in made.notions] == [(pytest.approx(160), 1)]


def test_the_cloth_beside_and_above_a_zip_may_be_told() -> None:
    (panel,) = zip_pocket(part_of("zip pocket", zip=100, depth=50, side=10, above=30, opening=8)).panels
    assert sewn(panel).bounds == pytest.approx((0, 0, 120, 2 * 88))


def test_a_casing_holds_its_cord() -> None:
    """Flat, a channel goes half round a cord of 6 on each layer: 9.42, and 3 more to run in; both layers, and turned in."""
    made = casing(part_of("casing", around=600, cord=6))
    (strip,) = made.strips
    channel = math.pi * 6 / 2 + 3
    assert strip.finished_width == pytest.approx(channel)
    assert cut(strip) == (pytest.approx(2 * channel + 20), pytest.approx(620))
    assert 2 * (channel - 3) == pytest.approx(math.pi * 6)
    (cord,) = made.notions
    assert (cord.length, cord.count) == (pytest.approx(900), 1)


def test_a_casing_may_be_as_wide_as_is_said() -> None:
    (strip,) = casing(part_of("casing", around=600, width=15)).strips
    assert cut(strip) == (pytest.approx(50), pytest.approx(620))


@pytest.mark.parametrize("more", [{}, {"cord": 6, "width": 15}])
def test_a_casing_is_told_by_cord_or_width(more: dict[str, float]) -> None:
    with pytest.raises(SalvageError, match="either cord"):
        casing(part_of("casing", around=600, **more))

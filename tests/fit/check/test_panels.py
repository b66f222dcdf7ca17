"""Faults of a panel's copies and parts, asked one by one."""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon, box

from salvage.fit.answer import Placement
from salvage.fit.check.panels import panel_faults, stacking_faults
from salvage.project.project import Panel

OUTLINE = ((0.0, 0.0), (200.0, 0.0), (200.0, 300.0), (0.0, 300.0))
PIECED = Panel("body", OUTLINE, joins=2, seam_allowance=10.0, narrowest_part=40.0)


def parts(*heights: float) -> list[Polygon]:
    return [box(0, 0, 200, height) for height in heights]


@pytest.mark.parametrize(
    ("heights", "fault"),
    [
        ((160, 160), ""),  # two allowances at the one join
        ((120, 110, 110), ""),
        ((160, 150), "joined come to 290.00 mm, the panel has 300.00 mm"),
        ((160, 190), "part 2 is not the panel between two straight joins"),  # stands out above the panel
        ((50, 270), ""),  # just 40 mm when sewn
        ((49.9, 270.1), "part 1 is narrower than 40 mm"),
    ],
)
def test_parts_joined_straight_across(heights: tuple[float, ...], fault: str) -> None:
    found = stacking_faults(PIECED, Polygon(OUTLINE), parts(*heights))
    assert (fault in found[0]) if fault else found == []


@pytest.mark.parametrize(("where", "right"), [("bottom", False), ("top", True), ("left", False), ("", True)])
def test_a_join_lies_in_the_half_that_is_asked_for(where: str, right: bool) -> None:
    """The join of 200 mm and 120 mm, less allowances, is at 190 of 300 mm."""
    panel = Panel("body", OUTLINE, joins=1, seam_allowance=10.0, joins_where=where)
    placed = [
        Placement("body", 1, number, 0, "back", 1, 0.0, False, shape)
        for number, shape in enumerate(parts(200, 120), 1)
    ]
    assert (panel_faults(panel, placed) == []) is right


def test_a_mirrored_copy_is_counted_once_however_many_parts_it_has() -> None:
    panel = Panel("body", OUTLINE, cut=2, joins=1, seam_allowance=10.0, mirrored=True)
    placed = [
        Placement("body", copy, number, 0, "back", 1, 0.0, copy == 2, shape)
        for copy in (1, 2)
        for number, shape in enumerate(parts(160, 160), 1)
    ]
    assert panel_faults(panel, placed) == []
    half = [*placed[:3], Placement("body", 2, 2, 0, "back", 1, 0.0, False, placed[3].shape)]
    assert any("some of its parts are mirrored" in fault for fault in panel_faults(panel, half))

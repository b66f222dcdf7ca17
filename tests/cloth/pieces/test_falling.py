"""How cloth falls apart along seams whose ends don't quite meet the edge."""

from __future__ import annotations

import pytest
from shapely.geometry import LineString, Point, Polygon, box

from salvage.cloth.finders.found import Seam
from salvage.cloth.pieces.falling import fall_apart

# A body with a sleeve that hangs beside it: the notch between them ends in the underarm at (200, 400).
BODY, SLEEVE = box(0, 0, 200, 600), box(210, 0, 265, 600)
CLOTH = Polygon([(0, 0), (200, 0), (200, 400), (210, 400), (210, 0), (265, 0), (265, 600), (0, 600)])


def test_an_armhole_seam_that_runs_a_little_past_the_underarm_parts_sleeve_and_body() -> None:
    seam = LineString([(200, 600), (198, 520), (200, 420), (214, 408)])  # its last mm point across the sleeve
    body, sleeve = fall_apart(CLOTH, [Seam(seam, 1.0)], [])
    assert body.covers(Point(100, 300))
    assert body.area == pytest.approx(BODY.area, rel=0.02)
    assert sleeve.covers(Point(240, 100))
    assert sleeve.area == pytest.approx(SLEEVE.area, rel=0.08)


def test_a_seam_that_stops_short_is_run_on_straight() -> None:
    parts = fall_apart(box(0, 0, 300, 400), [Seam(LineString([(150, 30), (150, 360)]), 1.0)], [])
    assert [round(part.area / 1000) for part in parts] == [60, 60]

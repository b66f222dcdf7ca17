"""What the checker takes for usable."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Piece
from salvage.fit.check.cloth import usable, within


def test_a_seam_takes_its_margin_on_both_sides_and_round_its_ends() -> None:
    seam = Blocked(BlockedKind.SEAM, LineString([(50, 30), (50, 70)]), 6.0)
    cloth = usable(Piece("back", box(0, 0, 100, 100), blocked=(seam,)))
    assert cloth.area == pytest.approx(100 * 100 - (40 * 12 + math.pi * 36), abs=0.1)


def test_what_the_record_calls_usable_only_takes_away() -> None:
    stain = Blocked(BlockedKind.WORN, box(0, 0, 50, 100), 0.0)
    cloth = usable(
        Piece("back", box(0, 0, 100, 100), blocked=(stain,), usable=MultiPolygon([box(40, 0, 140, 100)]))
    )
    assert cloth.equals(box(50, 0, 100, 100))


def test_a_cut_line_may_cross_the_edge_by_rounding_only() -> None:
    cloth = box(0, 0, 100, 100)
    assert within(cloth, box(0, 0, 100 + 0.5e-6, 50))
    assert not within(cloth, box(0, 0, 100 + 2e-6, 50))
    assert not within(cloth.difference(Point(50, 50).buffer(1)), cloth)
    assert not within(Polygon(), cloth)


def test_a_shape_too_thin_to_pull_in_lies_on_no_edge() -> None:
    """Narrower than what is let pass at an edge: nothing of it would be left to look at."""
    assert not within(box(0, 0, 100, 100), box(100, 0, 100 + 1e-6, 50))

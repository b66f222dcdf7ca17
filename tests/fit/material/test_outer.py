"""The cloth that proofs are about: never less than there is, and one again where stretches come to touch."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece, PlusMinus
from salvage.cloth.usable import usable
from salvage.fit.material.lay import lay_of
from salvage.fit.material.outer import outer, outer_lay


def test_cloth_typed_in_without_blocks_is_all_there_on_both_sides() -> None:
    piece = Piece("back", box(0, 0, 300, 400))
    assert outer(piece).area == 300 * 400
    assert usable(piece).area == 300 * 400


def test_straight_seams_take_their_margin_exactly_on_both_sides() -> None:
    seam = Blocked(BlockedKind.SEAM, LineString([(100, 0), (100, 400)]), 6.0)
    piece = Piece("back", box(0, 0, 300, 400), blocked=(seam,))
    assert usable(piece).bounds[2] == 300
    assert outer(piece).area == usable(piece).area == (94 + 194) * 400


def test_scraps_count_on_the_outer_side() -> None:
    scraps = MultiPolygon([box(0, 0, 300, 300), box(400, 0, 400.5, 1)])
    garment = Garment("coat", (Piece("back", box(0, 0, 500, 300), usable=scraps),))
    assert outer_lay([garment], grown=False).area("shell") == pytest.approx(90000.5)


@given(
    st.lists(st.tuples(st.floats(0, 200), st.floats(0, 200)), min_size=3, max_size=8),
    st.lists(st.tuples(st.floats(0, 200), st.floats(0, 200), st.floats(0, 12)), max_size=5),
)
@settings(max_examples=60, deadline=None)
def test_outer_holds_what_is_left_of_the_outline_by_true_discs(
    corners: list[tuple[float, float]], spots: list[tuple[float, float, float]]
) -> None:
    """The blocked line's margin taken by many true discs along it, each drawn round its circle."""
    outline = Polygon(corners).convex_hull
    if not isinstance(outline, Polygon) or outline.area < 10:
        return
    lines = [(LineString([(x, y), (x + 30, y + 7)]), margin) for x, y, margin in spots]
    blocked = tuple(Blocked(BlockedKind.OTHER, line, margin) for line, margin in lines)
    true = outline
    for line, margin in lines:
        for share in range(21):
            disc = line.interpolate(share / 20, normalized=True)
            true = true.difference(disc.buffer(margin / math.cos(math.pi / 128), quad_segs=32))
        true = true.difference(line.buffer(1.0001 * margin, cap_style="flat"))
    assert true.difference(outer(Piece("back", outline, blocked=blocked)).buffer(1e-6)).area < 1e-6


def test_growing_joins_stretches_that_come_to_touch_and_keeps_corners() -> None:
    cloth = MultiPolygon([box(0, 0, 100, 100), box(103, 0, 200, 100)])
    piece = Piece("back", box(0, 0, 200, 100), usable=cloth, plus_minus=PlusMinus(0.0, 2.0))
    (whole,) = outer_lay([Garment("coat", (piece,))], grown=True).cloths
    assert whole.polygon.covers(box(-2, -2, 202, 102))
    assert outer_lay([Garment("coat", (piece,))], grown=False).area("shell") == 19700


@given(st.integers(0, 10**6), st.floats(0.1, 6))
@settings(max_examples=25, deadline=None)
def test_growing_covers_every_point_within_the_plus_minus(seed: int, by: float) -> None:
    import numpy as np

    rng = np.random.default_rng(seed)
    cloth = Polygon(rng.uniform(0, 300, (9, 2))).buffer(0)
    cloth = cloth.buffer(5).difference(Point(150, 150).buffer(20))
    if cloth.is_empty:
        return
    piece = Piece("p", box(-9, -9, 400, 400), usable=cloth, plus_minus=PlusMinus(0.0, by))
    grown = MultiPolygon([c.polygon for c in outer_lay([Garment("g", (piece,))], grown=True).cloths])
    assert grown.buffer(1e-7).covers(cloth.buffer(by))


def test_stretches_nearer_than_the_gap_are_parted_three_ways() -> None:
    cloth = MultiPolygon([box(0, 0, 100, 100), box(101, 0, 203.4, 100)])
    lay = lay_of([Garment("coat", (Piece("back", box(0, 0, 203.4, 100), usable=cloth),))])
    assert lay.parted(1.0) == ()
    for parted in lay.parted(3.0):
        one, two = (each.polygon for each in parted.cloths)
        assert 3.0 <= one.distance(two) <= 3.001
        assert cloth.buffer(1e-9).covers(one.union(two))

"""Measuring again never loses what a person drew, set or cleared."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Cleared, FoundBy, Garment, Piece, PiecePhoto
from salvage.cloth.record.anew.merge import merge

PHOTO = PiecePhoto("back.jpg", 150.0)
STAIN = Blocked(BlockedKind.WORN, box(100, 100, 140, 140), 3.0)
DRAWN = Blocked(BlockedKind.OTHER, box(300, 300, 360, 330), 5.0, FoundBy.PERSON, "ink")


def garment(*pieces: Piece) -> Garment:
    return Garment("coat", pieces)


def piece(name: str = "back", outline: Polygon | None = None, **fields: Any) -> Piece:
    return Piece(name, outline or box(0, 0, 600, 700), photo=PHOTO, **fields)


def test_a_drawn_shape_survives_and_the_photos_own_is_renewed() -> None:
    old = garment(piece(blocked=(STAIN, DRAWN)))
    found = Blocked(BlockedKind.SEAM, LineString([(0, 350), (600, 350)]), 6.0)
    merged = merge(old, garment(piece(blocked=(found,))))
    assert DRAWN in merged.pieces[0].blocked
    assert found in merged.pieces[0].blocked
    assert STAIN not in merged.pieces[0].blocked


def test_a_cleared_area_stays_cleared() -> None:
    old = garment(piece(cleared=(Cleared(box(90, 90, 150, 150), patch=True),)))
    merged = merge(old, garment(piece(blocked=(STAIN,))))
    assert merged.pieces[0].blocked == ()
    assert merged.pieces[0].cleared


def test_what_a_person_set_stays_set() -> None:
    old = garment(piece(grain=72.0, fabric="canvas", by_person=("grain", "fabric")))
    merged = merge(old, garment(piece(grain=90.0)))
    assert (merged.pieces[0].grain, merged.pieces[0].fabric) == (72.0, "canvas")
    assert merged.pieces[0].by_person == ("grain", "fabric")


def test_a_drawn_outline_replaces_the_found_one() -> None:
    mine = piece(outline=box(5, 5, 590, 690), by_person=("outline",), blocked=(DRAWN,))
    merged = merge(garment(mine), garment(piece()))
    assert [each.outline.bounds for each in merged.pieces] == [mine.outline.bounds]
    assert DRAWN in merged.pieces[0].blocked


def test_pieces_typed_in_and_of_other_photographs_stay() -> None:
    typed = Piece("strip", box(0, 0, 50, 900))
    other = replace(piece("front"), photo=PiecePhoto("front.jpg", 150.0))
    merged = merge(garment(piece(), typed, other), garment(piece()))
    assert {each.name for each in merged.pieces} == {"back", "strip", "front"}


def test_a_shape_beside_all_new_pieces_still_stays() -> None:
    old = garment(piece(blocked=(DRAWN,)))
    merged = merge(old, garment(piece(outline=box(0, 0, 200, 200))))
    assert DRAWN in merged.pieces[0].blocked


@given(
    st.lists(st.tuples(st.floats(0, 500), st.floats(0, 500), st.floats(2, 80)), min_size=1, max_size=6),
    st.integers(1, 4),
)
@settings(max_examples=50, deadline=None)
def test_no_drawn_shape_is_ever_lost(spots: list[tuple[float, float, float]], parts: int) -> None:
    drawn = tuple(
        Blocked(BlockedKind.OTHER, box(x, y, x + w, y + w), 3.0, FoundBy.PERSON) for x, y, w in spots
    )
    new = [piece(f"part {n}", box(600 / parts * n, 0, 600 / parts * (n + 1), 700)) for n in range(parts)]
    merged = merge(garment(piece(blocked=drawn)), garment(*new))
    for shape in drawn:
        assert any(shape in each.blocked for each in merged.pieces)


@pytest.mark.parametrize("again", [1, 2, 3])
def test_merging_again_and_again_adds_nothing(again: int) -> None:
    merged = garment(piece(blocked=(DRAWN,)))
    for _ in range(again):
        merged = merge(merged, garment(piece()))
    assert merged.pieces[0].blocked == (DRAWN,)
    assert len(merged.pieces) == 1

"""Edits of a garment as plain functions: what each changes, whose word it leaves, and what can't be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from salvage.cloth.garment import (
    Blocked,
    BlockedKind,
    Cleared,
    FoundBy,
    Garment,
    Piece,
    PiecePhoto,
)
from salvage.cloth.record import edits
from salvage.cloth.usable import usable
from salvage.errors import UsageError

SHOT = PiecePhoto("coat.jpg", 150.0)
SEAM = Blocked(BlockedKind.SEAM, LineString([(100, 0), (100, 400)]), 6.0)
STAIN = Blocked(BlockedKind.WORN, box(200, 200, 240, 240), 3.0)
BACK = Piece("back", box(0, 0, 300, 400), blocked=(SEAM, STAIN), photo=SHOT)
SIDE = Piece("side", box(304, 0, 400, 400), photo=SHOT, grain=10.0)
COAT = Garment("coat", (BACK, SIDE))
BOW = Polygon([(0, 0), (50, 50), (50, 0), (0, 50)])


def beside(piece: Piece) -> Garment:
    """The coat, and one piece more."""
    return replace(COAT, pieces=(*COAT.pieces, piece))


def test_fields_set_are_the_persons() -> None:
    piece = edits.set_fields(BACK, grain=450.0, fabric="canvas")
    assert (piece.grain, piece.fabric) == (90.0, "canvas")
    assert piece.by_person == ("grain", "fabric")


def test_a_drawn_stain_blocks_at_once_with_the_trades_margin() -> None:
    piece = edits.block(BACK, BlockedKind.WORN, box(20, 20, 60, 60), what="ink")
    assert piece.blocked[-1].found_by is FoundBy.PERSON
    assert piece.blocked[-1].margin == 3.0
    assert not usable(piece).intersects(box(18, 18, 62, 62))


def test_what_is_taken_out_is_remembered_if_it_was_found_and_not_drawn() -> None:
    assert edits.unblock(BACK, 0).cleared == (Cleared(SEAM.shape, BlockedKind.SEAM),)
    drawn = edits.block(BACK, BlockedKind.WORN, box(20, 20, 60, 60))
    assert edits.unblock(drawn, 2).cleared == ()


def test_a_redrawn_seam_is_the_persons_and_the_old_one_doesnt_come_back() -> None:
    line = LineString([(120, 0), (120, 400)])
    piece = edits.change_blocked(BACK, 0, shape=line)
    assert piece.blocked[0].found_by is FoundBy.PERSON
    assert piece.cleared == (Cleared(SEAM.shape, BlockedKind.SEAM),)
    named = edits.change_blocked(BACK, 0, what="the real one")
    assert (named.blocked[0].what, named.cleared) == ("the real one", ())
    hem = edits.change_blocked(BACK, 1, kind=BlockedKind.HEM)
    assert hem.blocked[1].margin == 6.0


def test_a_sound_patch_frees_a_stain_and_a_part_of_one_but_cuts_no_seam() -> None:
    assert edits.clear(BACK, box(190, 190, 250, 250)).blocked == (SEAM,)
    part = edits.clear(BACK, box(220, 190, 250, 250)).blocked
    assert part[1].shape.equals(box(200, 200, 220, 240))
    assert edits.clear(BACK, box(90, 100, 110, 200)).blocked == (SEAM, STAIN)


def test_a_drawn_outline_remembers_what_was_found() -> None:
    piece = edits.draw_outline(edits.draw_outline(BACK, box(0, 0, 200, 300)), box(0, 0, 100, 100))
    assert piece.outline.equals(box(0, 0, 100, 100))
    assert piece.found is not None
    assert piece.found.equals(BACK.outline)


def test_usable_cloth_drawn_is_cut_by_what_is_blocked() -> None:
    piece = edits.draw_usable(BACK, box(150, 150, 260, 260))
    assert usable(piece).area == pytest.approx(110 * 110 - 46 * 46, rel=0.01)
    assert edits.draw_usable(piece, None).usable is None
    assert usable(edits.draw_usable(BACK, MultiPolygon())).is_empty


def test_a_piece_is_split_along_a_seam_and_joined_again() -> None:
    parted = edits.split_piece(COAT, 0, LineString([(-5, 100), (305, 100)]))
    assert [each.name for each in parted.pieces] == ["back", "back 2", "side"]
    assert [each.outline.area for each in parted.pieces[:2]] == [300 * 300, 300 * 100]
    assert all(each.blocked[-1].kind is BlockedKind.SEAM for each in parted.pieces[:2])
    assert STAIN not in parted.pieces[1].blocked
    joined = edits.join_pieces(parted, 0, 1)
    assert [each.name for each in joined.pieces] == ["back", "side"]
    assert joined.pieces[0].outline.equals(BACK.outline)
    assert len(joined.pieces[0].blocked) == 3


def test_pieces_joined_across_a_seam_are_one_with_the_first_ones_grain() -> None:
    joined = edits.join_pieces(COAT, 1, 0)
    assert [(each.name, each.grain) for each in joined.pieces] == [("side", 10.0)]
    assert joined.pieces[0].outline.area == pytest.approx(400 * 400)


def test_a_piece_taken_out_can_be_put_back_as_it_was() -> None:
    gone = edits.remove_piece(COAT, 0)
    assert [each.name for each in gone.pieces] == ["side"]
    assert edits.put_back(gone, 0).pieces == (SIDE, BACK)


def test_sentences_are_taken_out() -> None:
    coat = replace(COAT, warnings=("smells",), said=("smells",))
    assert edits.take_out_sentence(coat, "smells").unsaid == ()
    told = Garment("coat", COAT.pieces, cautions=("Mind the pin.",))
    assert edits.take_out_sentence(told, "Mind the pin.").unsaid == ("Mind the pin.",)


@pytest.mark.parametrize(
    ("says", "edit"),
    [
        ("can't be set", lambda: edits.set_fields(BACK, outline=BOW)),
        ("whole number", lambda: edits.set_fields(BACK, layers=0)),
        ("degrees", lambda: edits.set_fields(BACK, grain=float("nan"))),
        ("negative", lambda: edits.block(BACK, BlockedKind.WORN, box(0, 0, 9, 9), margin=-1.0)),
        ("empty", lambda: edits.block(BACK, BlockedKind.WORN, Polygon())),
        ("crosses itself", lambda: edits.draw_outline(BACK, BOW)),
        ("crosses itself", lambda: edits.clear(BACK, BOW)),
        ("no such area", lambda: edits.unblock(BACK, 7)),
        ("no such piece", lambda: edits.rename(COAT, 9, "x")),
        ("already", lambda: edits.rename(COAT, 0, "side")),
        ("needs a name", lambda: edits.rename(COAT, 0, " ")),
        ("right across", lambda: edits.split_piece(COAT, 0, LineString([(10, 10), (50, 50)]))),
        ("itself", lambda: edits.join_pieces(COAT, 0, 0)),
        ("apart", lambda: edits.join_pieces(
            beside(Piece("far", box(900, 0, 950, 50), photo=SHOT)), 0, 2)),
        ("two photographs", lambda: edits.join_pieces(
            beside(Piece("typed", box(300, 0, 350, 50))), 0, 2)),
        ("only piece", lambda: edits.remove_piece(Garment("coat", (BACK,)), 0)),
        ("taken out", lambda: edits.put_back(COAT, 0)),
    ],
)  # fmt: skip
def test_an_edit_that_can_not_be_says_why(says: str, edit: Callable[[], object]) -> None:
    with pytest.raises(UsageError, match=says):
        edit()

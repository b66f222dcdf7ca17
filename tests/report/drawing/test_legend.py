"""The strip below a marked picture says what is drawn in it, and nothing that isn't."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from collected import Collected

from salvage.cloth.garment import BlockedKind, Garment
from salvage.photo.photo import Photo
from salvage.report.drawing import legend
from salvage.report.drawing.ground import ground
from salvage.report.drawing.legend import count_squares, draw_strip, found_notes, legend_entries, strip_height
from salvage.scale.known import KnownLength
from salvage.scale.square import Square
from salvage.units import Unit

STILL = Photo(Path("back.jpg"), np.full((300, 400, 3), 120, np.uint8))
LENGTH = KnownLength((0.0, 0.0), (300.0, 0.0), 600.0)


def test_only_kinds_that_are_there_are_explained(coat: Garment) -> None:
    pieces = coat.pieces
    kinds = {each.kind for piece in pieces for each in piece.blocked}
    entries = legend_entries(pieces, True, False)
    assert {each for each in entries if each in list(BlockedKind)} - {"seam"} == {str(k) for k in kinds} - {
        "seam",
        "hem",
    }
    assert ("seam" in entries) == bool(kinds & {BlockedKind.SEAM, BlockedKind.HEM})
    bare = [replace(piece, blocked=()) for piece in pieces]
    assert legend_entries(bare, False, True) == ["outline", "usable", "grain", "doubt"]
    assert legend_entries([], True, False) == ["outline", "usable", "square"]
    # what is asked about is drawn in the squares' yellow: a line of its own says which is which
    assert legend_entries([], True, False, has_questions=True) == ["outline", "usable", "square", "asked"]


def test_a_hem_alone_is_a_seam_or_hem(coat: Garment) -> None:
    hem = replace(coat.pieces[0].blocked[1], kind=BlockedKind.HEM)
    assert "seam" in legend_entries([replace(coat.pieces[0], blocked=(hem,))], False, False)


def test_squares_are_counted_with_their_sides(square: Square) -> None:
    assert count_squares([], Unit.MM) == "no reference square found"
    assert count_squares([square], Unit.MM) == "1 reference found, side 150 mm"
    other = replace(square, width=100.0, length=100.0)
    assert count_squares([square, other, square], Unit.CM) == "3 references found, side 10 cm and 15 cm"
    assert count_squares([square], Unit.MM, scaled=False) == "1 reference found, side not told"
    assert "2 known lengths" in count_squares([], Unit.MM, known=(LENGTH, LENGTH))
    assert "1 reference" in count_squares([square], Unit.MM, known=(LENGTH,))


def test_notes_say_how_large_and_how_sure(coat: Garment, square: Square) -> None:
    first, sizes = found_notes(STILL, coat, coat.pieces, [square], Unit.MM)
    assert all(each in first for each in ("work coat", "back.jpg", "150 mm"))
    assert sizes.startswith("2 pieces, ")
    assert "0.4 %" in sizes  # the larger of its pieces' plus-minus
    assert "(95 %)" in sizes
    twice = replace(coat, pieces=(replace(coat.pieces[1], layers=2),))
    assert found_notes(STILL, twice, twice.pieces, [square], Unit.MM)[1].startswith("1 piece, 1,560 cm²")
    assert "150 mm" in found_notes(STILL, coat, coat.pieces, [], Unit.MM)[0]  # as the record has it
    reduced = replace(STILL, reduced_by=2.5)
    assert (
        "multiply pixels read off here by 2.5"
        in found_notes(reduced, coat, coat.pieces, [square], Unit.MM)[2]
    )


@pytest.mark.parametrize("most_px", [300, 1600])
def test_all_of_it_stands_in_the_strip(coat: Garment, square: Square, most_px: int) -> None:
    base = ground(Photo(Path("back.jpg"), np.full((900, 1200, 3), 120, np.uint8)), most_px)
    notes = found_notes(STILL, coat, coat.pieces, [square], Unit.MM)
    entries = legend_entries(coat.pieces, True, True, has_questions=True)
    high = strip_height(base, notes, entries)
    wide = base.width * 72 * legend.ACROSS_INCHES / max(base.width, base.height)
    pen = Collected()
    draw_strip(pen.page(), base, notes, entries)
    said = " ".join(each.text for each in pen.words)
    for each in (*notes, *(legend._LEGEND[entry] for entry in entries)):
        assert each in said
    assert all(0 < each.y < high for each in pen.words)
    assert all(0 <= each.x < wide for each in pen.words)

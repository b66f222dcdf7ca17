"""What a person changes in a record with a text editor counts at once and outlives a new measurement."""

from __future__ import annotations

import json
from typing import Any

import pytest
from shapely.geometry import LineString, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Cleared, FoundBy, Garment, Piece, PiecePhoto
from salvage.cloth.record.anew.merge import merge
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.cloth.usable import usable
from salvage.errors import SalvageError

SEAM = Blocked(BlockedKind.SEAM, LineString([(100, 0), (100, 400)]), 6.0, what="seam")
STAIN = Blocked(BlockedKind.WORN, box(200, 200, 240, 240), 3.0)


def photographed() -> Garment:
    piece = Piece("piece 1", box(0, 0, 300, 400), blocked=(SEAM, STAIN), photo=PiecePhoto("coat.jpg", 150.0))
    return Garment("coat", (piece,))


def edited(change: dict[str, Any] | None = None, **fields: Any) -> Garment:
    """The photographed garment, written, changed as in a text editor, and read again."""
    data = json.loads(garment_to_json(photographed()))
    data["pieces"][0] |= {**(change or {}), **fields}
    return garment_from_json(json.dumps(data))


def blocked_data() -> list[Any]:
    return json.loads(garment_to_json(photographed()))["pieces"][0]["blocked"]


def rectangle(x: float, y: float, size: float) -> dict[str, Any]:
    ring = [[x, y], [x + size, y], [x + size, y + size], [x, y + size], [x, y]]
    return {"type": "Polygon", "coordinates": [ring]}


def test_what_nobody_changed_is_nobodys() -> None:
    piece = edited().pieces[0]
    assert piece.by_person == ()
    assert piece.cleared == ()
    assert [each.found_by for each in piece.blocked] == [FoundBy.PHOTO, FoundBy.PHOTO]
    assert usable(piece).area == pytest.approx(usable(photographed().pieces[0]).area, abs=1.0)


def test_numbers_written_another_way_are_no_change() -> None:
    text = garment_to_json(photographed()).replace("300.0", "300").replace("6.0", "6.00")
    assert garment_from_json(text).pieces[0].by_person == ()


def test_a_stain_that_was_typed_in_is_not_cut_from() -> None:
    blot = {"kind": "worn", "shape": rectangle(20, 20, 60)}
    piece = edited(blocked=[*blocked_data(), blot]).pieces[0]
    assert not usable(piece).intersects(box(20, 20, 80, 80))
    assert piece.blocked[-1].found_by is FoundBy.PERSON


def test_name_grain_and_nap_set_by_hand_outlive_a_new_measurement() -> None:
    old = edited(name="wearer's left front", grain=80.0, one_way=True, fabric="canvas")
    once = merge(old, photographed())
    again = merge(garment_from_json(garment_to_json(once)), photographed()).pieces[0]
    assert (again.name, again.grain, again.one_way, again.fabric) == (
        "wearer's left front", 80.0, True, "canvas",
    )  # fmt: skip


def test_a_seam_that_was_taken_out_is_cloth_and_stays_out() -> None:
    old = edited(blocked=blocked_data()[1:])
    over_the_seam = box(90, 50, 110, 350)
    assert usable(old.pieces[0]).covers(over_the_seam)
    once = merge(old, photographed())
    again = merge(garment_from_json(garment_to_json(once)), photographed())
    for garment in (once, again):
        assert usable(garment.pieces[0]).covers(over_the_seam)
        assert [each.kind for each in garment.pieces[0].blocked] == [BlockedKind.WORN]
        assert len(garment.pieces[0].cleared) == 1


def test_a_stain_that_was_moved_is_the_persons() -> None:
    seam, stain = blocked_data()
    stain["shape"] = rectangle(20, 300, 40)
    again = merge(edited(blocked=[seam, stain]), photographed()).pieces[0]
    worn = [each for each in again.blocked if each.kind is BlockedKind.WORN]
    assert [each.found_by for each in worn] == [FoundBy.PERSON]
    assert worn[0].shape.bounds == (20, 300, 60, 340)


def test_an_outline_drawn_again_outlives_a_new_measurement() -> None:
    outline = {"type": "Polygon", "coordinates": [[[0, 0], [290, 0], [290, 390], [0, 390], [0, 0]]]}
    old = edited(outline=outline)
    assert usable(old.pieces[0]).bounds[2] <= 290
    assert merge(old, photographed()).pieces[0].outline.bounds == (0, 0, 290, 390)


def test_usable_cloth_drawn_by_hand_is_kept_but_never_over_a_stain() -> None:
    drawn = {
        "type": "MultiPolygon",
        "coordinates": [[[[150, 150], [260, 150], [260, 260], [150, 260], [150, 150]]]],
    }
    piece = edited(usable=drawn).pieces[0]
    assert usable(piece).bounds == pytest.approx((150, 150, 260, 260), abs=0.1)
    assert not usable(piece).intersects(STAIN.shape)


def test_cloth_cleared_over_two_pieces_is_recorded_once_with_each() -> None:
    photo = PiecePhoto("coat.jpg", 150.0)
    over_both = Cleared(Polygon([(290, 100), (310, 100), (310, 200), (290, 200)]), patch=True)
    pieces = tuple(
        Piece(f"piece {n}", box(300 * n, 0, 300 * n + 300, 400), photo=photo, cleared=(over_both,))
        for n in (0, 1)
    )
    fresh = Garment("coat", tuple(Piece(p.name, p.outline, photo=photo) for p in pieces))
    merged = merge(merge(Garment("coat", pieces), fresh), fresh)
    assert [len(piece.cleared) for piece in merged.pieces] == [1, 1]


def test_a_spoilt_note_of_the_program_says_what_to_do() -> None:
    with pytest.raises(SalvageError, match='Take "written" out'):
        edited(written={"blocked": [3]})

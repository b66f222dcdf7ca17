"""What a person changed in a record's text is told from what the program wrote there, field by field."""

from __future__ import annotations

import json
from copy import deepcopy
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, box, mapping

from salvage.cloth.garment import Blocked, BlockedKind, FoundBy, Garment, Piece, PiecePhoto
from salvage.cloth.record.anew import by_hand
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.cloth.usable import usable

PHOTO = PiecePhoto("coat.jpg", 150.0)
SEAM = Blocked(BlockedKind.SEAM, LineString([(100, 0), (100, 400)]), 6.0, what="seam")
STAIN = Blocked(BlockedKind.WORN, box(200, 200, 240, 240), 3.0, confidence=0.7)
DRAWN = Blocked(BlockedKind.POCKET, box(20, 20, 60, 80), 3.0, FoundBy.PERSON, "pocket")
BACK = Piece("back", box(0, 0, 300, 400), blocked=(SEAM, STAIN, DRAWN), photo=PHOTO)
CUFF = Piece("cuff", box(400, 0, 500, 60), photo=PHOTO)
COAT = Garment("coat", (BACK, CUFF), "denim", ("Feel for glue.",), ("coat.jpg: the square is small.",))


def data_of(garment: Garment = COAT) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(garment_to_json(garment))
    return data


def read(data: dict[str, Any]) -> Garment:
    return garment_from_json(json.dumps(data))


def note(piece: dict[str, Any]) -> dict[str, Any]:
    """The note that stands with a piece."""
    found: dict[str, Any] = piece["written"]
    return found


# --- a piece -------------------------------------------------------------------------------------


def test_a_record_that_nobody_changed_is_nobodys_after_any_number_of_readings() -> None:
    once = read(data_of())
    assert [each.by_person for each in once.pieces] == [(), ()]
    assert [each.found_by for each in once.pieces[0].blocked] == [
        FoundBy.PHOTO,
        FoundBy.PHOTO,
        FoundBy.PERSON,
    ]
    assert (once.said, once.unsaid, once.removed, once.by_person) == ((), (), (), ())
    assert data_of(once) == data_of()


@pytest.mark.parametrize(
    ("name", "value"),
    [("name", "yoke"), ("fabric", "lining"), ("layers", 2), ("grain", 80.0), ("one_way", True)],
)
def test_one_field_changed_is_the_persons_and_no_other(name: str, value: Any) -> None:
    data = data_of()
    data["pieces"][0][name] = value
    piece = read(data).pieces[0]
    assert getattr(piece, name) == value
    assert piece.by_person == (name,)
    assert read(data_of(read(data))).pieces[0].by_person == (name,)  # and stays so when it is written again


@pytest.mark.parametrize(("by", "changed"), [(0.0004, False), (0.01, True)])
def test_a_number_is_another_from_a_thousandth_on(by: float, changed: bool) -> None:
    data = data_of()
    data["pieces"][0]["grain"] += by
    assert ("grain" in read(data).pieces[0].by_person) is changed
    data = data_of()
    data["pieces"][0]["outline"]["coordinates"][0][0][0] -= by
    assert ("outline" in read(data).pieces[0].by_person) is changed


def test_an_outline_changed_remembers_what_the_photograph_had() -> None:
    data = data_of()
    data["pieces"][0]["outline"] = mapping(box(0, 0, 280, 390))
    piece = read(data).pieces[0]
    assert piece.by_person == ("outline",)
    assert piece.found is not None
    assert piece.found.equals(BACK.outline)
    again = read(data_of(read(data))).pieces[0]  # written by the program, and still the person's
    assert again.found is not None
    assert again.found.symmetric_difference(BACK.outline).area < 1
    assert again.outline.equals(piece.outline)


def test_a_find_taken_out_is_remembered_with_its_kind_where_it_was() -> None:
    data = data_of()
    del data["pieces"][0]["blocked"][1]
    piece = read(data).pieces[0]
    ((sound,),) = [piece.cleared]
    assert (sound.kind, sound.patch) == (BlockedKind.WORN, False)
    assert sound.shape.symmetric_difference(STAIN.shape).area < 1
    assert [each.found_by for each in piece.blocked] == [FoundBy.PHOTO, FoundBy.PERSON]


def test_a_drawn_area_taken_out_is_forgotten() -> None:
    data = data_of()
    del data["pieces"][0]["blocked"][2]
    piece = read(data).pieces[0]
    assert piece.cleared == ()
    assert piece.blocked == read(data_of()).pieces[0].blocked[:2]


@pytest.mark.parametrize(
    ("change", "remembered"),
    [
        ({"margin": 9.0}, 0),  # where it was: only something else about it was changed
        ({"what": "ink"}, 0),
        ({"confidence": 1.0}, 0),
        ({"shape": mapping(box(20, 300, 60, 340))}, 1),  # moved: there is sound cloth where it was
        ({"kind": "other"}, 1),
    ],
)
def test_a_find_changed_is_the_persons(change: dict[str, Any], remembered: int) -> None:
    data = data_of()
    data["pieces"][0]["blocked"][1] |= change
    piece = read(data).pieces[0]
    assert [each.found_by for each in piece.blocked] == [FoundBy.PHOTO, FoundBy.PERSON, FoundBy.PERSON]
    assert len(piece.cleared) == remembered


def test_a_number_given_to_a_find_is_no_change_of_it() -> None:
    data = data_of()
    for k, each in enumerate(data["pieces"][0]["blocked"]):
        each["mark"] = 70 + k
    assert read(data).pieces[0].blocked[0].found_by is FoundBy.PHOTO
    assert read(data).pieces[0].cleared == ()


def test_usable_cloth_drawn_is_told_from_what_was_worked_out() -> None:
    assert read(data_of()).pieces[0].usable is None
    data = data_of()
    data["pieces"][0]["usable"] = mapping(MultiPolygon([box(150, 20, 190, 380)]))
    drawn = read(data)
    assert drawn.pieces[0].usable is not None
    assert drawn.pieces[0].usable.area == pytest.approx(40 * 360)
    again = read(data_of(drawn))  # what was drawn is kept though the program wrote it
    assert again.pieces[0].usable is not None
    assert again.pieces[0].usable.area == pytest.approx(40 * 360)


def test_a_piece_whose_note_is_gone_is_all_the_persons() -> None:
    data = data_of()
    del data["pieces"][0]["written"]
    back, cuff = read(data).pieces
    assert set(back.by_person) >= {"name", "fabric", "grain", "outline"}
    assert {each.found_by for each in back.blocked} == {FoundBy.PERSON}
    assert back.usable is not None
    assert back.usable.symmetric_difference(usable(BACK)).area < 5
    assert cuff.by_person == ()


@settings(max_examples=20)
@given(
    st.lists(
        st.tuples(
            st.integers(0, 250),
            st.integers(0, 350),
            st.integers(8, 40),
            st.sampled_from(["worn", "other", "pocket"]),
        ),
        max_size=4,
    ),
    st.sets(st.integers(0, 1)),
)
def test_whatever_is_typed_in_blocks_and_whatever_is_deleted_is_remembered(
    typed: list[tuple[int, int, int, str]], deleted: set[int]
) -> None:
    data = data_of()
    there = data["pieces"][0]["blocked"]
    kept = [each for k, each in enumerate(there) if k not in deleted]
    new = [{"kind": kind, "shape": mapping(box(x, y, x + s, y + s))} for x, y, s, kind in typed]
    data["pieces"][0]["blocked"] = [*kept, *new]
    piece = read(data).pieces[0]
    assert [each.found_by for each in piece.blocked[len(kept) :]] == [FoundBy.PERSON] * len(new)
    for x, y, s, _ in typed:
        assert usable(piece).intersection(box(x, y, x + s, y + s)).area < 1e-6
    for k in deleted:
        gone = (SEAM, STAIN)[k].shape
        assert any(each.shape.buffer(0.2).covers(gone) for each in piece.cleared)
    assert len(piece.cleared) == len(deleted)
    again = read(data_of(replace(COAT, pieces=(piece, CUFF)))).pieces[0]
    assert [each.found_by for each in again.blocked] == [each.found_by for each in piece.blocked]
    assert len(again.cleared) == len(piece.cleared)


# --- the garment ---------------------------------------------------------------------------------


def test_a_piece_deleted_is_remembered_as_taken_out() -> None:
    data = data_of()
    del data["pieces"][1]
    garment = read(data)
    ((gone,),) = [garment.removed]
    assert (gone.name, gone.photo) == ("cuff", PHOTO)
    assert gone.outline.symmetric_difference(CUFF.outline).area < 1
    assert len(read(data_of(garment)).removed) == 1


def test_pieces_in_another_order_are_still_those() -> None:
    data = data_of()
    data["pieces"].reverse()
    garment = read(data)
    assert garment.removed == ()
    assert [each.by_person for each in garment.pieces] == [(), ()]


@pytest.mark.parametrize(
    ("piece", "removed"),
    [
        ({"name": "cuff", "outline": mapping(box(900, 0, 960, 60))}, 0),  # by its name
        ({"name": "mine", "outline": mapping(box(402, 0, 502, 60))}, 0),  # by its place
        ({"name": "mine", "outline": mapping(box(470, 0, 600, 60))}, 1),  # another one, that only touches it
    ],
)
def test_a_piece_retyped_without_its_note_is_not_taken_out_too(piece: dict[str, Any], removed: int) -> None:
    data = data_of()
    data["pieces"][1] = piece | {"photo": data["pieces"][1]["photo"]}
    assert len(read(data).removed) == removed


def test_sentences_and_the_kind_that_a_person_changed() -> None:
    data = data_of()
    data["cautions"] = ["Mind the pin."]
    data["warnings"].append("The left cuff is wet.")
    data["kind"] = "canvas"
    garment = read(data)
    assert set(garment.said) == {"Mind the pin.", "The left cuff is wet."}
    assert garment.unsaid == ("Feel for glue.",)
    assert (garment.kind, garment.by_person) == ("canvas", ("kind",))
    again = read(data_of(garment))
    assert (set(again.said), again.unsaid, again.by_person) == (set(garment.said), garment.unsaid, ("kind",))


def test_a_garment_whose_note_is_gone_keeps_its_sentences_as_the_persons_but_those_of_photographs() -> None:
    data = data_of()
    del data["written"]
    garment = read(data)
    assert garment.said == ("Feel for glue.",)
    assert garment.by_person == ("kind",)
    assert not garment.all_known


def test_photographs_are_each_named_once_and_notes_point_at_their_own() -> None:
    other = PiecePhoto("in.jpg", 100.0)
    garment = replace(
        COAT, pieces=(BACK, replace(CUFF, photo=other), replace(CUFF, name="b"), Piece("typed", BACK.outline))
    )
    assert by_hand.photographs(garment) == [PHOTO, other]
    told = by_hand.garment_written(garment, [{}, {}])
    assert [(each["name"], each["photo"]) for each in told["pieces"]] == [("back", 0), ("cuff", 1), ("b", 0)]


def test_a_note_tells_nothing_of_what_a_person_drew() -> None:
    piece = data_of()["pieces"][0]
    assert [each["kind"] for each in note(piece)["blocked"]] == ["seam", "worn"]
    mine = replace(BACK, by_person=("outline",), found=box(0, 0, 310, 400))
    told = by_hand.written(mine, deepcopy(piece), 4)
    assert told["piece"] == 4
    assert told["found"]["coordinates"] == [
        [[310.0, 0.0], [310.0, 400.0], [0.0, 400.0], [0.0, 0.0], [310.0, 0.0]]
    ]

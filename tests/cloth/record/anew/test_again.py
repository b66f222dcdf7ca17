"""A new measurement put into a record: what a person drew or answered stays, whatever was found."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import box

from salvage.cloth.garment import Blocked, BlockedKind, FoundBy, Garment, Piece, PiecePhoto, Question, Reply
from salvage.cloth.record.anew.again import measured_again, with_photo_paths
from salvage.cloth.usable import usable

CONTENT = "c0ffee"
STAIN = Blocked(BlockedKind.WORN, box(200, 200, 260, 260), 3.0, what="stain", id="coat.jpg 1", confidence=0.5)
ASKED = Question(1, "Is this a stain?", STAIN.id, STAIN.shape, "coat.jpg", 9e4)


def found(by: float = 0.0, *more: Blocked) -> Garment:
    photo = PiecePhoto("coat.jpg", 150.0, content=CONTENT)
    stain = replace(STAIN, shape=affinity.translate(STAIN.shape, by, by))
    piece = Piece(
        "piece 1", affinity.translate(box(0, 0, 400, 500), by, 0), blocked=(stain, *more), photo=photo
    )
    return Garment("coat", (piece,), "woven", questions=(replace(ASKED, shape=stain.shape),))


def test_the_first_measurement_is_the_record() -> None:
    garment, merged = measured_again(None, found(), Path())
    assert garment == merged.garment == found()


@settings(max_examples=20)
@given(
    st.floats(-3, 3),
    st.lists(
        st.tuples(
            st.integers(20, 330),
            st.integers(20, 430),
            st.integers(10, 40),
            st.sampled_from(["pocket", "worn", "other"]),
        ),
        max_size=4,
    ),
)
def test_all_that_a_person_drew_blocks_after_any_new_measurement(
    by: float, drawn: list[tuple[int, int, int, str]]
) -> None:
    mine = tuple(
        Blocked(BlockedKind(kind), box(x, y, x + s, y + s), 3.0, FoundBy.PERSON, f"mine {n}")
        for n, (x, y, s, kind) in enumerate(drawn)
    )
    old = found()
    old = replace(
        old, pieces=(replace(old.pieces[0], name="back", by_person=("name",), blocked=(STAIN, *mine)),)
    )
    garment, _ = measured_again(old, found(by), Path())
    (piece,) = garment.pieces
    assert piece.name == "back"
    assert [each for each in piece.blocked if each.found_by is FoundBy.PERSON] == list(mine)
    for each in mine:
        assert usable(piece).intersection(each.shape.buffer(2.9)).area < 1e-6


def test_an_answer_given_holds_for_the_thing_where_it_is_found_again() -> None:
    for reply, there in ((Reply.YES, True), (Reply.NO, False)):
        old = replace(found(), questions=(replace(ASKED, answer=reply),))
        garment, _ = measured_again(old, found(2.0), Path())
        assert any(each.what == "stain" for each in garment.pieces[0].blocked) is there
        assert [each.answer for each in garment.questions] == [reply]


def test_what_was_told_beside_the_photograph_goes_before_the_record() -> None:
    old = replace(found(), kind="denim", by_person=("kind",))
    new = replace(found(), kind="canvas")
    assert measured_again(old, new, Path())[0].kind == "denim"
    assert measured_again(old, new, Path(), told=["kind"])[0].kind == "canvas"


def test_an_old_record_without_contents_is_known_by_the_file_beside_it(tmp_path: Path) -> None:
    (tmp_path / "coat.jpg").write_bytes(b"a photograph")
    content = hashlib.sha256(b"a photograph").hexdigest()
    mine = Blocked(BlockedKind.POCKET, box(20, 20, 60, 60), 3.0, FoundBy.PERSON)
    bare = PiecePhoto("coat.jpg", 150.0)
    old = replace(found(), pieces=(replace(found().pieces[0], photo=bare, blocked=(mine,)),))
    seen = found()
    elsewhere = PiecePhoto("photos/renamed.jpg", 150.0, content=content)
    seen = replace(seen, pieces=(replace(seen.pieces[0], photo=elsewhere),))
    garment, _ = measured_again(old, seen, tmp_path)
    assert len(garment.pieces) == 1  # the same cloth, once
    assert mine in garment.pieces[0].blocked
    assert garment.pieces[0].photo == elsewhere


def test_photographs_are_named_as_seen_from_the_record(tmp_path: Path) -> None:
    photo = tmp_path / "photos" / "coat.jpg"
    records = tmp_path / "kept" / "records"
    named = with_photo_paths(found(), [photo], records)
    (piece,) = named.pieces
    assert piece.photo is not None
    assert piece.photo.file == named.questions[0].photo == "../../photos/coat.jpg"
    assert (records / piece.photo.file).resolve() == photo.resolve()
    typed = Garment("scraps", (Piece("a", box(0, 0, 9, 9)),))
    assert with_photo_paths(typed, [], records) == typed

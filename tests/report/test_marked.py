"""Where the marked pictures of a record go."""

from __future__ import annotations

from pathlib import Path

from shapely.geometry import box

from salvage.cloth.garment import Garment, Piece, PiecePhoto
from salvage.report.marked import files_of, marked_beside


def test_one_photograph_needs_no_name_of_its_own_and_several_do() -> None:
    record = Path("rail") / "coat.json"
    assert marked_beside(record, ["back.jpg"]) == [Path("rail") / "coat-marked.jpg"]
    both = [Path("rail") / "coat-back-marked.jpg", Path("rail") / "coat-front-marked.jpg"]
    assert marked_beside(record, ["shots/back.jpg", "front.jpg"]) == both


def test_photographs_that_differ_in_their_ending_alone_have_pictures_of_their_own() -> None:
    found = marked_beside(Path("coat.json"), ["a.jpg", "a.png", "other/a.jpg"])
    assert [each.name for each in found] == [
        "coat-a-marked.jpg",
        "coat-a-2-marked.jpg",
        "coat-a-3-marked.jpg",
    ]


def test_each_photograph_counts_once() -> None:
    shots = [
        PiecePhoto("back.jpg", 150.0),
        PiecePhoto("front.jpg", 150.0),
        PiecePhoto("back.jpg", 150.0),
        None,
    ]
    pieces = tuple(Piece(str(k), box(0, 0, 9, 9), photo=shot) for k, shot in enumerate(shots))
    assert files_of(Garment("coat", pieces)) == ["back.jpg", "front.jpg"]

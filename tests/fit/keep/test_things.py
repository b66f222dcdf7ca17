"""What of a garment a panel may be cut round, and how much cloth is freed by it: that thing's, and no other's."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import LineString, Point, box
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, BlockedKind, FoundBy, Garment, Piece
from salvage.fit.keep.things import Thing, is_called, things_for
from salvage.project.project import Around, Edge, Panel

OUTLINE = ((0.0, 0.0), (200.0, 0.0), (200.0, 200.0), (0.0, 200.0))
BAG = Panel("bag", OUTLINE, around=Around("pocket", (100.0, 100.0), 20.0))
POCKET = Blocked(BlockedKind.POCKET, box(140, 200, 260, 330), 3.0, what="Patch pocket", number=4)
STAIN = Blocked(BlockedKind.WORN, Point(150, 210).buffer(8), 3.0)
BUTTON = Blocked(BlockedKind.CLOSURE, box(190, 310, 205, 325), 3.0)
SEAM = Blocked(BlockedKind.SEAM, LineString([(200, 0), (200, 500)]), 6.0)


def front(*blocked: Blocked) -> Piece:
    return Piece("left front", box(0, 0, 400, 500), blocked=blocked)


def found(*pieces: Piece, panel: Panel = BAG) -> tuple[Thing, ...]:
    return things_for([Garment("coat", pieces)], panel)


def freed(thing: Thing, shape: BaseGeometry) -> bool:
    return thing.ground.buffer(0.01).covers(shape)


@pytest.mark.parametrize("word", ["pocket", "patch", " PATCH pocket", "4"])
def test_a_thing_by_its_kind_a_word_or_its_number(word: str) -> None:
    assert is_called(POCKET, word)


@pytest.mark.parametrize("word", ["welt pocket", "zip", "14", "seam"])
def test_what_it_is_not_called(word: str) -> None:
    assert not is_called(POCKET, word)


def test_a_zip_without_a_name_is_a_closure() -> None:
    assert is_called(BUTTON, "zip")
    assert not is_called(replace(BUTTON, what="snap"), "zip")


def test_the_cloth_under_a_pocket_and_its_margin_is_freed() -> None:
    (thing,) = found(front(POCKET))
    assert thing.name == "Patch pocket"
    assert freed(thing, POCKET.shape.buffer(3.0))
    assert thing.ground.area == pytest.approx(400 * 500, abs=1.0)


def test_a_stain_on_the_pocket_goes_with_it_where_it_lies_whole_on_it() -> None:
    (thing,) = found(front(POCKET, BUTTON))
    assert freed(thing, BUTTON.shape)


def test_what_reaches_beyond_the_pocket_stays_blocked() -> None:
    large = replace(STAIN, shape=Point(142, 215).buffer(12))
    assert found(front(POCKET, large)) == ()  # the pocket isn't whole on sound cloth any more


def test_what_lies_beside_stays_blocked() -> None:
    aside = replace(STAIN, shape=Point(300, 260).buffer(8))
    (thing,) = found(front(POCKET, aside))
    assert not thing.ground.intersects(aside.shape.buffer(2.9))


def test_a_pocket_over_a_seam_is_no_thing_to_keep() -> None:
    assert found(front(POCKET, SEAM)) == ()


def test_a_pocket_that_goes_on_on_another_piece_is_not_whole() -> None:
    half = replace(POCKET, id="p1")
    other = replace(half, shape=box(0, 200, 40, 330))
    little = replace(half, shape=box(0, 200, 4, 330))
    back = Piece("back", box(0, 0, 400, 500))
    assert found(front(half), replace(back, blocked=(other,))) == ()
    assert [each.piece.name for each in found(front(half), replace(back, blocked=(little,)))] == [
        "left front"
    ]


@pytest.mark.parametrize(
    ("panel", "count"),
    [
        ({}, 1),
        ({"fabric": "Lining"}, 0),
        ({"fabric": " SHELL"}, 1),
        ({"pieces": ("Left Front",)}, 1),
        ({"pieces": ("back",)}, 0),
    ],
)
def test_only_pieces_that_the_panel_may_come_from(panel: dict[str, object], count: int) -> None:
    assert len(found(front(POCKET), panel=replace(BAG, **panel))) == count  # type: ignore[arg-type]


def test_the_surest_comes_first() -> None:
    doubtful = replace(POCKET, shape=box(20, 20, 120, 120), confidence=0.6, what="welt pocket")
    assert [each.name for each in found(front(doubtful, POCKET))] == ["Patch pocket", "welt pocket"]


def test_what_is_hardly_believed_is_kept_only_where_a_person_says_so_or_means_it_by_its_number() -> None:
    unseen = replace(POCKET, confidence=0.4, number=7)
    assert found(front(unseen)) == ()
    assert len(found(front(replace(unseen, found_by=FoundBy.PERSON)))) == 1
    assert len(found(front(unseen), panel=replace(BAG, around=Around("7")))) == 1


def test_of_a_hem_any_stretch_will_do() -> None:
    hem = Blocked(BlockedKind.HEM, box(0, 0, 400, 20), 6.0)
    flap = Panel("flap", OUTLINE, edge=Edge("hem", "bottom"))
    parts = found(front(hem, SEAM), panel=flap)
    assert len(parts) == 2
    assert not any(each.ground.intersects(SEAM.shape) for each in parts)

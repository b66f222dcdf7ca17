"""What an edit changed is said: every thing that came, went or is another now, by its number; and nothing else."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
import shapely
from desk_garments import COAT, PHOTO, px
from shapely.geometry import box

from salvage.cloth.garment import BlockedKind, Garment, Hints, Piece, Question, Reply
from salvage.desk.edit.actions import apply
from salvage.desk.edit.changes import changes, table
from salvage.units import Unit

RING = {"mm": [[50, 50], [90, 50], [90, 90], [50, 90]], "piece": 0}
SEAM, HEM, STAIN = 4, 5, 6


def told(*actions: dict[str, Any], garment: Garment = COAT, unit: Unit = Unit.MM) -> list[str]:
    after = garment
    for each in actions:
        after = apply(after, each)
    return changes(garment, after, unit)


def square_cm(line: str) -> list[float]:
    return [float(each.replace(",", "")) for each in re.findall(r"([\d,]+) cm²", line)]


def test_nothing_changed_is_nothing_said() -> None:
    assert changes(COAT, COAT, Unit.MM) == []


def sound(stain: bool, drawn: bool = False) -> float:
    """Usable cm² of the coat, by shapely alone; margins of the trade: 6 mm beside lines, 3 mm round the rest."""
    back = box(0, 0, 300, 400).difference(shapely.LineString([(300, 0), (300, 400)]).buffer(6))
    back = back.difference(shapely.LineString([(0, 8), (300, 8)]).buffer(6))
    back = back.difference(box(200, 200, 240, 240).buffer(3)) if stain else back
    back = back.difference(box(50, 50, 90, 90).buffer(3)) if drawn else back
    side = box(300, 0, 400, 400).difference(shapely.LineString([(300, 0), (300, 400)]).buffer(6))
    cuff = box(0, 450, 120, 500)
    return sum(float(each.area) for each in (back, side, cuff)) / 100


def test_a_find_taken_out_is_said_with_the_cloth_that_it_frees() -> None:
    gone, piece, usable = sorted(told({"do": "not", "mark": STAIN}), key=lambda line: line[0] != "6")
    assert gone == "6 stain (worn) on back: taken out"
    assert piece.startswith("1 back: ")
    assert square_cm(usable) == pytest.approx([sound(stain=False), sound(stain=True)], abs=1.0)
    assert usable.startswith("usable now: ")
    assert square_cm(usable)[0] - square_cm(usable)[1] == pytest.approx(
        square_cm(piece)[0] - square_cm(piece)[1], abs=1.0
    )


def test_cloth_in_two_layers_counts_twice() -> None:
    before = apply(COAT, {"do": "set", "piece": "cuff", "layers": 2})
    lines = told({"do": "set", "piece": "cuff", "layers": 1}, garment=before)
    assert lines[0] == "3 cuff: lies in one layer"
    now, was = square_cm(lines[1])
    assert was - now == pytest.approx(120 * 50 / 100, abs=1.0)


def test_what_is_drawn_is_new_and_after_an_undo_there_again_the_other_way_round() -> None:
    after = apply(COAT, {"do": "pocket", **RING})
    assert "7 pocket on back: new" in changes(COAT, after, Unit.MM)
    assert changes(after, COAT, Unit.MM)[0] == "7 pocket on back: taken out"
    without = apply(COAT, {"do": "not", "mark": STAIN})
    assert "6 stain (worn) on back: there again" in changes(without, COAT, Unit.MM)


@pytest.mark.parametrize(("by", "said"), [(0.9, False), (1.1, True)])
def test_what_moved_by_more_than_a_millimetre_is_redrawn(by: float, said: bool) -> None:
    before = apply(COAT, {"do": "other", **RING, "what": "badge"})
    moved = [[x + by, y] for x, y in RING["mm"]]  # type: ignore[attr-defined]
    lines = told({"do": "shape", "mark": 7, "mm": moved, "piece": 0}, garment=before)
    assert ("7 badge (other) on back: redrawn" in lines) == said


def test_another_kind_and_a_word_given_are_said() -> None:
    assert told({"do": "kind", "mark": STAIN, "kind": "other", "what": "badge"}) == [
        "6 stain (worn): is now badge (other)"
    ]
    assert told({"do": "kind", "mark": SEAM}) == ["4 seam on back, side: is your word now"]


def test_pieces_that_are_parted_and_joined_are_said_by_the_names_they_had() -> None:
    split = {"do": "split", "piece": "back", "mm": [[100, 0], [100, 400]], "seam": False}
    apart = apply(COAT, split)
    lines = changes(COAT, apart, Unit.MM)
    new = next(each for each in apart.pieces if each.name == "back 2")
    assert f"{new.number} piece back 2: parted from back" in lines
    together = changes(apart, COAT, Unit.MM)
    assert f"{new.number} piece back 2: hangs together with back now" in together
    assert told({"do": "remove", "piece": "cuff"})[0] == "3 piece cuff: taken out"


def test_a_piece_of_another_photograph_at_the_same_place_is_no_part_of_it() -> None:
    typed = replace(COAT, pieces=(*COAT.pieces, Piece("drawer", box(10, 10, 60, 60), number=7)))
    assert "7 piece drawer: there again" in changes(replace(COAT, numbers=7), typed, Unit.MM)


def test_each_field_of_a_piece_is_said_once() -> None:
    fields = {"name": "yoke", "fabric": "canvas", "layers": 2, "one_way": True, "grain": 45.0}
    lines = told({"do": "set", "piece": "cuff", **fields})
    assert lines[0] == (
        "3 cuff: is now called yoke; is of canvas; lies in 2 layers; is one-way; its grain runs at 45° (was 90°)"
    )
    assert square_cm(lines[-1]) == pytest.approx([sound(stain=True) + 60, sound(stain=True)], abs=1.0)


def test_the_garment_its_questions_and_hints_are_said() -> None:
    stain = Question(
        1, "Is this at the mark a stain?", "coat.jpg 1.3", COAT.pieces[0].blocked[2].shape, PHOTO
    )
    after = replace(
        COAT, name="uncle's", kind="denim", hints=(Hints(PHOTO, (((1, 2),),)),), questions=(stain,)
    )
    named, cloth, asks, hints = changes(COAT, after, Unit.MM)
    assert named.endswith("called uncle's")
    assert cloth.endswith("denim")
    assert asks == "Q1 is asked: Is this at mark 6 a stain?"
    assert "hints" in hints
    yes = replace(after, questions=(replace(stain, answer=Reply.YES),))
    assert changes(after, yes, Unit.MM) == ["Q1: answered yes"]
    assert changes(yes, after, Unit.MM) == []
    assert changes(yes, replace(yes, kind=""), Unit.MM) == ["its cloth is not told"]
    assert changes(after, replace(after, kind=""), Unit.MM) == ["its cloth is not told"]


def test_areas_are_in_the_unit_asked_for() -> None:
    line = told({"do": "pocket", **RING}, unit=Unit.INCH)[-1]
    inches = [float(each.replace(",", "")) for each in re.findall(r"([\d,]+) sq in", line)]
    assert inches == pytest.approx(
        [sound(stain=True, drawn=True) / 2.54**2, sound(stain=True) / 2.54**2], abs=0.6
    )


def test_the_table_has_each_number_once_with_its_place_in_the_photograph() -> None:
    unsure = replace(COAT.pieces[0].blocked[2], confidence=0.6)
    first = replace(
        COAT.pieces[0], blocked=(*COAT.pieces[0].blocked[:2], unsure), layers=2, one_way=True, grain=80.0
    )
    garment = replace(COAT, pieces=(first, *COAT.pieces[1:], Piece("drawer", box(0, 0, 90, 60), number=7)))
    lines = table(garment)
    assert lines[0] == f"{PHOTO}:"
    assert lines[-2] == "typed in, without a photograph:"
    numbers = [int(line.split()[0]) for line in lines if not line.endswith(":")]
    assert numbers == [1, 2, 3, 4, 5, 6, 7]
    by_number = {int(line.split()[0]): line for line in lines if not line.endswith(":")}
    assert "back (shell, grain 80°, 2 layers, one-way)" in by_number[1]
    assert "stain (worn), on back: found, in doubt" in by_number[STAIN]
    assert "seam, on back, side: found  at" in by_number[SEAM]
    assert by_number[7].endswith("drawer (shell, grain 90°)")
    ((x, y),) = px((220, 220))
    at = [float(each) for each in by_number[STAIN].rsplit(" ", 1)[1].split(",")]
    assert at == pytest.approx([x, y], abs=0.51)


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ({"found_by": "person"}, "drawn by hand"),
        ({"found_by": "trade", "confidence": 0.5}, "assumed, not seen"),
        ({"confidence": 0.8}, "found"),
        ({"confidence": 0.79}, "found, in doubt"),
    ],
)
def test_the_table_says_how_a_thing_is_known(fields: dict[str, Any], word: str) -> None:
    from salvage.cloth.garment import FoundBy

    fields = fields | ({"found_by": FoundBy(fields["found_by"])} if "found_by" in fields else {})
    thing = replace(COAT.pieces[0].blocked[2], **fields)
    garment = replace(COAT, pieces=(replace(COAT.pieces[0], blocked=(thing,)),))
    line = next(each for each in table(garment) if str(BlockedKind.WORN) in each)
    assert line.split(": ")[1].split("  at")[0] == word

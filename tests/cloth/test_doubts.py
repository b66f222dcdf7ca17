"""Questions about what is doubtful, and what a person's answers change."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from shapely.geometry import LineString, box

from salvage.cloth.doubts import answered, asked, carried
from salvage.cloth.garment import (
    MAY_BE_FLOOR,
    Blocked,
    BlockedKind,
    FoundBy,
    Garment,
    Piece,
    PiecePhoto,
    Reply,
)
from salvage.cloth.record.anew.merge import merge
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.cloth.savings import savings
from salvage.cloth.usable import usable
from salvage.errors import SalvageError, UsageError

SEAM = LineString([(300, 0), (300, 400)])
SHOT = PiecePhoto("coat.jpg", 150.0)


def measured() -> Garment:
    """A body and a sleeve parted by a seam that nobody saw, a stain in doubt, and a seam that is sure."""
    seam = Blocked(
        BlockedKind.SEAM, SEAM, 16.0, FoundBy.TRADE, "left armhole seam, assumed", 0.5, "coat.jpg 1.1"
    )
    stain = Blocked(BlockedKind.WORN, box(50, 50, 150, 150), 3.0, confidence=0.55, id="coat.jpg 1.2")
    sure = Blocked(
        BlockedKind.SEAM, LineString([(0, 300), (300, 300)]), 6.0, confidence=0.95, id="coat.jpg 1.3"
    )
    body = Piece("body", box(0, 0, 300, 400), blocked=(seam, stain, sure), photo=SHOT)
    sleeve = Piece("sleeve", box(300, 0, 520, 400), grain=80.0, blocked=(seam,), photo=SHOT)
    return Garment("coat", (body, sleeve))


def test_what_is_doubtful_is_asked_the_weightiest_first() -> None:
    first, second = asked(measured()).questions
    assert (first.number, second.number) == (1, 2)
    assert "left armhole seam" in first.text
    assert "worn or stained" in second.text
    assert first.weight > second.weight


@pytest.mark.parametrize(
    ("kind", "what", "words"),
    [
        (BlockedKind.CLOSURE, "closure", "does an opening"),
        (BlockedKind.OTHER, "edge of a part lying over", "does one layer of cloth end"),
        (BlockedKind.SEAM, "edge of left body and inside", "do the left front and the lining or inside"),
        (BlockedKind.SEAM, "edge of another colour", "does cloth of another colour begin"),
        (BlockedKind.SEAM, "", "is there a seam"),
    ],
)
def test_a_line_is_asked_about_in_words_of_what_is_seen(kind: BlockedKind, what: str, words: str) -> None:
    line = Blocked(kind, LineString([(20, 200), (280, 200)]), 6.0, what=what, confidence=0.5, id="a")
    piece = Piece("body", box(0, 0, 300, 400), blocked=(line,), photo=SHOT)
    (question,) = asked(Garment("coat", (piece,))).questions
    assert question.text.startswith(words)
    assert "crease" in question.text or "print" in question.text


def with_hems_at_both_sleeves() -> Garment:
    def sleeve(left: float) -> Piece:
        line = LineString([(left, 26), (left + 200, 26)])
        hem = Blocked(BlockedKind.HEM, line, 20.0, FoundBy.TRADE, "sleeve hem, assumed", 0.5, "coat.jpg 1.7")
        return Piece(f"sleeve at {left:.0f}", box(left, 0, left + 200, 400), blocked=(hem,), photo=SHOT)

    return asked(Garment("coat", (sleeve(0.0), sleeve(500.0))))


def test_the_hems_of_both_sleeves_are_one_question_and_its_answer_goes_to_both() -> None:
    garment = with_hems_at_both_sleeves()
    (question,) = garment.questions
    assert "sleeve hem" in question.text
    assert "its like elsewhere" in question.text
    gone = answered(garment, question.number, Reply.NO)
    assert [len(piece.blocked) for piece in gone.pieces] == [0, 0]
    sure = answered(garment, question.number, Reply.YES)
    assert [piece.blocked[0].found_by for piece in sure.pieces] == [FoundBy.PERSON] * 2
    assert [saving.length for saving in savings(sure)] == pytest.approx(
        [200.0, 200.0]
    )  # each is a hem of its own


def test_a_trifle_is_not_asked_about() -> None:
    speck = Blocked(BlockedKind.WORN, box(10, 10, 60, 60), 3.0, confidence=0.5, id="a")
    for side, often in ((400, 1), (1500, 0)):
        piece = Piece("body", box(0, 0, side, side), blocked=(speck,), photo=SHOT)
        assert len(asked(Garment("coat", (piece,))).questions) == often


def test_a_no_takes_the_seam_off_and_hangs_the_pieces_together() -> None:
    garment = answered(asked(measured()), 1, Reply.NO)
    (piece,) = garment.pieces
    assert piece.name == "body"
    assert piece.outline.area == pytest.approx(520 * 400, rel=1e-3)
    assert not any(each.found_by is FoundBy.TRADE for each in piece.blocked)
    before = sum(usable(each).area for each in measured().pieces)
    assert usable(piece).area > before + 30 * 400
    assert garment.questions[0].answer is Reply.NO


def test_a_yes_makes_it_the_persons() -> None:
    garment = answered(asked(measured()), 2, Reply.YES)
    stain = next(each for each in garment.pieces[0].blocked if each.kind is BlockedKind.WORN)
    assert (stain.found_by, stain.confidence) == (FoundBy.PERSON, 1.0)
    assert [each.number for each in asked(garment, garment.questions).questions] == [1, 2]


@pytest.mark.parametrize(("reply", "pieces"), [("no", 1), ("yes", 2), (False, 1), ("", 2)])
def test_an_answer_written_into_the_record_by_hand_counts(reply: str | bool, pieces: int) -> None:
    data = json.loads(garment_to_json(asked(measured())))
    data["questions"][0]["answer"] = reply
    again = garment_from_json(json.dumps(data))
    assert len(again.pieces) == pieces
    text = garment_to_json(again)
    assert garment_to_json(garment_from_json(text)) == text


def test_answers_outlive_a_new_measurement_and_numbers_stay() -> None:
    old = garment_from_json(garment_to_json(answered(asked(measured()), 1, Reply.NO)))
    new = measured()
    garment = carried(old, merge(old, new))
    assert len(garment.pieces) == 1
    assert {(each.number, each.answer) for each in garment.questions} == {(1, Reply.NO), (2, Reply.OPEN)}


def test_an_unknown_number_says_which_there_are() -> None:
    with pytest.raises(UsageError, match=r"no question 7 .*1, 2"):
        answered(asked(measured()), 7, Reply.YES)


def test_an_answer_that_is_none_is_refused_with_what_to_write() -> None:
    data = json.loads(garment_to_json(asked(measured())))
    data["questions"][1]["answer"] = "perhaps"
    with pytest.raises(SalvageError, match=r'question 2: answer: .*"yes" or "no"'):
        garment_from_json(json.dumps(data))


def test_what_is_sure_and_what_a_person_drew_is_not_asked() -> None:
    garment = measured()
    pieces = tuple(
        replace(p, blocked=tuple(replace(b, found_by=FoundBy.PERSON) for b in p.blocked))
        for p in garment.pieces
    )
    assert asked(replace(garment, pieces=pieces)).questions == ()


def with_a_tab_on_the_seam(**of_sleeve: object) -> Garment:
    """The seam is sure here, and a tab that may be none lies on it."""
    seam = Blocked(BlockedKind.SEAM, SEAM, 6.0, confidence=0.95, id="coat.jpg 1.1")
    tab = Blocked(
        BlockedKind.CLOSURE, box(270, 150, 330, 230), 3.0, what="tab", confidence=0.5, id="coat.jpg 1.2"
    )
    body = Piece("body", box(0, 0, 300, 400), blocked=(seam, tab), photo=SHOT)
    sleeve = Piece("sleeve", box(300, 0, 520, 400), blocked=(seam, tab), photo=SHOT, **of_sleeve)  # type: ignore[arg-type]
    return Garment("coat", (body, sleeve))


def test_a_no_about_what_lies_on_a_seam_leaves_the_seam_and_the_pieces() -> None:
    garment = answered(asked(with_a_tab_on_the_seam()), 1, Reply.NO)
    assert [piece.name for piece in garment.pieces] == ["body", "sleeve"]
    assert [each.kind for piece in garment.pieces for each in piece.blocked] == [BlockedKind.SEAM] * 2


def test_what_a_person_said_of_one_piece_is_not_lost_in_another() -> None:
    garment = measured()
    body, sleeve = garment.pieces
    sleeve = replace(sleeve, one_way=True, by_person=("one_way",))
    garment = answered(asked(replace(garment, pieces=(body, sleeve))), 1, Reply.NO)
    assert {piece.name: piece.one_way for piece in garment.pieces} == {"body": False, "sleeve": True}


def test_what_may_be_the_sheet_under_it_blocks_until_it_is_said_to_be_cloth() -> None:
    place = box(200, 100, 300, 300)
    doubted = Blocked(BlockedKind.OTHER, place, 3.0, what=MAY_BE_FLOOR, confidence=0.5, id="a")
    coat = asked(Garment("coat", (Piece("body", box(0, 0, 300, 400), blocked=(doubted,), photo=SHOT),)))
    (question,) = coat.questions
    assert question.text.startswith("is it the floor or a sheet")
    assert usable(coat.pieces[0]).intersection(place).area == 0
    assert usable(answered(coat, 1, Reply.YES).pieces[0]).intersection(place).area == 0
    assert usable(answered(coat, 1, Reply.NO).pieces[0]).intersection(place).area > 0.99 * place.area

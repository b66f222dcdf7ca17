"""Questions about grain and padding, and what their answers change."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import box

from salvage.cloth.doubts import answered, asked, carried, unasked
from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece, PiecePhoto, PlusMinus, Reply
from salvage.cloth.record.anew.merge import merge
from salvage.cloth.record.edits import set_fields
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.cloth.unsure import GRAIN, PADDING, padding_question

SHOT = PiecePhoto("coat.jpg", 150.0)


def piece(name: str, at: float, doubt: float, grain: float = 90.0) -> Piece:
    outline = box(at, 0, at + 300, 400)
    return Piece(name, outline, grain=grain, plus_minus=PlusMinus(grain=doubt), photo=SHOT)


def coat() -> Garment:
    """Two fronts on an axis that is 10 degrees in doubt, a yoke that may run either way, a sleeve that is sure."""
    return Garment(
        "coat",
        (piece("left front", 0, 10.0), piece("right front", 300, 10.0), piece("yoke", 600, 90.0), piece("sleeve", 900, 3.0)),
    )  # fmt: skip


def may_be_padded() -> Garment:
    return replace(coat(), questions=(padding_question(coat().pieces, 0.6),))


def test_grain_is_asked_once_for_all_on_one_axis_and_by_itself_where_it_may_run_across() -> None:
    texts = [each.text for each in asked(coat()).questions if each.about == GRAIN]
    assert len(texts) == 2
    assert any("left front, right front run" in text for text in texts)
    assert any("the yoke run" in text for text in texts)


@pytest.mark.parametrize(("reply", "grain", "doubt"), [(Reply.YES, 90.0, 3.0), (Reply.NO, 180.0, 3.0)])
def test_a_yoke_runs_as_the_answer_says(reply: Reply, grain: float, doubt: float) -> None:
    garment = asked(coat())
    number = next(q.number for q in garment.questions if "yoke" in q.text)
    after = answered(garment, number, reply)
    yoke = next(each for each in after.pieces if each.name == "yoke")
    assert (yoke.grain % 180, yoke.plus_minus.grain) == (pytest.approx(grain % 180), doubt)
    again = [q.text for q in asked(after, after.questions).questions if q.answer is Reply.OPEN]
    assert len(again) == 1  # the fronts are asked about still
    assert "yoke" not in again[0]


def test_a_no_about_some_degrees_leaves_the_doubt_and_isnt_asked_again() -> None:
    garment = asked(coat())
    number = next(q.number for q in garment.questions if "left front" in q.text)
    after = answered(garment, number, Reply.NO)
    assert after.pieces[0].plus_minus.grain == 10.0
    assert sum("left front" in q.text for q in asked(after, after.questions).questions) == 1


def test_a_grain_set_by_hand_is_asked_no_more() -> None:
    data = garment_to_json(asked(coat()))
    read = garment_from_json(data)
    by_hand = replace(read, pieces=tuple(set_fields(each, grain=80.0) for each in read.pieces))
    assert garment_from_json(garment_to_json(by_hand)).questions == ()


def test_a_garment_that_may_be_padded_is_asked_about_first() -> None:
    garment = asked(may_be_padded())
    assert (garment.questions[0].about, garment.kind) == (PADDING, "")
    yes = answered(garment, garment.questions[0].number, Reply.YES)
    assert yes.kind == "padded"
    assert any("Not suited" in each for each in yes.cautions)
    assert garment_from_json(garment_to_json(yes)).kind == "padded"
    no = answered(garment, garment.questions[0].number, Reply.NO)
    assert no.kind == ""
    assert [q.about for q in asked(no, no.questions).questions if q.answer is Reply.OPEN] == [GRAIN, GRAIN]


def test_answers_outlive_a_new_measurement() -> None:
    garment = asked(may_be_padded())
    for question in garment.questions:
        garment = answered(garment, question.number, Reply.NO)
    old = garment_from_json(garment_to_json(garment))
    new = asked(may_be_padded())
    again = carried(old, merge(old, new))
    assert {q.answer for q in again.questions} == {Reply.NO}
    assert next(each for each in again.pieces if each.name == "yoke").grain % 180 == pytest.approx(0.0)


def test_a_new_measurement_asks_what_the_old_one_did_not() -> None:
    old = garment_from_json(garment_to_json(asked(coat())))
    again = carried(old, merge(old, asked(may_be_padded())))
    assert sum(q.about == PADDING for q in again.questions) == 1
    assert len({q.number for q in again.questions}) == len(again.questions)


def test_how_many_more_are_in_doubt_is_known() -> None:
    stains = tuple(
        Blocked(BlockedKind.WORN, box(60 * k, 0, 60 * k + 55, 55), 3.0, confidence=0.5, id=f"coat.jpg {k}")
        for k in range(14)
    )
    garment = asked(Garment("sheet", (Piece("sheet", box(0, 0, 900, 300), blocked=stains, photo=SHOT),)))
    assert (len(garment.questions), unasked(garment)) == (9, 5)
    assert unasked(answered(garment, 1, Reply.YES)) == 5


def test_what_was_asked_stays_asked_and_each_answer_brings_one_more() -> None:
    stains = tuple(
        Blocked(
            BlockedKind.WORN, box(60 * k, 0, 60 * k + 45 + k, 55), 3.0, confidence=0.5, id=f"coat.jpg {k}"
        )
        for k in range(14)
    )
    garment = asked(Garment("sheet", (Piece("sheet", box(0, 0, 900, 300), blocked=stains, photo=SHOT),)))
    for number in (1, 2, 3):
        garment = answered(garment, number, Reply.NO)
        garment = asked(garment, garment.questions)
        there = {q.number for q in garment.questions if q.answer is Reply.OPEN}
        assert there == set(range(number + 1, number + 10))


def test_grain_that_is_a_few_degrees_off_weighs_less_than_one_that_may_run_across() -> None:
    def weight(doubt: float) -> float:
        (question,) = asked(Garment("cloth", (piece("front", 0, doubt),))).questions
        return question.weight

    assert weight(8.0) < 0.6 * weight(15.0)
    assert weight(15.0) <= weight(90.0)
    assert weight(90.0) == pytest.approx(0.25 * 300 * 400)

"""Warnings of cloth: of each garment that something is cut from, and of no other."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import LineString, Point, box

from salvage.cloth.garment import Garment, Piece, PiecePhoto, PlusMinus, Question, Reply
from salvage.cloth.unsure import PADDING, grain_questions
from salvage.fit.answer import Answer, Placement, Verdict
from salvage.fit.say.cloth import may_be_unsuited, unsuited, unsure
from salvage.trade.kinds import KINDS

SHOT = PiecePhoto("coat.jpg", 150.0)


def garment(name: str, kind: str = "", *questions: Question) -> Garment:
    return Garment(name, (Piece("back", box(0, 0, 300, 400)),), kind=kind, questions=questions)


def cut_from(*garments: int, piece: str = "back") -> Answer:
    laid = [
        Placement("a", n, None, g, piece, 1, 0.0, False, box(0, 0, 9, 9)) for n, g in enumerate(garments, 1)
    ]
    return Answer(Verdict.YES, (), tuple(laid))


PADDED = Question(3, "Is it padded?", PADDING, Point(0, 0).buffer(5))


def test_cloth_that_does_not_suit_is_told_of_what_is_cut_from() -> None:
    coats = [
        garment("coat", "padded"),
        garment("jeans", "denim"),
        garment("vest", "padded"),
        garment("shawl"),
    ]
    told = unsuited(cut_from(0, 1), coats)
    assert len(told) == 1
    assert told[0].startswith("coat: ")
    assert KINDS["padded"].why_not in told[0]
    # where there is no layout, all of them are what the answer is about
    assert [each.split(":")[0] for each in unsuited(Answer(Verdict.NO, ()), coats)] == ["coat", "vest"]
    assert unsuited(cut_from(1), coats) == ()


@pytest.mark.parametrize(("reply", "open_"), [(Reply.OPEN, True), (Reply.YES, False), (Reply.NO, False)])
def test_padding_is_open_until_it_is_answered(reply: Reply, open_: bool) -> None:
    asked = Question(3, "Is it padded?", PADDING, Point(0, 0).buffer(5), answer=reply)
    coats = [garment("shirt"), garment("coat", "", asked)]
    assert may_be_unsuited(coats) == open_
    told = unsure(cut_from(1), coats)
    assert bool(told) == open_
    assert all("coat" in each and "(Q3)" in each for each in told)
    assert unsure(cut_from(0), coats) == ()


def doubtful_coat() -> Garment:
    """Two fronts and a yoke whose grain is in doubt, the yoke's by itself, and a sleeve whose grain is sure."""
    doubts = {"left front": 10.0, "right front": 10.0, "yoke": 90.0, "sleeve": 1.0}
    pieces = [
        Piece(name, box(400 * n, 0, 400 * n + 300, 400), plus_minus=PlusMinus(grain=doubt), photo=SHOT)
        for n, (name, doubt) in enumerate(doubts.items())
    ]
    coat = Garment("coat", tuple(pieces))
    return replace(coat, questions=tuple(grain_questions(coat)))


@pytest.mark.parametrize(
    ("pieces", "named"),
    [
        (("sleeve",), []),
        (("yoke",), ["on the yoke (Q"]),
        (("left front", "sleeve"), ["on the left front (Q"]),
        (("right front", "left front", "yoke"), ["on the left front, right front (Q", "on the yoke (Q"]),
    ],
)
def test_grain_in_doubt_is_told_of_the_pieces_that_something_lies_on(
    pieces: tuple[str, ...], named: list[str]
) -> None:
    laid = tuple(
        Placement("a", n, None, 0, piece, 1, 0.0, False, box(0, 0, 9, 9)) for n, piece in enumerate(pieces, 1)
    )
    told = unsure(Answer(Verdict.YES, (), laid), [doubtful_coat()])
    assert len(told) == len(named)
    for text in named:
        assert sum(text in each for each in told) == 1
    assert all("sleeve" not in each for each in told)


def test_a_question_of_another_kind_warns_of_nothing() -> None:
    other = Question(1, "Is this a pocket?", "area 4", LineString([(0, 0), (9, 9)]))
    assert unsure(cut_from(0), [garment("coat", "", other)]) == ()
    assert not may_be_unsuited([garment("coat", "", other)])

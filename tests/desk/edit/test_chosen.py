"""What a person says of a mark or a piece: only that changes, and a word that was given is kept."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from desk_garments import COAT, PLANE, SHOT
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, box

from salvage.cloth.garment import BlockedKind, FoundBy, Garment, Piece, Question, Reply
from salvage.desk.edit import chosen
from salvage.desk.edit.marks import mark_numbered
from salvage.desk.edit.told import Said
from salvage.errors import UsageError
from salvage.trade.kinds import KINDS

STAIN, SEAM = 6, 4  # numbers of marks on the coat
ASKING = replace(
    COAT,
    questions=(
        Question(1, "Is this a stain?", "coat.jpg 1.3", COAT.pieces[0].blocked[2].shape, "coat.jpg"),
        Question(2, "Is this a seam?", "coat.jpg 1.1", COAT.pieces[0].blocked[0].shape, "coat.jpg"),
    ),
)


def said(garment: Garment = COAT, **action: Any) -> Said:
    return Said(garment, {"do": "set", **action})


def changed(before: Any, after: Any) -> set[str]:
    return {f.name for f in fields(before) if getattr(before, f.name) != getattr(after, f.name)}


def test_numbers_here_are_those_of_the_coat() -> None:
    assert [mark_numbered(COAT, n).kind for n in (STAIN, SEAM)] == ["worn", "seam"]


def test_taking_off_what_was_asked_about_answers_the_question_and_no_other() -> None:
    after = chosen.take_off(ASKING, said(ASKING, mark=STAIN))
    assert [each.answer for each in after.questions] == [Reply.NO, Reply.OPEN]
    assert [each.what for each in after.pieces[0].blocked] == ["seam", "hem"]
    assert [(each.kind, each.shape) for each in after.pieces[0].cleared] == [
        (BlockedKind.WORN, COAT.pieces[0].blocked[2].shape)
    ]
    assert after.pieces[1:] == COAT.pieces[1:]


def test_an_answer_given_before_is_not_overwritten_by_taking_off() -> None:
    answered = replace(ASKING, questions=(replace(ASKING.questions[0], answer=Reply.YES),))
    assert chosen.take_off(answered, said(answered, mark=STAIN)).questions == answered.questions


def test_a_piece_taken_off_is_kept_to_be_put_back_by_its_name_or_its_place() -> None:
    after = chosen.take_off(COAT, said(mark=COAT.pieces[2].number))
    assert after.removed == COAT.pieces[2:]
    assert chosen.remove(COAT, said(piece="Cuff")) == after
    for told in (" CUFF ", 0):
        back = chosen.put_back(after, said(after, removed=told))
        assert (back.pieces, back.removed) == (COAT.pieces, ())
    with pytest.raises(UsageError, match="taken out were: cuff"):
        chosen.put_back(after, said(after, removed="hat"))


def test_the_second_of_two_pieces_taken_out_can_come_back_first() -> None:
    after = chosen.remove(chosen.remove(COAT, said(piece="cuff")), said(piece="side"))
    assert [each.name for each in after.removed] == ["cuff", "side"]
    back = chosen.put_back(after, said(after, removed="side"))
    assert ([each.name for each in back.pieces], [each.name for each in back.removed]) == (
        ["back", "side"], ["cuff"],
    )  # fmt: skip


def test_a_line_stays_a_line_unless_a_brush_draws_it_and_an_area_an_area() -> None:
    line = [[10, 20], [280, 30]]
    after = chosen.shape(COAT, said(mark=5, mm=line, piece=0))  # the hem
    assert mark_numbered(after, 5).shape.equals(LineString(line))
    assert mark_numbered(after, 5).kind == "hem"
    wide = chosen.shape(COAT, said(mark=5, mm=line, piece=0, brush=4.0))
    assert mark_numbered(wide, 5).shape.area == pytest.approx(LineString(line).buffer(4.0).area, rel=0.01)
    ring = [[10, 20], [80, 30], [60, 90]]
    area = mark_numbered(chosen.shape(COAT, said(mark=STAIN, mm=ring, piece=0)), STAIN)
    assert area.shape.area == pytest.approx(0.5 * abs(70 * 70 - 50 * 10))


def test_a_piece_redrawn_by_its_number_takes_cloth_from_its_neighbour() -> None:
    after = chosen.shape(
        COAT, said(mark=COAT.pieces[1].number, mm=[[250, 0], [400, 0], [400, 400], [250, 400]], piece=1)
    )
    assert [each.outline.area for each in after.pieces[:2]] == [250 * 400, 150 * 400]


@pytest.mark.parametrize(
    ("told", "kind", "what", "margin"),
    [
        ({"kind": "other"}, "other", "", 3.0),
        ({"kind": "pocket", "what": " flap "}, "pocket", "flap", 3.0),
        ({"what": "ink"}, "worn", "ink", 3.0),
        ({"margin": 12.5}, "worn", "stain", 12.5),
        ({"kind": "worn", "margin": 0}, "worn", "stain", 0.0),
        ({"margin": 500}, "worn", "stain", 500.0),
        ({"kind": "seam"}, "seam", "", 6.0),  # with a seam's own margin
    ],
)
def test_a_find_becomes_what_it_is_called(told: dict[str, Any], kind: str, what: str, margin: float) -> None:
    after = chosen.kind(COAT, said(mark=STAIN, **told)).pieces[0].blocked[2]
    assert (str(after.kind), after.what, after.margin) == (kind, what, margin)
    assert (after.confidence, after.found_by) == (1.0, FoundBy.PERSON)
    assert after.shape == COAT.pieces[0].blocked[2].shape


def test_a_seam_between_two_pieces_is_called_something_else_on_both() -> None:
    after = chosen.kind(COAT, said(mark=SEAM, kind="closure", what="zip"))
    assert [each.blocked[0].what for each in after.pieces[:2]] == ["zip", "zip"]
    assert [each.blocked[0].confidence for each in after.pieces[:2]] == [1.0, 1.0]  # 0.9 before


@pytest.mark.parametrize(
    ("says", "told"),
    [
        ("no kind", {"mark": STAIN, "kind": "hole"}),
        ("0 to 500", {"mark": STAIN, "margin": -0.5}),
        ("0 to 500", {"mark": STAIN, "margin": 500.5}),
        ("is a piece", {"mark": 1, "kind": "worn"}),
    ],
)
def test_a_find_is_called_nothing_else(says: str, told: dict[str, Any]) -> None:
    with pytest.raises(UsageError, match=says):
        chosen.kind(COAT, said(**told))


def test_answers_are_yes_no_and_unsure() -> None:
    yes = chosen.answer(ASKING, said(ASKING, question=1, reply=" Yes "))
    assert yes.pieces[0].blocked[2].found_by is FoundBy.PERSON
    assert next(q for q in yes.questions if q.number == 1).answer is Reply.YES
    no = chosen.answer(ASKING, said(ASKING, question=1, reply="no"))
    assert [each.what for each in no.pieces[0].blocked] == ["seam", "hem"]
    assert next(q for q in no.questions if q.number == 1).answer is Reply.NO
    assert chosen.answer(ASKING, said(ASKING, question=1, reply="unsure")).pieces == COAT.pieces
    with pytest.raises(UsageError, match="is no answer"):
        chosen.answer(ASKING, said(ASKING, question=1, reply="perhaps"))


def test_a_piece_is_parted_with_a_seam_unless_told_otherwise() -> None:
    line: dict[str, Any] = {"mm": [[100, 0], [100, 400]], "piece": 0}
    parted = chosen.split(COAT, said(**line))
    assert [each.outline.area for each in parted.pieces[:2]] == [200 * 400, 100 * 400]
    for piece in parted.pieces[:2]:
        assert any(each.shape.equals(LineString(line["mm"])) for each in piece.blocked)
    bare = chosen.split(COAT, said(**line, seam=False))
    assert not any(each.found_by is FoundBy.PERSON for piece in bare.pieces for each in piece.blocked)
    joined = chosen.join(bare, said(bare, pieces=["back", 1]))
    assert [each.outline.area for each in joined.pieces] == [300 * 400, 100 * 400, 120 * 50]
    with pytest.raises(UsageError, match="true or false"):
        chosen.split(COAT, said(**line, seam=1))
    for wrong in ("ab", ["back"], [0, 1, 2], 7):
        with pytest.raises(UsageError, match="takes two pieces"):
            chosen.join(COAT, said(pieces=wrong))


@pytest.mark.parametrize(
    ("told", "name", "value"),
    [
        ({"name": " yoke "}, "name", "yoke"),
        ({"fabric": " lining"}, "fabric", "lining"),
        ({"layers": 2}, "layers", 2),
        ({"one_way": True}, "one_way", True),
        ({"grain": -80}, "grain", 280.0),
    ],
)
def test_one_field_is_set_and_is_the_persons_from_then_on(told: Any, name: str, value: Any) -> None:
    after = chosen.set_fields(COAT, said(piece="side", **told))
    assert getattr(after.pieces[1], name) == value
    assert changed(COAT.pieces[1], after.pieces[1]) == {name, "by_person"}
    assert after.pieces[1].by_person == (name,)
    assert (after.pieces[0], after.pieces[2]) == (COAT.pieces[0], COAT.pieces[2])


@pytest.mark.parametrize("told", [{}, {"fabric": " "}, {"name": ""}, {"one_way": 1}, {"layers": 0}])
def test_nothing_is_set_to_nothing(told: dict[str, Any]) -> None:
    with pytest.raises(UsageError):
        chosen.set_fields(COAT, said(piece="side", **told))


@given(st.floats(0, 2 * math.pi), st.floats(1.5, 60))
def test_the_grain_is_the_way_that_the_arrow_points_on_the_cloth(turn: float, long: float) -> None:
    start = np.array([350.0, 200.0])
    end = start + long * np.array([math.cos(turn), math.sin(turn)])
    arrow = [[float(x), float(y)] for x, y in PLANE.to_px(np.array([start, end]))]
    grain = chosen.grain(COAT, said(piece="side", px=arrow)).pieces[1].grain
    assert 0 <= grain < 360.001
    assert math.cos(math.radians(grain) - turn) > math.cos(math.radians(0.05))


def test_the_garment_is_named_and_its_cloth_is_one_of_the_trade() -> None:
    kind = KINDS["denim"].name
    after = chosen.set_garment(COAT, said(name=" uncle's ", kind=kind.upper()))
    assert (after.name, after.kind, after.by_person) == ("uncle's", kind, ("kind",))
    assert after.pieces == COAT.pieces
    assert chosen.set_garment(after, said(after, kind="")).kind == ""
    with pytest.raises(UsageError, match="needs a name"):
        chosen.set_garment(COAT, said(name="  "))


def test_pieces_of_one_photograph_only_are_joined() -> None:
    two = replace(
        COAT, pieces=(*COAT.pieces, Piece("lining", box(400, 0, 500, 400), photo=replace(SHOT, file="b", content="b")))
    )  # fmt: skip
    with pytest.raises(UsageError, match="two photographs"):
        chosen.join(two, said(two, pieces=["side", "lining"]))
    mine = replace(
        COAT, pieces=(replace(COAT.pieces[0], usable=MultiPolygon([box(9, 9, 50, 50)])), *COAT.pieces[1:])
    )
    joined = chosen.join(mine, said(mine, pieces=[0, 1])).pieces[0].usable
    assert joined is not None
    assert joined.area == pytest.approx(
        41 * 41 + 100 * 400
    )  # what a person drew there, and no more of the back

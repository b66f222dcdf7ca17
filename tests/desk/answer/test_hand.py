"""The answer under the hand: what an edit changes at once, pins, and one panel under the finger."""

from __future__ import annotations

from dataclasses import replace

import pytest
from desk_garments import COAT, EXACT, PLANE, px
from shapely import affinity
from shapely.geometry import box

from salvage.cloth.garment import Garment, Piece
from salvage.desk.answer.asking import PageQuestion, answer_data, last_answer
from salvage.desk.answer.hand import Hand
from salvage.desk.answer.laid import clearance
from salvage.desk.edit.actions import apply
from salvage.desk.teller import Teller
from salvage.errors import SalvageError, UsageError
from salvage.fit.answer import Verdict
from salvage.fit.check.check import check
from salvage.project.project import Panel, Project, Strip
from salvage.report.records import Loaded
from salvage.units import Unit, parse_length


def panel(name: str, width: float, length: float, **more: object) -> Panel:
    return Panel(name, ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)  # type: ignore[arg-type]


ROLL = Project("roll", (panel("back", 150, 200), panel("flap", 60, 90, cut=2)), cutting_gap=3.0)
LONG = 20.0  # s: more than is ever needed here, so that a busy machine changes no answer


def test_a_project_that_fits_is_a_yes_that_the_checker_accepts() -> None:
    hand = Hand([COAT], ROLL)
    answer = hand.answer(LONG)
    assert answer.verdict is Verdict.YES
    assert not check([COAT], ROLL, answer.placements)
    assert answer.spare == clearance([COAT], answer.placements) >= answer.plus_minus
    assert answer.left_over["shell"].area > 0


@pytest.mark.parametrize("unit", list(Unit))
def test_the_spare_is_told_no_larger_and_the_plus_minus_no_smaller_than_they_are(unit: Unit) -> None:
    question = PageQuestion(Loaded((COAT,)), replace(ROLL, unit=unit), unit)
    answer = Hand([COAT], ROLL).answer(LONG)
    told = answer_data(answer, question)
    assert answer.spare is not None
    assert parse_length(told["spare_said"]) <= answer.spare + 1e-6
    assert parse_length(told["plus_minus_said"]) >= answer.plus_minus - 1e-6


def test_a_report_is_about_the_garment_that_it_is_asked_for() -> None:
    """The page showed the answer of another garment with the same project just before."""
    teller = Teller(lambda **_: None, lambda: False)
    small = Garment("scrap", (COAT.pieces[2],))
    asked = [PageQuestion(Loaded((garment,)), ROLL, Unit.MM) for garment in (COAT, small)]
    assert last_answer(asked[0], teller).verdict is Verdict.YES
    assert last_answer(asked[1], teller).verdict is Verdict.NO
    assert last_answer(asked[0], teller).verdict is Verdict.YES


def test_an_edit_beside_the_layout_leaves_it_as_it_lies() -> None:
    hand = Hand([COAT], ROLL)
    before = hand.answer(LONG)
    free = next(
        box(x, y, x + 8, y + 8)
        for x in range(15, 280, 5)
        for y in range(20, 380, 5)
        if all(each.shape.distance(box(x, y, x + 8, y + 8)) > 10 for each in before.placements)
    )
    ring = list(free.exterior.coords)[:4]
    hand.change(garments=[apply(COAT, {"do": "stain", "px": px(*ring)})])
    after = hand.answer(LONG)
    assert after.placements == before.placements
    assert after.verdict is Verdict.YES


def test_an_edit_under_a_panel_moves_that_panel_and_leaves_the_others() -> None:
    hand = Hand([COAT], ROLL)
    before = hand.answer(LONG)
    first = next(each for each in before.placements if each.panel == "flap")
    x, y = first.shape.centroid.coords[0]
    stain = {"do": "stain", "px": px((x - 3, y - 3), (x + 3, y - 3), (x + 3, y + 3))}
    hand.change(garments=[apply(COAT, stain)])
    after = hand.answer(LONG)
    assert after.verdict is Verdict.YES
    assert not check(hand.garments, ROLL, after.placements)
    same = [each for each in after.placements if each in before.placements]
    assert len(same) == 2
    assert first not in after.placements


def test_what_is_undone_has_its_old_layout_again() -> None:
    hand = Hand([COAT], ROLL)
    before = hand.answer(LONG)
    hand.change(garments=[apply(COAT, {"do": "seam", "px": px((5, 200), (295, 200))})])
    hand.answer(LONG)
    hand.change(garments=[COAT])
    again = hand.answer(LONG)
    assert again.spare is not None
    assert before.spare is not None
    assert again.spare >= before.spare


def test_what_has_no_room_is_not_called_a_no_before_it_is_proved() -> None:
    hand = Hand([COAT], Project("large", (panel("sheet", 350, 350),)))
    assert hand.answer(0.5).verdict is Verdict.UNSETTLED
    assert hand.improve(LONG).verdict is Verdict.NO
    hand.change(garments=[apply(COAT, {"do": "stain", "px": px((50, 50), (60, 50), (60, 60))})])
    assert hand.answer(LONG).verdict is Verdict.NO  # less cloth: its proof stands
    assert hand.improve(0.1).verdict is Verdict.NO


def test_a_longer_search_never_makes_the_answer_worse() -> None:
    hand = Hand([COAT], ROLL)
    first = hand.answer(LONG)
    better = hand.improve(3.0)
    assert better.verdict is first.verdict
    assert first.spare is not None
    assert (better.spare or 0) >= first.spare
    assert hand.answer() is better


def test_what_is_pinned_stays_and_the_rest_is_laid_around_it() -> None:
    hand = Hand([COAT], ROLL)
    back = next(each for each in hand.answer(LONG).placements if each.panel == "back")
    x0, y0, *_ = back.shape.bounds
    pinned = hand.moved_by(back, 20 - x0, 120 - y0)
    others = [each for each in hand.answer().placements if each != back and each.piece == back.piece]
    over = any(each.shape.distance(pinned.shape) < ROLL.cutting_gap for each in others)
    assert bool(hand.why_not(pinned)) == over
    hand.change(pins=(pinned,))
    answer = hand.answer(LONG)
    assert answer.verdict is Verdict.YES
    assert pinned in answer.placements
    assert not check([COAT], ROLL, answer.placements)


def test_a_pin_where_nothing_may_lie_is_told_and_never_a_yes() -> None:
    hand = Hand([COAT], ROLL)
    back = next(each for each in hand.answer(LONG).placements if each.panel == "back")
    hand.change(pins=(hand.moved_by(back, -400, 0),))
    answer = hand.answer(1.0)
    assert answer.verdict is Verdict.UNSETTLED
    assert "pinned" in answer.reasons[0]
    assert not check([COAT], ROLL, answer.placements, partial=True)


def test_a_pin_goes_with_its_piece() -> None:
    hand = Hand([COAT], ROLL)
    flap = next(each for each in hand.answer(LONG).placements if each.panel == "flap")
    hand.change(pins=(flap,))
    gone = next(n for n, each in enumerate(COAT.pieces) if each.name == flap.piece)
    hand.change(garments=[apply(COAT, {"do": "remove", "piece": gone})])
    assert hand.pins == ()


def test_a_panel_under_the_finger_hears_why_it_may_not_lie_there() -> None:
    hand = Hand([COAT], ROLL)
    answer = hand.answer(LONG)
    flap = next(each for each in answer.placements if each.panel == "flap")
    at = flap.shape.centroid.coords[0]
    stain = PLANE.to_px([[220.0, 220.0]])[0]
    over_stain = hand.moved(flap, tuple(PLANE.to_px([at])[0]), tuple(stain))
    assert any("usable cloth" in each for each in hand.why_not(over_stain))
    turned = hand.moved_by(flap, 0, 0, turn=30)
    assert any("grain" in each for each in hand.why_not(turned))
    other = next(each for each in answer.placements if each.panel == "back")
    dx, dy = (b - a for a, b in zip(at, other.shape.centroid.coords[0], strict=True))
    assert any("overlap" in each for each in hand.why_not(hand.moved_by(flap, dx, dy)))
    assert hand.why_not(flap) == ()


def test_turned_by_half_a_panel_is_the_same_to_the_checker() -> None:
    shape = ((0.0, 0.0), (60.0, 0.0), (40.0, 90.0), (0.0, 90.0))
    project = Project("two", (Panel("flap", shape),))
    hand = Hand([COAT], project)
    flap = hand.answer(LONG).placements[0]
    x, y = flap.shape.envelope.centroid.coords[0]
    moved = hand.moved_by(flap, 120 - x, 120 - y, turn=180)
    assert hand.why_not(moved) == ()
    assert moved.angle == (flap.angle + 180) % 360


def test_a_panel_dragged_onto_another_piece_lies_on_that() -> None:
    hand = Hand([COAT], ROLL)
    flap = next(
        each for each in hand.answer(LONG).placements if each.panel == "flap" and each.piece == "back"
    )
    x, y = flap.shape.centroid.coords[0]
    assert hand.moved_by(flap, 350 - x, 200 - y).piece == "side"


def test_a_panel_dragged_onto_another_piece_turns_with_the_grain_there() -> None:
    """By hand nobody turns it by 7 degrees; and a grain that points the other way asks for no half turn."""
    back, side = (next(each for each in COAT.pieces if each.name == name) for name in ("back", "side"))
    project = Project("patch", (panel("flap", 40, 60),))
    for turned in (7.0, 187.0):
        coat = replace(COAT, pieces=(back, replace(side, grain=back.grain + turned)))
        hand = Hand([coat], project)
        flap = next(each for each in hand.answer(LONG).placements)
        if flap.piece == "side":
            flap = hand.moved_by(
                flap, *(b - a for a, b in zip(flap.shape.centroid.coords[0], (120, 200), strict=True))
            )
        assert flap.piece == "back"
        x, y = flap.shape.centroid.coords[0]
        moved = hand.moved_by(flap, 350 - x, 200 - y)
        assert moved.piece == "side"
        assert (moved.angle - flap.angle) % 360 == pytest.approx(7.0)
        assert hand.why_not(moved) == ()


def test_mirrored_pairs_layers_and_strips_are_laid_anew_as_they_must() -> None:
    lower = Piece("leg", box(0, 0, 260, 300), layers=2, plus_minus=EXACT)
    garment = Garment("trousers", (lower,))
    shape = ((0.0, 0.0), (110.0, 0.0), (80.0, 120.0), (0.0, 120.0))
    project = Project(
        "pair", (Panel("front", shape, cut=4, mirrored=True),), (Strip("tie", 30.0, 250.0, cut=2),), cutting_gap=2.0
    )  # fmt: skip
    hand = Hand([garment], project)
    answer = hand.answer(LONG)
    assert not check([garment], project, answer.placements)
    spot = affinity.scale(answer.placements[0].shape.centroid.buffer(3), 1, 1)
    stained = replace(lower, outline=lower.outline.difference(spot))
    hand.change(garments=[Garment("trousers", (stained,))])
    after = hand.answer(LONG)
    assert not check(hand.garments, project, after.placements, partial=bool(after.not_placed))


def test_as_many_as_there_are_never_fewer_than_before_for_nothing() -> None:
    project = Project("cases", (panel("case", 90, 100, many=True),), cutting_gap=3.0)
    hand = Hand([COAT], project)
    best = hand.improve(3.0)
    assert best.many["case"] > 2
    first = best.placements[0].shape.centroid
    x, y = first.x, first.y
    hand.change(garments=[apply(COAT, {"do": "stain", "px": px((x - 2, y - 2), (x + 2, y - 2), (x, y + 2))})])
    after = hand.answer(2.0)
    assert after.verdict in (Verdict.YES, Verdict.UNSETTLED)
    assert after.many["case"] >= best.many["case"] - 2


def test_what_can_not_be_asked_is_said() -> None:
    with pytest.raises(SalvageError):
        Hand([], ROLL).answer()
    typed = Hand([Garment("coat", (Piece("back", box(0, 0, 300, 300), plus_minus=EXACT),))], ROLL)
    placement = typed.answer(LONG).placements[0]
    with pytest.raises(UsageError, match="no photograph"):
        typed.moved(placement, (0, 0), (5, 5))

"""No layout is given that the checker finds fault with, no proof that a second look doubts, and no search for nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import box

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.errors import SalvageError
from salvage.fit.answer import Verdict
from salvage.fit.claim import Proof, TooLittleCloth
from salvage.fit.layout.arrange import arrange
from salvage.fit.layout.found import Layout
from salvage.fit.question import Question
from salvage.fit.verdict.answer import answer_of
from salvage.fit.verdict.case import Case, Terms, case_of
from salvage.fit.verdict.outset import missing_fabric, require_few_enough
from salvage.project.project import Panel, Project, Strip

COAT = Garment("coat", (Piece("back", box(0, 0, 400, 500), plus_minus=PlusMinus(0.0, 1.0)),))


def panel(name: str = "body", side: float = 100.0, **more: object) -> Panel:
    return Panel(name, ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side)), **more)  # type: ignore[arg-type]


def case(*panels: Panel, strips: tuple[Strip, ...] = ()) -> Case:
    project = Project("bag", panels, strips, cutting_gap=3.0)
    return case_of([COAT], project, Terms(steps=100), whole=project, progress=None)


@pytest.fixture
def asked() -> tuple[Case, Layout]:
    about = case(panel(cut=2))
    found = arrange(about.safe, about.project, about.budget())
    assert found.complete
    return about, found


def test_a_right_layout_is_given(asked: tuple[Case, Layout]) -> None:
    about, found = asked
    answer = answer_of(about, Verdict.YES, ("It fits.",), layout=found, spare=4.0)
    assert (answer.verdict, answer.spare, answer.reasons) == (Verdict.YES, 4.0, ("It fits.",))
    assert len(answer.placements) == 2
    assert answer.left_over["shell"].area == pytest.approx(400 * 500 - 2 * 100 * 100, abs=500)


@pytest.mark.parametrize("wrong", ["on each other", "off the cloth", "askew", "one gone"])
def test_a_wrong_layout_is_not_given(asked: tuple[Case, Layout], wrong: str) -> None:
    about, found = asked
    one, two = found.placed
    placed = {
        "on each other": (one, replace(one)),
        "off the cloth": (one, replace(two, x=two.x + 400.0)),
        "askew": (one, replace(two, angle=30.0)),
        "one gone": (one,),
    }[wrong]
    answer = answer_of(about, Verdict.YES, ("It fits.",), layout=replace(found, placed=placed), spare=4.0)
    assert (answer.verdict, answer.spare, answer.placements) == (Verdict.UNSETTLED, None, ())
    assert "It fits." not in answer.reasons


def test_a_part_of_the_project_may_be_shown_as_such(asked: tuple[Case, Layout]) -> None:
    about, found = asked
    part = replace(found, placed=found.placed[:1], unplaced=(0,))
    answer = answer_of(about, Verdict.UNSETTLED, (), layout=part, not_placed=("body",))
    assert len(answer.placements) == 1


def test_a_proof_that_is_doubted_is_no_proof() -> None:
    about = case(panel())
    claimed = Proof(TooLittleCloth("shell", 1e9, 0.0, panels=("body",)), Question((), ()))
    assert about.confirmed(claimed, about.budget()) is None
    assert len(about.doubts) == 1
    about.confirmed(claimed, about.budget())
    assert len(about.doubts) == 1  # said once
    assert about.confirmed(None, about.budget()) is None


def test_a_layout_that_leaves_room_keeps_off_by_as_much(asked: tuple[Case, Layout]) -> None:
    about, found = asked
    away = min(each.shape.distance(box(0, 0, 400, 500).exterior) for each in found.placements())
    assert about.keeps_off(found, 0.5)
    assert not about.keeps_off(found, away + 1.0)


def test_a_fabric_of_which_there_is_none_is_a_no_at_once() -> None:
    about = case(panel(), panel("lining", fabric="Lining"))
    answer = missing_fabric(about, about.budget())
    assert answer is not None
    assert answer.verdict is Verdict.NO
    assert answer.proof is not None
    assert "Lining" in answer.reasons[0]
    there = case(panel(fabric=" SHELL"))
    assert missing_fabric(there, there.budget()) is None


def test_more_than_can_be_laid_out_is_refused_unless_there_is_no_cloth_for_it() -> None:
    require_few_enough(case(panel(side=2.0, cut=2000)))
    with pytest.raises(SalvageError, match=r"asks for 2,001 shapes, 2,000 of them 'dot'"):
        require_few_enough(case(panel("dot", side=2.0, cut=2000), panel(side=10.0)))
    require_few_enough(case(panel(side=100.0, cut=3000)))  # its area says no, and that is a better answer

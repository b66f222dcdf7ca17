"""Neither found nor proved: the best part is shown and filled up, and what is left out is named."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small_cases import case, garment, square

from salvage.fit.answer import Verdict
from salvage.fit.ask import Plan
from salvage.fit.layout.found import Layout, nothing_laid
from salvage.fit.question import Placed
from salvage.fit.verdict.case import Case
from salvage.fit.verdict.unsettled import unsettled

CORNERS = ((0.0, 0.0), (105.0, 0.0), (0.0, 110.0), (105.0, 110.0))


def part(about: Case, count: int) -> Layout:
    """A layout of so many of the squares only, each in a corner of a cloth of 205 x 210."""
    (one,) = about.project.panels
    empty = nothing_laid(about.lay, about.project, Plan.whole(about.project))
    placed = tuple(Placed(0, 0, 0.0, False, x, y) for x, y in CORNERS[:count])
    return replace(empty, placed=placed, unplaced=(0,) * (one.cut - count))


def test_what_is_left_out_is_named_and_the_rest_shown() -> None:
    """Five squares of 100 on 205 x 210: four are laid, the fifth has no room."""
    about = case(garment("coat", (205, 210)), items=(square("a", 100.0, cut=5),), brief=True)
    answer = unsettled(about, [part(about, 2), part(about, 4), part(about, 1)], about.budget())
    assert answer.verdict is Verdict.UNSETTLED
    assert answer.not_placed == ("a",)
    assert len(answer.placements) == 4
    assert answer.spare is None
    assert "4 of 5 shapes, 80 % of the cloth asked for" in answer.reasons[0]
    assert "left out: a." in answer.reasons[0]


def test_a_part_that_can_be_filled_up_is_a_yes() -> None:
    about = case(garment("coat", (205, 210)), items=(square("a", 100.0, cut=4),), brief=True)
    answer = unsettled(about, [part(about, 3)], about.budget())
    assert answer.verdict is Verdict.YES
    assert len(answer.placements) == 4


@pytest.mark.parametrize("which", ["rejected", "doubts"])
def test_what_was_rejected_or_doubted_is_said(which: str) -> None:
    about = case(garment("coat", (205, 210)), items=(square("a", 100.0, cut=5),), brief=True)
    plain = unsettled(about, [part(about, 4)], about.budget())
    getattr(about, which).append("a 1 leaves the cloth")
    told = unsettled(about, [part(about, 4)], about.budget())
    assert len(told.reasons) == len(plain.reasons) + 1


def test_the_best_part_is_filled_up_as_far_as_it_goes() -> None:
    about = case(garment("coat", (205, 210)), items=(square("a", 100.0, cut=5),), brief=True)
    assert len(unsettled(about, [part(about, 2)], about.budget()).placements) == 4


@pytest.mark.parametrize("counts", [(2, 3, 1), (3, 1, 2), (1, 2, 3)])
def test_the_part_with_most_cloth_is_the_one_filled_up(
    counts: tuple[int, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Told apart where filling up finds nothing more."""
    monkeypatch.setattr("salvage.fit.verdict.unsettled.filled", lambda layout, _: layout)
    about = case(garment("coat", (205, 210)), items=(square("a", 100.0, cut=5),), brief=True)
    answer = unsettled(about, [part(about, count) for count in counts], about.budget())
    assert len(answer.placements) == 3


def test_what_would_help_is_told_unless_brief() -> None:
    items = (square("a", 100.0, cut=5),)
    thorough = case(garment("coat", (205, 210)), items=items)
    assert unsettled(thorough, [part(thorough, 4)], thorough.budget()).helps
    brief = case(garment("coat", (205, 210)), items=items, brief=True)
    answer = unsettled(brief, [part(brief, 4)], brief.budget())
    assert (answer.helps, answer.largest_scale_percent) == ((), None)

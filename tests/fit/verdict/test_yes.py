"""A project that can be cut: by how much it keeps off the edges decides what it is called."""

from __future__ import annotations

import pytest
from small_cases import case, garment, square

from salvage.fit.answer import Verdict
from salvage.fit.check.check import check
from salvage.fit.layout.arrange import arrange
from salvage.fit.verdict.case import Case
from salvage.fit.verdict.search import Searched
from salvage.fit.verdict.yes import accepted


def searched(about: Case) -> Searched:
    found = arrange(about.lay, about.project, about.budget())
    assert found.complete
    return Searched(found)


@pytest.mark.parametrize(
    ("side", "verdict"), [(100.0, Verdict.YES), (190.0, Verdict.YES), (196.0, Verdict.TOO_CLOSE)]
)
@pytest.mark.parametrize("brief", [True, False])
def test_a_square_in_the_middle_of_a_square(side: float, verdict: Verdict, brief: bool) -> None:
    """Its edges good to 4 mm, a cloth of 200 has 5 to spare round 190 and 2 round 196."""
    about = case(garment("coat", (200, 200), edge=4.0), items=(square("a", side),), brief=brief)
    answer = accepted(about, searched(about), about.budget())
    assert answer.verdict is verdict
    assert answer.spare is not None
    room = (200.0 - side) / 2
    assert answer.spare <= room + 1e-6
    assert (answer.spare >= answer.plus_minus) == (verdict is Verdict.YES)
    assert answer.plus_minus == pytest.approx(4.0)
    # what is shown keeps off by the plus-minus, or by the spare where that is less
    kept = min(answer.spare, answer.plus_minus)
    assert check(about.garments, about.project, answer.placements, shrunk_by=kept) == ()


def test_too_close_is_told_with_what_would_make_it_sure() -> None:
    about = case(garment("coat", (200, 200), edge=4.0), items=(square("a", 196.0),))
    answer = accepted(about, searched(about), about.budget())
    assert answer.spare is not None
    assert 1.0 <= answer.spare <= 2.0
    assert answer.helps
    assert answer.largest_scale_percent is not None


def test_the_scale_that_still_fits_is_told() -> None:
    """100 on 210, edges known exactly: 210 %, but never more than that."""
    about = case(garment("coat", (210, 210)), items=(square("a", 100.0),))
    answer = accepted(about, searched(about), about.budget())
    assert answer.verdict is Verdict.YES
    assert answer.largest_scale_percent is not None
    assert 100 <= answer.largest_scale_percent <= 210


def test_an_open_number_has_no_scale_but_is_told() -> None:
    about = case(garment("coat", (200, 100)), items=(square("a", 100.0, many=True),))
    answer = accepted(about, searched(about), about.budget())
    assert answer.many == {"a": 1}
    assert answer.largest_scale_percent is None


def test_brief_is_done_where_the_layout_at_hand_is_safe() -> None:
    """What nobody asked for isn't worked out: no words, no scale, no layout with more room; where it isn't safe, it is."""
    about = case(garment("coat", (200, 200), edge=4.0), items=(square("a", 100.0),), brief=True)
    found = arrange(about.safe, about.project, about.budget())
    answer = accepted(about, Searched(found), about.budget())
    assert (answer.verdict, answer.reasons, answer.largest_scale_percent) == (Verdict.YES, (), None)
    assert answer.placements == found.placements()
    close = case(garment("coat", (200, 200), edge=4.0), items=(square("a", 196.0),), brief=True)
    assert accepted(close, searched(close), close.budget()).reasons


def test_brief_asks_the_checker_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the search says that a layout keeps off the edges by."""
    about = case(garment("coat", (200, 200), edge=4.0), items=(square("a", 190.0),), brief=True)
    monkeypatch.setattr("salvage.fit.verdict.yes.clearance", lambda *_: 50.0)
    answer = accepted(about, searched(about), about.budget())
    assert answer.spare is not None
    assert answer.spare <= 5.0 + 1e-6

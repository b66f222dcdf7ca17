"""What would help: evident changes are found, each is laid out again, and brief asks for none."""

from __future__ import annotations

import pytest
from small_cases import case, garment, square

from salvage.fit.answer import HelpKind
from salvage.fit.verdict.changes import what_helps


def test_the_scale_is_what_the_largest_square_needs() -> None:
    """A square of 250 on 200 fits at 80 %, and made 200 large."""
    about = case(garment("coat", (200, 200)), items=(square("a", 250.0),))
    scale, helps = what_helps(about, about.budget(), first=("a",))
    assert scale is not None
    assert 79.0 <= scale <= 80.0
    shrunk = [each for each in helps if each.kind in (HelpKind.SHRINK, HelpKind.SCALE)]
    assert shrunk
    for each in shrunk:
        for edit in each.edits:
            assert isinstance(edit.after, tuple)
            assert max(float(side) for side in edit.after) <= 250.0


def test_on_the_safe_side_of_the_plus_minus() -> None:
    """Edges good to 4 mm leave 192 of 200: 76.8 % of 250."""
    about = case(garment("coat", (200, 200), edge=4.0), items=(square("a", 250.0),))
    scale, _ = what_helps(about, about.budget(), first=("a",))
    assert scale == pytest.approx(76.8, abs=1.0)
    assert scale is not None
    assert scale <= 76.8


def test_brief_asks_for_nothing() -> None:
    about = case(garment("coat", (200, 200)), items=(square("a", 250.0),), brief=True)
    assert what_helps(about, about.budget(), first=("a",)) == (None, ())

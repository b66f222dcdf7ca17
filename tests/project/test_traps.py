"""What a project file most likely doesn't mean is told, and what it does mean isn't."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from salvage.project.project import Panel, Strip
from salvage.project.read import project_from
from salvage.project.traps import notes_on
from salvage.units import Unit

PANEL = {"name": "body", "size": [200, 300]}


def notes(**data: Any) -> list[str]:
    return list(project_from({"panel": [PANEL], **data}, folder=Path()).notes)


def test_a_plain_project_has_no_note() -> None:
    assert notes() == []
    assert notes(seam_allowance=10) == []
    assert notes(units="in", panel=[{"name": "body", "size": ["7 1/2", 12]}], seam_allowance="3/8") == []


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"panel": [{"name": "body", "size": [10, 15]}]}, "only 15.0 mm"),
        ({"units": "in", "panel": [{"name": "body", "size": [20, 150]}]}, "body is 3.8 m long"),
        ({"seam_allowance": "3/8"}, '"3/8in"'),
        ({"seam_allowance": 1}, "very little"),
        ({"units": "cm", "panel": [{"name": "body", "size": [20, 30]}], "seam_allowance": 10}, "very much"),
        ({"panel": [{"name": "body", "finished": [200, 300]}]}, "body would be cut at the finished size"),
        ({"strip": [{"name": "tie", "finished_width": 20, "length": 300}]}, "tie would be cut"),
    ],
)
def test_each_trap_is_told_once(data: dict[str, Any], says: str) -> None:
    (note,) = notes(**data)
    assert says in note


def test_what_is_said_outright_is_meant() -> None:
    assert notes(panel=[{"name": "body", "finished": [200, 300]}], seam_allowance=0) == []
    assert notes(panel=[{"name": "body", "finished": [200, 300], "seam_allowance": 0}]) == []
    assert notes(strip=[{"name": "tie", "finished_width": 20, "folds": 4, "length": 300}]) == []
    assert notes(seam_allowance=3) == []
    assert notes(seam_allowance=40) == []


def told(
    data: dict[str, Any], unit: Unit = Unit.MM, side: float = 300.0, allowance: float = 0.0
) -> tuple[str, ...]:
    """The notes on a file, with one square panel of that side read from it."""
    square = Panel("body", ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side)), seam_allowance=allowance)
    return notes_on({"seam_allowance": allowance, **data}, (square,), (), unit)


@pytest.mark.parametrize(("side", "noted"), [(19.9, True), (20.0, False), (2500.0, False), (2500.1, True)])
def test_sizes_are_doubted_beyond_two_centimetres_and_two_and_a_half_metres(side: float, noted: bool) -> None:
    assert bool(told({}, side=side)) == noted


def test_a_long_strip_says_that_the_unit_is_right() -> None:
    tiny = Panel("tab", ((0.0, 0.0), (15.0, 0.0), (15.0, 15.0), (0.0, 15.0)))
    assert notes_on({"seam_allowance": 0}, (tiny,), (), Unit.MM)
    assert not notes_on({"seam_allowance": 0}, (tiny,), (Strip("tie", 20.0, 400.0),), Unit.MM)


@pytest.mark.parametrize(
    ("allowance", "noted"), [(2.9, True), (3.0, False), (40.0, False), (40.1, True), (0.0, False)]
)
def test_allowances_are_doubted_that_nobody_sews_with(allowance: float, noted: bool) -> None:
    assert bool(told({}, allowance=allowance)) == noted


@pytest.mark.parametrize(
    ("text", "unit", "says"),
    [
        ("1/2", Unit.MM, "that is 0.5 mm"),
        ("7 1/2", Unit.MM, "that is 7.5 mm"),
        ("7-1/4", Unit.CM, "that is 72.5 mm"),
        ("3/4", Unit.CM, "that is 7.5 mm"),
    ],
)
def test_a_bare_fraction_is_told_with_what_it_was_taken_for(text: str, unit: Unit, says: str) -> None:
    (note,) = told({"panel": [{"name": "1/2", "size": [text, 200]}]}, unit)
    assert says in note
    assert f'"{text}in"' in note
    assert told({"panel": [{"name": "body", "size": [text, 200]}]}, Unit.INCH) == ()
    assert told({"panel": [{"name": "body", "size": [f"{text}in", 200]}]}, unit) == ()


def test_fractions_are_counted_and_told_once() -> None:
    (note,) = told(
        {"panel": [{"name": "body", "size": ["7 1/2", "9 1/2"]}, {"name": "b", "size": ["7 1/2", 3]}]}
    )
    assert "(and 1 more like it)" in note


def test_four_that_have_no_allowance_are_named_and_the_others_counted() -> None:
    entries = [{"name": f"p{n}", "finished": [100, 100]} for n in range(6)]
    told_zero = {"name": "tab", "finished": [100, 100], "seam_allowance": 0}
    square = Panel("p0", ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)))
    (note,) = notes_on({"panel": [*entries, told_zero]}, (square,), (), Unit.MM)
    assert "p0, p1, p2, p3 and 2 more would be cut" in note
    assert "tab" not in note

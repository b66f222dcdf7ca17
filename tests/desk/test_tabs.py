"""One tab at a time works on a record, and a tab that fell silent holds nobody up."""

from __future__ import annotations

from typing import Any

import pytest

from salvage.desk import tabs
from salvage.desk.tabs import QUIET, Elsewhere, Tabs


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    now = [1000.0]
    monkeypatch.setattr(tabs.time, "monotonic", lambda: now[0])
    return now


def test_the_first_tab_has_the_place_and_another_is_told(clock: Any) -> None:
    there = Tabs()
    assert there.holds("coat.json", "one")
    assert not there.holds("coat.json", "two")
    assert there.holds("shirt.json", "two")  # of each record by itself
    there.require("coat.json", "one")
    with pytest.raises(Elsewhere, match="Take over"):
        there.require("coat.json", "two")


def test_a_place_taken_over_is_lost_to_who_had_it(clock: Any) -> None:
    there = Tabs()
    there.holds("coat.json", "one")
    assert there.holds("coat.json", "two", take=True)
    assert not there.holds("coat.json", "one")


@pytest.mark.parametrize(("silent", "free"), [(QUIET, False), (QUIET + 0.1, True)])
def test_a_place_is_free_when_its_tab_fell_silent(clock: list[float], silent: float, free: bool) -> None:
    there = Tabs()
    there.holds("coat.json", "one")
    clock[0] += 5.0
    there.holds("coat.json", "one")  # it spoke again
    clock[0] += silent
    assert there.holds("coat.json", "two") is free


def test_who_asks_in_vain_keeps_nobody_in_place(clock: list[float]) -> None:
    there = Tabs()
    there.holds("coat.json", "one")
    clock[0] += QUIET / 2
    there.holds("coat.json", "two")
    clock[0] += QUIET / 2 + 0.1
    assert there.holds("coat.json", "three")


def test_only_who_has_the_place_can_leave_it(clock: Any) -> None:
    there = Tabs()
    there.holds("coat.json", "one")
    there.leave("coat.json", "two")
    assert not there.holds("coat.json", "two")
    there.leave("coat.json", "one")
    assert there.holds("coat.json", "two")
    there.leave("nothing.json", "one")

"""After a cut: records of rests never take the place of others, and the garment's own says what became of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from rail_garments import cloth
from shapely.geometry import box

from salvage.cloth.garment import Garment
from salvage.cloth.record.file import read_garment
from salvage.errors import SalvageError
from salvage.rail.cut import cut_today, keep_new
from salvage.rail.note import Used, mark_free, used_of

COAT = cloth("coat", box(0, 0, 300, 400))


def test_a_rest_is_written_where_there_is_none(tmp_path: Path) -> None:
    keep_new(tmp_path / "rest.json", COAT)
    assert read_garment(tmp_path / "rest.json").name == "coat"


def test_a_record_that_is_there_stays_as_it_is(tmp_path: Path) -> None:
    place = tmp_path / "rest.json"
    keep_new(place, COAT)
    before = place.read_bytes()
    with pytest.raises(SalvageError, match=r"rest\.json: is there already, so it stays"):
        keep_new(place, replace(COAT, name="another"))
    assert place.read_bytes() == before


def test_a_garment_that_was_cut_says_for_what_and_where_its_rest_is() -> None:
    cut = cut_today(COAT, "Tool roll", "rest.json")
    assert used_of(cut) == Used("Tool roll", date.today().isoformat(), "rest.json")
    assert used_of(mark_free(cut)) is None


@pytest.mark.parametrize(
    ("used", "words"),
    [
        (Used(), "used up"),
        (Used("Tool roll"), "cut for Tool roll"),
        (Used("Tool roll", "2026-11-26"), "cut for Tool roll on 2026-11-26"),
        (Used("", "2026-11-26", "rest.json"), "used up on 2026-11-26"),
    ],
)
def test_how_a_garment_was_used_up_is_said(used: Used, words: str) -> None:
    assert used.words == words


@pytest.mark.parametrize(
    ("written", "used"), [(True, True), ({}, True), (False, False), ("yes", False), (1, False)]
)
def test_what_a_person_may_write_for_used_up(written: object, used: bool) -> None:
    assert (used_of(Garment("coat", (), extra={"used": written})) is not None) is used

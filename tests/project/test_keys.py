"""Keys of the project file, one by one: what is taken, what is refused, and that lengths land in mm."""

from __future__ import annotations

import math
from enum import StrEnum
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.errors import SalvageError
from salvage.project.keys import (
    choice_of,
    count_of,
    flag_of,
    length_of,
    number_of,
    only_distinct,
    only_known,
    pair_of,
    parsed,
    size_of,
    tables_of,
    text_of,
)
from salvage.units import Unit

WHERE = "panel 'flap'"
MM = {
    Unit.MM: 1.0,
    Unit.CM: 10.0,
    Unit.INCH: 25.4,
}  # an inch is 25.4 mm: international yard and pound agreement, 1959


@given(st.sampled_from(list(Unit)), st.floats(1.0, 300.0), st.floats(1.0, 300.0))
def test_a_pair_is_width_and_length_in_mm(unit: Unit, width: float, length: float) -> None:
    assert pair_of([width, length], unit, WHERE) == pytest.approx((width * MM[unit], length * MM[unit]))


@given(st.sampled_from(list(Unit)), st.integers(1, 15))
def test_fractions_and_signs(unit: Unit, sixteenths: int) -> None:
    said = f"{sixteenths}/16"
    assert parsed(said, unit, WHERE) == pytest.approx(sixteenths / 16 * MM[unit])
    assert parsed(f"-{said}", unit, WHERE, signed=True) == pytest.approx(-sixteenths / 16 * MM[unit])
    with pytest.raises(SalvageError, match="panel 'flap'"):
        parsed(f"-{said}", unit, WHERE)


@pytest.mark.parametrize("wrong", [[0, 60], [60, 0.05], [60], "60", [60, 10_001], [60, -60], [math.nan, 60]])
def test_what_is_no_size_is_refused(wrong: Any) -> None:
    with pytest.raises(SalvageError, match="panel 'flap'"):
        pair_of(wrong, Unit.MM, WHERE)


def test_the_smallest_and_the_largest_are_taken() -> None:
    assert pair_of([0.1, 10_000], Unit.MM, WHERE) == (0.1, 10_000.0)
    assert pair_of([-20_000, 0], Unit.MM, WHERE, signed=True) == (-20_000.0, 0.0)  # corners of an outline
    assert size_of({"zip": 0.1}, "zip", Unit.MM, WHERE) == 0.1
    assert length_of({}, "hem", Unit.CM, WHERE, default=20.0) == 20.0  # a default is in mm
    assert length_of({"hem": 2}, "hem", Unit.CM, WHERE, default=20.0) == 20.0
    for key, value in (("zip", 0.05), ("zip", 10_001)):
        with pytest.raises(SalvageError, match=key):
            size_of({key: value}, key, Unit.MM, WHERE)
    with pytest.raises(SalvageError, match="zip must be more than 0"):
        size_of({}, "zip", Unit.MM, WHERE)


@pytest.mark.parametrize(
    ("value", "taken"),
    [(1, True), (1000, True), (0, False), (1001, False), (True, False), ("2", False), (2.0, False)],
)
def test_counts(value: Any, taken: bool) -> None:
    if taken:
        assert count_of({"cut": value}, "cut", WHERE, default=1, least=1, most=1000) == value
        return
    with pytest.raises(SalvageError, match="cut must be a whole number, from 1 to 1000"):
        count_of({"cut": value}, "cut", WHERE, default=1, least=1, most=1000)


@pytest.mark.parametrize(
    ("value", "taken"), [(0, True), (45, True), (45.1, False), (-0.1, False), (True, False)]
)
def test_numbers(value: Any, taken: bool) -> None:
    if taken:
        assert number_of({"off_grain": value}, "off_grain", WHERE, default=0.0, most=45) == value
        return
    with pytest.raises(SalvageError, match="from 0 to 45"):
        number_of({"off_grain": value}, "off_grain", WHERE, default=0.0, most=45)


def test_texts_flags_and_choices() -> None:
    class Way(StrEnum):
        ALONG = "along"
        ACROSS = "across"

    assert text_of({"name": " flap "}, "name", WHERE) == "flap"
    assert text_of({}, "fabric", WHERE, default="shell") == "shell"
    assert flag_of({}, "flip", WHERE) is False
    assert flag_of({"flip": True}, "flip", WHERE) is True
    assert choice_of({"grain": "across"}, "grain", Way, Way.ALONG, WHERE) is Way.ACROSS
    assert choice_of({}, "grain", Way, Way.ALONG, WHERE) is Way.ALONG
    for call in (
        lambda: text_of({"name": "  "}, "name", WHERE),
        lambda: text_of({}, "name", WHERE),
        lambda: text_of({"name": "n" * 201}, "name", WHERE),
        lambda: flag_of({"flip": 1}, "flip", WHERE),
        lambda: choice_of({"grain": "up"}, "grain", Way, Way.ALONG, WHERE),
    ):
        with pytest.raises(SalvageError, match="panel 'flap'"):
            call()
    assert text_of({"name": "n" * 200}, "name", WHERE) == "n" * 200


def test_a_slip_is_told_with_what_was_meant_and_a_name_used_twice() -> None:
    only_known({"grain": 1}, {"grain"}, WHERE)
    with pytest.raises(SalvageError, match="Did you mean 'grain'"):
        only_known({"grian": 1}, {"grain", "size"}, WHERE)
    with pytest.raises(SalvageError, match="Known here: grain, size"):
        only_known({"weight": 1}, {"size", "grain"}, WHERE)
    only_distinct(["flap", "back"])
    with pytest.raises(SalvageError, match="'flap' is used more than once"):
        only_distinct(["flap", "back", "flap"])


@pytest.mark.parametrize("wrong", [{}, [1], "x", {"a": 1}])
def test_tables_are_lists_of_tables(wrong: Any) -> None:
    assert tables_of({}, "panel") == []
    assert tables_of({"panel": [{"name": "a"}]}, "panel") == [{"name": "a"}]
    with pytest.raises(SalvageError, match=r"\[\[panel\]\]"):
        tables_of({"panel": wrong}, "panel")

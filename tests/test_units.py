from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.errors import UsageError
from salvage.units import (
    Unit,
    format_apart,
    format_area,
    format_exact,
    format_exact_size,
    format_length,
    format_size,
    parse_length,
)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("150mm", 150.0), ("150", 150.0), ("15 cm", 150.0), ("6in", 152.4), ('6"', 152.4), ("3/8 in", 9.525),
        ("1 1/4 in", 31.75), ("1-1/4in", 31.75), ("0,5cm", 5.0), (".5 in", 12.7), (7, 7.0), (2.5, 2.5),
    ],
)  # fmt: skip
def test_lengths_as_people_write_them(text: str | float, mm: float) -> None:
    assert parse_length(text) == pytest.approx(mm)


def test_a_bare_number_is_in_the_unit_of_the_file() -> None:
    assert parse_length("3/8", Unit.INCH) == pytest.approx(9.525)
    assert parse_length(14, Unit.CM) == pytest.approx(140)


@pytest.mark.parametrize(
    "text", ["", "long", "5 feet", "1/0", "--3", "3 mm mm", True, float("nan"), float("inf")]
)
def test_what_is_no_length_is_refused(text: object) -> None:
    with pytest.raises(UsageError):
        parse_length(text)  # type: ignore[arg-type]


@given(st.floats(0, 5000))
def test_inches_are_written_to_the_nearest_sixteenth(length: float) -> None:
    written = format_length(length, Unit.INCH)
    assert abs(parse_length(written) - length) <= 25.4 / 32 + 1e-9


@given(st.floats(0, 5000), st.sampled_from([Unit.MM, Unit.CM]))
def test_metric_lengths_are_written_to_a_millimetre(length: float, unit: Unit) -> None:
    assert abs(parse_length(format_length(length, unit)) - length) <= 0.5 + 1e-9


@pytest.mark.parametrize(
    ("length", "unit", "text"),
    [
        (150.0, Unit.INCH, "5.91 in"), (152.4, Unit.INCH, "6 in"), (9.525, Unit.INCH, "3/8 in"), (9.5, Unit.INCH, "3/8 in"),
        (150.0, Unit.MM, "150 mm"), (9.525, Unit.MM, "9.5 mm"), (9.525, Unit.CM, "0.95 cm"), (150.0, Unit.CM, "15 cm"),
        (2540.0, Unit.INCH, "100 in"), (100.0, Unit.MM, "100 mm"), (0.0, Unit.CM, "0 cm"),
    ],
)  # fmt: skip
def test_a_known_length_is_not_rounded_to_a_mark_it_does_not_lie_on(
    length: float, unit: Unit, text: str
) -> None:
    assert format_exact(length, unit) == text


@given(st.floats(0, 3000), st.sampled_from(list(Unit)))
def test_a_known_length_is_written_to_a_sixth_of_a_millimetre(length: float, unit: Unit) -> None:
    assert abs(parse_length(format_exact(length, unit)) - length) <= 25.4 / 200 + 1e-9


@given(st.floats(1, 3000), st.floats(0.01, 30), st.sampled_from(list(Unit)))
def test_two_lengths_that_differ_read_differently_and_in_the_right_order(
    length: float, more: float, unit: Unit
) -> None:
    less, greater = (parse_length(text) for text in format_apart(length, length + more, unit))
    assert less < greater


def test_areas_in_units_people_think_in() -> None:
    assert format_area(123_400.0) == "1,234 cm²"
    assert format_area(25.4 * 25.4 * 10, Unit.INCH) == "10 sq in"


def test_a_size_is_written_width_first_in_one_unit() -> None:
    assert format_size((272.6, 346.2)) == "273 × 346 mm"
    assert format_size((272.6, 346.2), Unit.CM) == "27.3 × 34.6 cm"
    assert format_exact_size((152.4, 200.025), Unit.INCH) == "6 × 7 7/8 in"
    assert (
        format_exact_size((152.4, 197.0), Unit.INCH) == "6.00 × 7.76 in"
    )  # fractions and decimals don't mix

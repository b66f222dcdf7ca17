"""A spare and a plus-minus never read the wrong way round, however near they are."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.fit.say.phrases import against
from salvage.units import Unit, parse_length


@given(st.floats(0, 60), st.floats(0.01, 60), st.sampled_from(list(Unit)))
def test_what_is_told_is_cautious_and_in_the_right_order(spare: float, plus_minus: float, unit: Unit) -> None:
    less, good = (parse_length(text) for text in against(spare, plus_minus, unit))
    assert less <= spare + 1e-6
    assert good >= plus_minus - 1e-6
    if abs(spare - plus_minus) > 0.001:
        assert (less < good) == (spare < plus_minus)


@pytest.mark.parametrize(
    ("spare", "plus_minus", "unit", "told"),
    [
        (3.44, 3.9, Unit.MM, ("3.4 mm", "3.9 mm")),
        (4.05, 4.02, Unit.MM, ("4.05 mm", "4.02 mm")),
        (4.0, 3.5, Unit.INCH, ("0.15 in", "0.14 in")),
        (12.7, 3.175, Unit.INCH, ("1/2 in", "1/8 in")),
    ],
)
def test_as_many_digits_as_it_takes(
    spare: float, plus_minus: float, unit: Unit, told: tuple[str, str]
) -> None:
    assert against(spare, plus_minus, unit) == told

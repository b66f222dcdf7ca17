"""Names told apart by number."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from salvage.naming import free_name_in, numbered


@given(st.lists(st.sampled_from(["a", "a 2", "a 3", "b"]), max_size=8))
def test_every_name_comes_once_and_the_first_of_each_keeps_its_own(names: list[str]) -> None:
    told = numbered(names)
    assert len(set(told)) == len(told) == len(names)
    assert told[:1] == names[:1]


def test_later_ones_are_numbered_in_the_form_that_is_wanted() -> None:
    assert numbered(["sleeve", "back", "sleeve", "sleeve"]) == ["sleeve", "back", "sleeve 2", "sleeve 3"]
    assert numbered(["back", "back"], "{name} ({number})") == ["back", "back (2)"]


def test_a_number_that_is_taken_is_passed_over() -> None:
    taken = {"back", "back 2"}
    assert free_name_in("back", taken) == "back 3"
    assert "back 3" in taken

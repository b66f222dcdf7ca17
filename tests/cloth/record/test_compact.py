"""JSON for people: the same values as any JSON, a ring on one line."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.cloth.record.compact import compact_json, text_within

VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=20,
)


@settings(max_examples=150)
@given(VALUES)
def test_any_reader_of_json_reads_the_same(value: Any) -> None:
    text = compact_json(value)
    assert text.endswith("\n")
    assert json.loads(text) == value


@given(VALUES)
def test_a_text_made_before_stands_in_its_place(value: Any) -> None:
    whole = {"name": "coat", "pieces": [value, {"inside": value}]}
    ready = {"name": "coat", "pieces": [text_within(value, 2), {"inside": text_within(value, 3)}]}
    assert json.loads(compact_json(ready)) == whole
    assert compact_json(ready) == compact_json(whole) or not isinstance(value, (dict, list)) or not value


def test_a_ring_is_one_line_and_a_small_object_too() -> None:
    ring = [[0.0, 0.0], [620.5, 0.0], [620.5, 700.0]]
    lines = compact_json(
        {"outline": {"type": "Polygon", "coordinates": [ring]}, "plus": {"edge": 2.0}}
    ).splitlines()
    assert json.dumps(ring) in [line.strip() for line in lines]
    assert ' "plus": {"edge": 2.0}' in lines


@pytest.mark.parametrize("number", [float("nan"), float("inf")])
def test_what_json_has_not_is_refused(number: float) -> None:
    with pytest.raises(ValueError, match="JSON"):
        compact_json({"edge": number})

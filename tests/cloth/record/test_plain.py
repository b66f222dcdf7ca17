"""What JSON holds, checked as it is taken: slips are named, what is unknown is kept, nothing odd passes."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import pytest

from salvage.cloth.record import plain
from salvage.cloth.record.plain import NotPlainError
from salvage.errors import SalvageError
from salvage.project.project import Grain

KNOWN = {"what", "one_way", "grain", "outline", "plus_minus"}


@pytest.mark.parametrize(
    ("key", "meant"),
    [
        ("oneWay", "one_way"),
        ("One-Way", "one_way"),
        ("gain", "grain"),
        ("outlien", "outline"),
        ("grian", "grain"),
        ("waht", "what"),
    ],
)
def test_a_slip_is_named_and_not_kept(key: str, meant: str) -> None:
    with pytest.raises(
        SalvageError, match=rf"coat: piece 1: '{key}' means nothing here\. Did you mean '{meant}'"
    ):
        plain.unknown_in({key: 1, "grain": 2}, KNOWN, "coat: piece 1")


def test_what_nobody_knows_is_kept() -> None:
    assert plain.unknown_in({"film": "400", "grain": 90}, KNOWN, "coat") == {"film": "400"}
    data = {"photo": {"file": "a.jpg", "film": 400}, "plus_minus": {"edge": 1}, "camera": {"lens": 2}}
    known = {"photo": {"file"}, "plus_minus": {"edge"}, "pieces": {"name"}}
    assert plain.unknown_inside(data, known, "coat") == {"photo": {"film": 400}}


@pytest.mark.parametrize("value", [math.nan, math.inf, [1, [math.nan]], {"a": {"b": -math.inf}}])
def test_what_is_no_number_is_not_kept(value: Any) -> None:
    with pytest.raises(SalvageError, match=r"film.*is not a number"):
        plain.unknown_in({"film": value}, KNOWN, "coat")
    with pytest.raises(SalvageError, match="is not a number"):
        plain.as_object({"film": value}, "coat")


def test_a_key_that_stands_twice_is_refused() -> None:
    with pytest.raises(NotPlainError, match="'grain' stands twice"):
        json.loads('{"grain": 90, "grain": 0}', object_pairs_hook=plain.once_each)
    assert json.loads('{"a": {"grain": 1}, "grain": 2}', object_pairs_hook=plain.once_each)["grain"] == 2


def nested(deep: int) -> Any:
    data: Any = 1
    for level in range(deep):
        data = [data] if level % 2 else {"a": data}
    return data


def test_depth_has_an_end() -> None:
    plain.not_deep(nested(40))
    with pytest.raises(NotPlainError, match="deep in each other"):
        plain.not_deep(nested(60))


@pytest.mark.parametrize(
    ("read", "bad"),
    [
        (plain.as_object, [1]),
        (plain.as_list, {"a": 1}),
        (plain.as_text, 7),
        (plain.as_text, "half \ud800"),
        (plain.as_text, "x" * 201),
        (plain.as_texts, ["a", 1]),
        (plain.as_number, True),
        (plain.as_number, "3"),
        (plain.as_number, math.nan),
        (plain.as_number, 1e9),
        (plain.as_share, 1.01),
        (plain.as_share, -0.01),
    ],
)
def test_what_is_not_of_its_kind_is_refused_with_its_place(read: Callable[[Any, str], Any], bad: Any) -> None:
    with pytest.raises(SalvageError, match=r"^coat: name: "):
        read(bad, "coat: name")


def test_what_is_of_its_kind_is_taken() -> None:
    assert plain.as_object(None, "w") == {}
    assert plain.as_texts(["a", "b"], "w") == ("a", "b")
    assert plain.as_text("x" * 201, "w: cautions") == "x" * 201
    assert plain.as_number(-3, "w") == -3.0
    assert plain.as_share(1, "w") == 1.0


def test_a_choice_that_is_none_tells_what_there_is() -> None:
    assert plain.as_choice(Grain, "bias", "w") is Grain.BIAS
    with pytest.raises(SalvageError, match=r"w: 'warp' is not known\. Write one of along, across"):
        plain.as_choice(Grain, "warp", "w")

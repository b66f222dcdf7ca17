"""JSON that a person can find their way in: what belongs together stands on one line, a ring is one line."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False)  # json.dumps would make one for every line
_LINE = 100  # letters up to which an object of single values stands on one line


class Ready(str):
    """A text that was made before, by `text_within`, and stands in a value in place of what it says."""

    __slots__ = ()


def text_within(value: Any, depth: int) -> Ready:
    """The text of a value that stands so deep within others."""
    return Ready(_text(value, " " * depth))


def compact_json(value: Any) -> str:
    """The text of a JSON value, ending in a newline. Raises ValueError for numbers that JSON has not (NaN)."""
    return _text(value, "") + "\n"


def _text(value: Any, indent: str) -> str:
    if isinstance(value, Ready):
        return str(value)
    deeper = indent + " "
    if isinstance(value, Mapping) and value:
        if all(_single(each) for each in value.values()):
            line = _plain(value)
            if len(line) <= _LINE:
                return line
        lines = [f"{deeper}{_plain(str(key))}: {_text(each, deeper)}" for key, each in value.items()]
        return "{\n" + ",\n".join(lines) + f"\n{indent}}}"
    if isinstance(value, list) and value and not _one_line(value):
        return "[\n" + ",\n".join(deeper + _text(each, deeper) for each in value) + f"\n{indent}]"
    return _plain(value)


def _one_line(values: list[Any]) -> bool:
    """A list of numbers and a list of points are read along one line."""
    return all(_single(each) and not isinstance(each, str) for each in values) or all(
        isinstance(each, list) and all(isinstance(number, int | float) for number in each) for each in values
    )


def _single(value: Any) -> bool:
    return value is None or (isinstance(value, str | int | float) and not isinstance(value, Ready))


def _plain(value: Any) -> str:
    return _ENCODER.encode(value)

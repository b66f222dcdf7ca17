"""JSON that a person can find their way in: what belongs together stands on one line, a ring is one line."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

_LINE = 100  # letters up to which an object of single values stands on one line


def compact_json(value: Any) -> str:
    """The text of a JSON value, ending in a newline. Raises ValueError for numbers that JSON has not (NaN)."""
    return _text(value, "") + "\n"


def _text(value: Any, indent: str) -> str:
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
    return value is None or isinstance(value, str | int | float)


def _plain(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)

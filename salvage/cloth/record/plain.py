"""What JSON holds, checked as it is taken: objects, lists, texts and numbers, with errors that say where.

`where` is the way to a value in the file, as an error tells it. A field that nobody knows is kept, unless it is nearly
a known one.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from salvage.errors import SalvageError, shown

_NEARLY = 0.8  # likeness of two field names, by difflib, from which one is taken as a slip for the other
_DEEPEST = 40
_LONGEST_NAME, _LONGEST_TEXT = 200, 5_000  # letters
_FARTHEST = 1e9  # no number in a record is as large, and what is reckoned with it stays finite


class NotPlainError(ValueError):
    """Something that JSON's own reader lets pass and that would not be read as it was written."""


def once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object of the file. Raises NotPlainError for a key that stands in it twice (RFC 8259, 4: names should be
    unique), for then what was written is not what is read."""
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise NotPlainError(
                f"{shown(key)!r} stands twice in one object, and only one can hold. Take one out."
            )
        found[key] = value
    return found


def _finite(data: Any, where: str) -> None:
    """Raise SalvageError for NaN and Infinity, which JSON's own reader lets pass and its writer doesn't."""
    if isinstance(data, float) and not math.isfinite(data):
        raise SalvageError(f"{where}: {data} is not a number. Mend it, or take it out.")
    if isinstance(data, (dict, list)):
        for each in data.values() if isinstance(data, dict) else data:
            _finite(each, where)


def not_deep(data: Any) -> None:
    """Raise NotPlainError for lists and objects too deep in each other."""
    level = [data]
    for _ in range(_DEEPEST + 2):
        inside = [each.values() if isinstance(each, dict) else each for each in level]
        level = [each for values in inside for each in values if isinstance(each, (dict, list))]
        if not level:
            return
    raise NotPlainError(f"has lists or objects {_DEEPEST} deep in each other. Measure again.")


def unknown_in(data: Mapping[str, Any], known: set[str], where: str) -> dict[str, Any]:
    """Fields to keep. Raises SalvageError for one that is nearly a known one: it is a slip, and dropping it
    quietly could turn a blocked place into good cloth."""
    unknown = {key: value for key, value in data.items() if key not in known}
    for key, value in unknown.items():
        _finite(value, f"{where}: {shown(key)}")
        near = slip([key], known)
        if near:
            raise SalvageError(f"{where}: {shown(key)!r} means nothing here.{near}")
    return unknown


def unknown_inside(data: Mapping[str, Any], known: Mapping[str, set[str]], where: str) -> dict[str, Any]:
    """Fields to keep that stand inside known fields, under those fields' names."""
    found = {
        name: unknown_in(data[name], keys, f"{where}: {name}")
        for name, keys in known.items()
        if isinstance(data.get(name), dict)
    }
    return {name: unknown for name, unknown in found.items() if unknown}


def slip(keys: Iterable[str], known: set[str]) -> str:
    """` Did you mean 'one_way'?` where one of the keys is nearly a known one, else nothing."""
    plain = {_bare(each): each for each in known}
    for key in keys:
        bare = _bare(key[:100])
        near = [each for each in plain if sorted(each) == sorted(bare)]  # letters exchanged
        near = near or difflib.get_close_matches(bare, plain, n=1, cutoff=_NEARLY)
        if key not in known and near:
            return f" Did you mean {plain[near[0]]!r}?"
    return ""


def _bare(key: str) -> str:
    """A key without what people write differently: `oneWay`, `One-Way`."""
    return "".join(letter for letter in key.lower() if letter.isalnum())


def as_object(data: Any, where: str) -> dict[str, Any]:
    if data is None:
        return {}
    if not isinstance(data, dict):
        raise SalvageError(f"{where}: not an object. Mend it, or leave it out.")
    _finite(data, where)
    return data


def as_list(data: Any, where: str) -> list[Any]:
    if not isinstance(data, list):
        raise SalvageError(f"{where}: not a list. Mend it.")
    return data


def as_text(data: Any, where: str) -> str:
    if not isinstance(data, str):
        raise SalvageError(f"{where}: {shown(data)} is not text. Put it in quotes.")
    most = (
        _LONGEST_TEXT if where.endswith(("cautions", "warnings", "what", "file", "text")) else _LONGEST_NAME
    )
    if len(data) > most:
        raise SalvageError(f"{where}: is a text of {len(data)} letters. Write {most} at most.")
    if any("\ud800" <= letter <= "\udfff" for letter in data):
        raise SalvageError(f"{where}: holds half a letter (\\ud800 to \\udfff alone). Write it anew.")
    return data


def as_texts(data: Any, where: str) -> tuple[str, ...]:
    return tuple(as_text(each, where) for each in as_list(data, where))


def as_number(data: Any, where: str) -> float:
    if isinstance(data, bool) or not isinstance(data, int | float) or not abs(data) < _FARTHEST:
        raise SalvageError(
            f"{where}: {shown(data)} is not a number to measure with. Write one in mm or degrees."
        )
    return float(data)


def as_share(data: Any, where: str) -> float:
    value = as_number(data, where)
    if not 0.0 <= value <= 1.0:
        raise SalvageError(f"{where}: {value:g} is not between 0 and 1.")
    return value


def as_choice(kinds: Callable[[str], Any], data: Any, where: str) -> Any:
    try:
        return kinds(data)
    except ValueError as error:
        names = ", ".join(str(each) for each in kinds)  # type: ignore[attr-defined]
        raise SalvageError(f"{where}: {shown(data)!r} is not known. Write one of {names}.") from error

"""Values of the project file's keys, read one by one; what is wrong is said in the words of the file.

entry: the table as parsed. where: `panel 'flap'`, for messages. Every function raises SalvageError.
"""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Mapping
from typing import Any

from salvage.errors import SalvageError, UsageError, shown
from salvage.units import Unit, parse_length

LARGEST = 10_000.0  # mm; nobody cuts a longer panel from a garment
SMALLEST = 0.1  # mm; thinner than any cloth
MOST_COPIES, LONGEST_NAME = 1_000_000, 200


def pair_of(value: Any, unit: Unit, where: str, *, signed: bool = False) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise SalvageError(f"{where}: needs two lengths, [width, length].")
    first, second = (parsed(part, unit, where, signed=signed) for part in value)
    if not signed and min(first, second) < SMALLEST:
        raise SalvageError(f"{where}: both lengths must be more than 0.")
    if not signed and max(first, second) > LARGEST:
        raise SalvageError(f"{where}: is more than {LARGEST / 1000:.0f} m long. Check its units.")
    return first, second


def parsed(value: Any, unit: Unit, where: str, *, signed: bool = False) -> float:
    negative = signed and isinstance(value, str) and value.strip().startswith("-")
    try:
        length = parse_length(value.strip()[1:] if negative else value, unit)
    except (UsageError, TypeError) as error:
        raise SalvageError(f"{where}: {error}") from error
    if length < 0 and not signed:
        raise SalvageError(f"{where}: a length can't be negative ({shown(value)}).")
    return -length if negative else length


def length_of(entry: Mapping[str, Any], key: str, unit: Unit, where: str, *, default: float) -> float:
    if key not in entry:
        return default
    length = parsed(entry[key], unit, f"{where}: {key}")
    if length > LARGEST:
        raise SalvageError(f"{where}: {key} is more than {LARGEST / 1000:.0f} m. Check its units.")
    return length


def size_of(entry: Mapping[str, Any], key: str, unit: Unit, where: str) -> float:
    length = length_of(entry, key, unit, where, default=0.0)
    if length < SMALLEST:
        raise SalvageError(f"{where}: {key} must be more than 0.")
    return length


def tables_of(data: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    value = data.get(key, [])
    if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
        raise SalvageError(f"write each {key} under its own [[{key}]].")
    return value


def text_of(entry: Mapping[str, Any], key: str, where: str, *, default: str | None = None) -> str:
    value = entry.get(key, default)
    if not isinstance(value, str) or not value.strip():
        raise SalvageError(f"{where}: {key} must be a text that is not empty.")
    if len(value) > LONGEST_NAME:
        raise SalvageError(f"{where}: {key} has {len(value)} letters. Write {LONGEST_NAME} at most.")
    return value.strip()


def flag_of(entry: Mapping[str, Any], key: str, where: str) -> bool:
    value = entry.get(key, False)
    if not isinstance(value, bool):
        raise SalvageError(f"{where}: {key} must be true or false.")
    return value


def count_of(
    entry: Mapping[str, Any], key: str, where: str, *, default: int, least: int, most: int = MOST_COPIES
) -> int:
    value = entry.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        to = f"from {least} to {most}" if most < MOST_COPIES else f"{least} or more"
        to += " and under a million" if isinstance(value, int) and value > most else ""
        raise SalvageError(f"{where}: {key} must be a whole number, {to}.")
    return value


def number_of(entry: Mapping[str, Any], key: str, where: str, *, default: float, most: float) -> float:
    value = entry.get(key, default)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= most:
        raise SalvageError(f"{where}: {key} must be a number from 0 to {most:g}.")
    return float(value)


def choice_of(entry: Mapping[str, Any], key: str, kind: Any, default: Any, where: str) -> Any:
    value = entry.get(key, default)
    try:
        return kind(value)
    except ValueError:
        allowed = ", ".join(member.value for member in kind)
        raise SalvageError(f"{where}: {key} = {shown(value)!r} is none of {allowed}.") from None


def only_known(entry: Mapping[str, Any], known: set[str], where: str) -> None:
    for key in entry:
        if key not in known:
            near = difflib.get_close_matches(key[:100], known, n=1)
            hint = f" Did you mean {near[0]!r}?" if near else f" Known here: {', '.join(sorted(known))}."
            raise SalvageError(f"{where}: {shown(key)!r} means nothing here.{hint}")


def only_distinct(names: list[str]) -> None:
    repeated = sorted(name for name, count in Counter(names).items() if count > 1)
    if repeated:
        raise SalvageError(
            f"the name {repeated[0]!r} is used more than once. Give each panel and strip its own name."
        )

"""What the rail notes in a garment's record: when it was photographed and with what telling, that it is used up, and
of what it is the rest. Plain functions from a garment to the changed one.

The record keeps these as fields of its own level (`rail`, `used`, `rest_of`), so they outlive a new measurement and
the loss of the index. A person may write `"used": true` there by hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from salvage.cloth.garment import Garment
from salvage.telling import Telling

RAIL, USED, REST_OF = "rail", "used", "rest_of"
_TOLD = (
    "side",
    "paper",
    "height",
    "kind",
    "fabric",
    "layers",
)  # what can be told of many photographs at once


@dataclass(frozen=True, slots=True)
class Used:
    """That a garment's cloth is gone. purpose: what it went into; date: as YYYY-MM-DD; rest: the record of what was
    left over. Each "" if not told."""

    purpose: str = ""
    date: str = ""
    rest: str = ""

    @property
    def words(self) -> str:
        """`cut for Tool roll on 2026-11-26`."""
        text = f"cut for {self.purpose}" if self.purpose else "used up"
        return f"{text} on {self.date}" if self.date else text


@dataclass(frozen=True, slots=True)
class RestOf:
    """What a record is the rest of: the garment's name and file, and what was cut from it."""

    name: str
    file: str = ""
    purpose: str = ""


def used_of(garment: Garment) -> Used | None:
    """How the garment was used up; None where its cloth is still there."""
    data = garment.extra.get(USED)
    if isinstance(data, Mapping):
        return Used(**_texts(data, Used))
    return Used() if data is True else None


def mark_used(garment: Garment, *, purpose: str = "", date: str = "", rest: str = "") -> Garment:
    """The garment marked as used up."""
    told = {key: value for key, value in asdict(Used(purpose, date, rest)).items() if value}
    return _with(garment, USED, told or True)


def mark_free(garment: Garment) -> Garment:
    """The garment with its cloth on the rail again: it wasn't cut after all."""
    return _with(garment, USED, None)


def rest_named(garment: Garment) -> RestOf | None:
    """What the garment is the rest of; None for a whole one."""
    data = garment.extra.get(REST_OF)
    if not isinstance(data, Mapping):
        return None
    return RestOf(**({"name": ""} | _texts(data, RestOf)))


def name_rest(garment: Garment, of: RestOf) -> Garment:
    """The garment noted as the rest of another."""
    return _with(garment, REST_OF, {key: value for key, value in asdict(of).items() if value})


def photographed(garment: Garment) -> str:
    """The day of its photograph, YYYY-MM-DD, "" if not known."""
    data = garment.extra.get(RAIL)
    date = data.get("photographed", "") if isinstance(data, Mapping) else ""
    return date if isinstance(date, str) else ""


def told_of(garment: Garment) -> Telling | None:
    """With what telling the rail measured the garment; None for one that a person measured."""
    data = garment.extra.get(RAIL)
    told = data.get("told") if isinstance(data, Mapping) else None
    if not isinstance(told, Mapping):
        return None
    try:
        return Telling(**{key: told[key] for key in _TOLD if key in told})
    except TypeError:
        return None


def note_measured(garment: Garment, told: Telling, date: str) -> Garment:
    """The garment as the rail measured it. date: of the photograph, "" if not known."""
    note: dict[str, Any] = {"told": told_data(told)}
    return _with(garment, RAIL, note | ({"photographed": date} if date else {}))


def told_data(told: Telling) -> dict[str, Any]:
    """What was told beyond the defaults, as plain values."""
    plain = Telling()
    return {key: getattr(told, key) for key in _TOLD if getattr(told, key) != getattr(plain, key)}


def told_more(before: Telling, now: Telling) -> Telling:
    """What was told before, and what is told now over it: an option that isn't given again still holds."""
    return replace(before, **told_data(now))


def _with(garment: Garment, key: str, value: Any) -> Garment:
    extra = {name: each for name, each in garment.extra.items() if name != key}
    return replace(garment, extra=extra if value is None else extra | {key: value})


def _texts(data: Mapping[str, Any], kind: type) -> dict[str, str]:
    names = {each.name for each in fields(kind)}
    return {key: value for key, value in data.items() if key in names and isinstance(value, str)}

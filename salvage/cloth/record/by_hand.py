"""What a person changed in a record with a text editor, told from what the program wrote there.

A record carries for each piece what was written last ("written": a few fields and marks of the longer
ones). Whatever differs from it on reading is the person's: it counts at once, and a new measurement
keeps it, without the person having to say so anywhere else in the record.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import shapely
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, FoundBy, Piece
from salvage.cloth.usable import grown, usable_of
from salvage.shapes import polygons_of

_FIELDS = ("name", "fabric", "layers", "grain", "one_way")
_COARSE = 1.0  # mm; a shape is remembered as finely as it takes to know it again
_ROUND_A_LINE = 3.0  # mm; the same seam found again may lie so much beside its margin


def written(data: Mapping[str, Any]) -> dict[str, Any]:
    """What to remember of a piece's data as it is written."""
    return {
        **{name: data[name] for name in _FIELDS},
        "outline": _mark(data["outline"]),
        "usable": _mark(data["usable"]),
        "blocked": [
            {"mark": _mark_of_blocked(each), "margin": each["margin"], "shape": _coarse(each["shape"])}
            for each in data["blocked"]
            if each["found_by"] != FoundBy.PERSON
        ],
    }


def told_apart(piece: Piece, data: Mapping[str, Any], before: Mapping[str, Any]) -> Piece:
    """The piece with what a person changed marked as the person's.

    data: the piece in the record, as read; before: what `written` remembered of it. A blocked area that
    was taken out is cleared, one that was moved is the person's, and usable cloth is worked out again
    unless the person changed it.
    """
    by_person = [name for name in _FIELDS if name in before and name in data and data[name] != before[name]]
    if before.get("outline") != _mark(data["outline"]):
        by_person.append("outline")
    blocked, cleared = _blocked(piece.blocked, data.get("blocked", []), before.get("blocked", []))
    usable = piece.usable
    if usable is not None:
        if before.get("usable") == _mark(data["usable"]):
            usable = None
        else:
            usable = shapely.MultiPolygon(polygons_of(usable.intersection(usable_of(piece.outline, blocked))))
    return replace(
        piece,
        blocked=blocked,
        usable=usable,
        cleared=piece.cleared + cleared,
        by_person=tuple(dict.fromkeys((*piece.by_person, *by_person))),
    )


def _blocked(
    blocked: tuple[Blocked, ...], data: Any, before: Any
) -> tuple[tuple[Blocked, ...], tuple[shapely.Polygon, ...]]:
    """The blocked areas with the person's marked so, and what was round those that are gone."""
    known = {each["mark"] for each in before}
    marks = [_mark_of_blocked(each) for each in data]
    now = tuple(
        replace(each, found_by=FoundBy.PERSON)
        if each.found_by is not FoundBy.PERSON and mark not in known
        else each
        for each, mark in zip(blocked, marks, strict=True)
    )
    gone = [each for each in before if each["mark"] not in set(marks)]
    areas: list[BaseGeometry] = [
        grown(shape(each["shape"]), each["margin"] + _COARSE + _ROUND_A_LINE) for each in gone
    ]
    return now, tuple(part for area in areas for part in polygons_of(area))


def _mark_of_blocked(data: Mapping[str, Any]) -> str:
    return _mark([data.get("kind", "other"), data.get("margin"), data["shape"]])


def _mark(value: Any) -> str:
    """A short mark of a value; numbers that are the same length to 0.001 mm give the same."""
    return f"{zlib.crc32(json.dumps(_plain(value), sort_keys=True).encode()):08x}"


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(each) for each in value]
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return round(float(value), 3) + 0.0
    return value


def _coarse(data: Mapping[str, Any]) -> dict[str, Any]:
    thinned = shapely.geometry.mapping(shape(data).simplify(_COARSE))
    return {"type": thinned["type"], "coordinates": _tenths(thinned["coordinates"])}


def _tenths(value: Any) -> Any:
    return [_tenths(each) for each in value] if isinstance(value, (list, tuple)) else round(float(value), 1)

"""Cloth without a photograph: its sizes typed in, as measured with a tape. Pure functions."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.cloth.record import edits
from salvage.cloth.record.numbers import numbered
from salvage.errors import UsageError
from salvage.trade.kinds import KINDS, kind_named
from salvage.units import Unit, parse_length

LEAST, MOST = 20.0, 20_000.0  # mm, of a side; more is a bale
APART = 60.0  # mm between pieces that are drawn beside each other
_MOST_PIECES, _MOST_CORNERS, _MOST_LAYERS = 50, 60, 20


def typed_garment(told: Mapping[str, Any], unit: Unit) -> Garment:
    """A garment of cloth that was typed in. told: name, kind, measured (how far a length may be off) and pieces; see
    `typed_pieces`. Raises UsageError."""
    name, kind = _text(told, "name", "cloth"), kind_named(str(told.get("kind") or ""))
    bare = Garment(name, (), kind=kind.name if told.get("kind") else "")
    return with_cloth(bare, told, unit)


def with_cloth(garment: Garment, told: Mapping[str, Any], unit: Unit) -> Garment:
    """The garment with typed cloth more, beside what of it has no photograph. Raises UsageError."""
    bare = [each.outline for each in garment.pieces if each.photo is None]
    right = max((each.bounds[2] for each in bare), default=-APART)
    one_way = bool(garment.kind) and KINDS[garment.kind].one_way
    for piece in typed_pieces(told, unit):
        low_x, low_y, high_x, _ = piece.outline.bounds
        placed = affinity.translate(piece.outline, right + APART - low_x, -low_y)
        right += APART + high_x - low_x
        garment = edits.add_piece(garment, replace(piece, outline=placed, one_way=piece.one_way or one_way))
    return numbered(garment)


def typed_pieces(told: Mapping[str, Any], unit: Unit) -> tuple[Piece, ...]:
    """Pieces from rows of a form: name, fabric, layers, one_way, and width with length along the grain, or corners
    such as "0,0 400,0 400,600", x to the right and y along the grain. A bare number is in the unit."""
    rows = told.get("pieces")
    if not isinstance(rows, Sequence) or isinstance(rows, str) or not 1 <= len(rows) <= _MOST_PIECES:
        raise UsageError(f"Give one piece of cloth or more, {_MOST_PIECES} at most.")
    off = str(told.get("measured") or "").strip()
    plus_minus = PlusMinus(edge=_length(off, "measured to within", unit, 0.0, 100.0) if off else 0.0)
    return tuple(_piece(row, plus_minus, unit) for row in rows)


def _piece(row: Any, plus_minus: PlusMinus, unit: Unit) -> Piece:
    if not isinstance(row, Mapping):
        raise UsageError("a piece of cloth is a row of a table.")
    name = _text(row, "name", "cloth")
    layers = str(row.get("layers") or "1").strip()
    if not layers.isdecimal() or not 1 <= int(layers) <= _MOST_LAYERS:
        raise UsageError(f"{name}: layers are a whole number, 1 to {_MOST_LAYERS}.")
    corners = str(row.get("corners") or "").strip()
    outline = _polygon(corners, name, unit) if corners else _rectangle(row, name, unit)
    return Piece(
        name, outline, fabric=_text(row, "fabric", "shell"), layers=int(layers), one_way=bool(row.get("one_way")),
        plus_minus=plus_minus,
    )  # fmt: skip


def _rectangle(row: Mapping[str, Any], name: str, unit: Unit) -> Polygon:
    width, length = (
        _length(str(row.get(key) or ""), f"{name}: {key}", unit, LEAST, MOST) for key in ("width", "length")
    )
    return box(0.0, 0.0, width, length)


def _polygon(corners: str, name: str, unit: Unit) -> Polygon:
    places = [each for each in re.split(r"\s*;\s*|\s+", corners) if each]
    points = []
    for place in places[: _MOST_CORNERS + 1]:
        pair = place.split(",")
        if len(pair) != 2:
            raise UsageError(
                f"{name}: {place} is no corner. Write pairs such as 0,0 400,0 400,600, with points in decimals."
            )
        points.append((_coordinate(pair[0], unit), _coordinate(pair[1], unit)))
    if not 3 <= len(points) <= _MOST_CORNERS:
        raise UsageError(f"{name}: give 3 to {_MOST_CORNERS} corners, one after the other round the edge.")
    outline = Polygon(points)
    if not outline.is_valid or outline.area < LEAST**2:
        raise UsageError(f"{name}: its edge crosses itself or encloses nothing. Go once round its edge.")
    low_x, low_y, high_x, high_y = outline.bounds
    if max(high_x - low_x, high_y - low_y) > MOST:
        raise UsageError(f"{name}: is more than {MOST / 1000:.0f} m long. Check its units.")
    return outline


def _coordinate(text: str, unit: Unit) -> float:
    """A length that may be below 0."""
    text = text.strip()
    return -parse_length(text[1:], unit) if text.startswith("-") else parse_length(text, unit)


def _length(text: str, what: str, unit: Unit, least: float, most: float) -> float:
    if not text.strip():
        raise UsageError(f"{what} is not given.")
    length = parse_length(text, unit)
    if not least <= length <= most:
        raise UsageError(f"{what}: {text} is not between {least:g} mm and {most / 1000:g} m.")
    return length


def _text(row: Mapping[str, Any], key: str, usual: str) -> str:
    return str(row.get(key) or "").strip()[:100] or usual

"""What of a garment can be saved beside its cloth: zips with their length, buttons, buckles, pockets.

From the record's blocked areas alone, by kind and by what they were called; nothing is looked for anew.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, BlockedKind, Garment
from salvage.units import Unit, format_length

LEAST_SURE = 0.5  # confidence from which a find is worth naming
_WORN = BlockedKind.WORN
_PLAIN = {BlockedKind.CLOSURE: "closure", BlockedKind.POCKET: "pocket"}
_LONG = ("zip", "closure", "band", "cord", "belt", "elastic")  # their length is what a sewer asks first
_LONG_FROM = 80.0  # mm

Saved = tuple[str, float | None]  # what it is, and how long it is where that matters


def saved(garment: Garment) -> tuple[Saved, ...]:
    """Each thing that can be unpicked and kept, long ones first. A pocket that a worn place runs through is left out.

    Parts of one thing (they share an id) count once.
    """
    found: list[Saved] = []
    groups: dict[tuple[str, str], list[Blocked]] = {}
    for number, piece in enumerate(garment.pieces):
        worn = shapely.union_all([each.shape for each in piece.blocked if each.kind is _WORN])
        for order, each in enumerate(piece.blocked):
            if each.kind not in _PLAIN or each.confidence < LEAST_SURE or each.shape.intersects(worn):
                continue
            key = (each.id or f"{number}.{order}", _name(each))
            groups.setdefault(key, []).append(each)
    for (_, name), parts in groups.items():
        whole = shapely.union_all([each.shape for each in parts])
        long = extent(whole)
        measured = any(word in name for word in _LONG) and long >= _LONG_FROM
        found.append((name, long if measured else None))
    return tuple(sorted(found, key=lambda each: (each[1] is None, -(each[1] or 0.0), each[0])))


def saved_words(found: Sequence[Saved], unit: Unit) -> tuple[str, ...]:
    """`zip 410 mm`, `3 × button or snap`."""
    long = [f"{name} {format_length(length, unit)}" for name, length in found if length is not None]
    counts = Counter(name for name, length in found if length is None)
    return (*long, *(name if count == 1 else f"{count} × {name}" for name, count in counts.items()))


def extent(shape: BaseGeometry) -> float:
    """The longer side of the smallest rectangle round a shape, mm; of a line its length, where it bends."""
    if shape.area <= 0:
        return float(shape.length)
    ring = shapely.get_coordinates(shape.minimum_rotated_rectangle)
    return max(math.dist(ring[0], ring[1]), math.dist(ring[1], ring[2])) if len(ring) > 2 else 0.0


def _name(blocked: Blocked) -> str:
    what = blocked.what.strip().removesuffix(" like the one on the other side")
    return what or _PLAIN[blocked.kind]

"""Lines beside lines: what of one was found already as another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import linemerge

from salvage.cloth.finders.found import Seam
from salvage.shapes import points_on

_ALONG = 30.0  # degrees that one line may run another way and still be the same
_PIECE = 15.0  # mm of a line, at least, that say which way it runs
_KNOWN, _NEW, _BIT = 12.0, 0.25, 25.0  # mm beside a known line; share of a line, and mm, that count as new


def not_yet(seams: Sequence[Seam], known: Sequence[LineString], beside: float = _KNOWN) -> list[Seam]:
    """What of some seams runs beside no known line, and beside none of the seams before it."""
    lines, found = list(known), []
    for seam in seams:
        near = [zone for other in lines if not (zone := running_along(other, seam.line, beside)).is_empty]
        left = seam.line.difference(shapely.union_all(near)) if near else seam.line
        if left.length >= _NEW * seam.line.length:
            found += [replace(seam, line=part) for part in joined_lines(left) if part.length >= _BIT]
            lines.append(seam.line)
    return found


def running_along(other: LineString, line: LineString, reach: float) -> BaseGeometry:
    """The surroundings of what of another line runs the way of this one beside it."""
    close = other.intersection(line.buffer(reach))
    kept = []
    for part in joined_lines(close):
        ends = np.asarray(part.coords)[[0, -1], :2]
        own = points_on(line, shapely.line_locate_point(line, shapely.points(ends)))
        one, two = ends[1] - ends[0], own[1] - own[0]
        lengths = np.linalg.norm(one) * np.linalg.norm(two)
        if (
            part.length >= _PIECE
            and lengths > 0
            and abs(one @ two) > math.cos(math.radians(_ALONG)) * lengths
        ):
            kept.append(part.buffer(reach))
    return shapely.union_all(kept) if kept else Polygon()


def joined_lines(shape: BaseGeometry) -> list[LineString]:
    """All lines in a geometry, those that meet end to end made one."""
    if isinstance(shape, LineString):
        return [shape] if shape.length > 0 else []
    parts = [line for each in getattr(shape, "geoms", []) for line in joined_lines(each)]
    merged = linemerge(parts) if len(parts) > 1 else None
    if merged is None:
        return parts
    return [merged] if isinstance(merged, LineString) else list(merged.geoms)

"""How the cloth falls into pieces along its seams, what they are called and where their grain runs."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import polygonize

from salvage.cloth.seams import Seam
from salvage.cloth.usable import polygons_of

_OVER = 8.0  # mm, a seam is run on by this to be sure that it meets the outline or another seam
_REACH = 70.0  # mm (and half its length) that a seam's end may be missing
_SLIVER = 1200.0  # mm^2; smaller pieces belong to their neighbour
_NARROW = 14.0  # mm; so does what is nowhere wider than this


def fall_apart(cloth: Polygon, seams: list[Seam], bands: list[LineString]) -> list[Polygon]:
    """The cloth cut along its seams (hems and seams on the outline cut nothing) and along the middles of
    its zips, largest first."""
    cutting = [each.line for each in seams if not each.hem and not each.on_outline] + bands
    cutting = [_run_out(line, cloth, cutting) for line in cutting]
    rings = [cloth.exterior, *cloth.interiors]
    edges = shapely.union_all([*(LineString(ring.coords) for ring in rings), *cutting])
    found = [part for part in polygonize(edges) if cloth.contains(part.representative_point())]
    return sorted(_without_slivers(found), key=lambda each: -each.area)


def _run_out(line: LineString, cloth: Polygon, others: list[LineString]) -> LineString:
    """The line with both ends run on, straight, to the outline or to another line that it comes near."""
    points = np.asarray(line.coords)[:, :2]
    reach = min(_REACH, 0.5 * line.length)
    goals = shapely.union_all([cloth.boundary, *(each for each in others if each is not line)])
    ends = []
    for end, before in (
        (points[0], line.interpolate(15.0)),
        (points[-1], line.interpolate(line.length - 15.0)),
    ):
        way = end - np.array(before.coords[0])
        way = way / (np.linalg.norm(way) + 1e-9)
        onward = LineString([end - 2.0 * way, end + reach * way])
        met = onward.intersection(goals)
        run = Point(end).distance(met) if not met.is_empty else 0.0
        ends.append(end + (run + _OVER) * way)
    return LineString([ends[0], *points, ends[1]])


def _without_slivers(parts: list[Polygon]) -> list[Polygon]:
    """Slivers given to the neighbour they share most edge with."""
    parts = sorted(parts, key=lambda each: each.area)
    index = 0
    while index < len(parts) and len(parts) > 1:
        part = parts[index]
        if part.area >= _SLIVER and not part.buffer(-_NARROW / 2).is_empty:
            index += 1
            continue
        shared = [0.0 if k == index else part.intersection(o).length for k, o in enumerate(parts)]
        best = int(np.argmax(shared))
        if shared[best] <= 0:
            index += 1
            continue
        merged = polygons_of(shapely.union_all([part, parts[best]]).buffer(0.01).buffer(-0.01))
        parts = [each for k, each in enumerate(parts) if k not in (index, best)] + merged[:1]
        parts.sort(key=lambda each: each.area)
        index = 0
    return parts

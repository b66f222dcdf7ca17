"""How the cloth falls into pieces along its seams, what they are called and where their grain runs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points, polygonize

from salvage.cloth.finders.found import Seam
from salvage.shapes import polygons_of

_OVER = 8.0  # mm, a seam is run on by this to be sure that it meets the outline or another seam
_CLOSES, _CLOSES_SHARE = 40.0, 0.12  # mm, or share of its length, between the ends of a seam that goes round
_ASIDE = 30.0  # mm to the side that a seam's end may be off
_REACH = 70.0  # mm (and half its length) that a seam's end may be missing
_BESIDE, _FARTHER = 12.0, 3.0  # mm from the edge at most; times as far as that, straight on
_SLIVER = 1200.0  # mm^2; smaller pieces belong to their neighbour
_NARROW = 14.0  # mm; so does what is nowhere wider than this


def fall_apart(cloth: Polygon, seams: Sequence[Seam], bands: Sequence[LineString]) -> list[Polygon]:
    """The cloth cut along its seams (hems, seams on the outline and doubtful lines cut nothing) and along the
    middles of its zips, largest first."""
    cutting = [each.line for each in seams if each.parts] + list(bands)
    cutting = [_run_out(line, cloth, cutting) for line in cutting]
    rings = [cloth.exterior, *cloth.interiors]
    edges = shapely.union_all([*(LineString(ring.coords) for ring in rings), *cutting])
    found = [part for part in polygonize(edges) if cloth.contains(part.representative_point())]
    return sorted(_without_slivers(found), key=lambda each: -each.area)


def _run_out(line: LineString, cloth: Polygon, others: list[LineString]) -> LineString:
    """The line with both ends run on, straight, to the outline or to another line that it comes near."""
    points = np.asarray(line.coords)[:, :2]
    apart = float(np.linalg.norm(points[0] - points[-1]))
    if apart < max(_CLOSES, _CLOSES_SHARE * line.length) and line.length > 4 * _CLOSES:
        return LineString([*points, points[0]])
    goals = shapely.union_all([cloth.boundary, *(each for each in others if each is not line)])
    near = min(15.0, 0.3 * line.length)
    edge, most = cloth.boundary, 0.5 * line.length
    start = _run_to(points[0], line.interpolate(near), goals, edge, most)
    end = _run_to(points[-1], line.interpolate(line.length - near), goals, edge, most)
    return LineString([*start[::-1], *points, *end])


def _run_to(
    end: NDArray[np.float64], before: Point, goals: BaseGeometry, edge: BaseGeometry, most: float
) -> list[NDArray[np.float64]]:
    """Where a line that comes from `before` and stops at `end` goes on to meet a goal: straight on if it can, else at
    the nearest place; a little beyond it either way. Close by the cloth's edge it ends there, unless straight on that is
    hardly farther: the last few mm of a line tell its way badly, and an underarm is soon passed by."""
    way = end - np.array(before.coords[0])
    way = way / (np.linalg.norm(way) + 1e-9)
    met = LineString([end - 2.0 * way, end + min(_REACH, most) * way]).intersection(goals)
    beside = Point(end).distance(edge)
    if beside <= _BESIDE and (met.is_empty or Point(end).distance(met) > _FARTHER * beside):
        goals = edge
    elif not met.is_empty:
        return [end + (Point(end).distance(met) + _OVER) * way]
    nearest = np.array(nearest_points(Point(end), goals)[1].coords[0])
    aside = nearest - end
    far = float(np.linalg.norm(aside))
    if far > _ASIDE:
        return [end + _OVER * way]
    # By way of the place itself: where it is the tip of a notch, as an underarm is, a line beyond it may pass it by.
    return [nearest, end + aside * (1 + _OVER / max(far, 1e-6))]


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

"""Where a shape can lie on a cloth: regions that are surely not too small.

Everything here errs to one side: shapes are shrunk by SHRINK before a region is worked out, so that
rounding can only make a region larger. If a shape fits at p, the shrunk shape fits everywhere within
SHRINK of p; so a region smaller than LEAST proves that the shape has no place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import MultiPoint, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.fit.geometry.convex import Ring, convex_parts, no_fits, ring_of
from salvage.fit.geometry.ground import obstacles_of
from salvage.fit.geometry.plainer import simpler

SHRINK = 0.05  # mm
LEAST = math.pi * SHRINK**2 / 2  # mm^2


def shrunk(polygon: Polygon, by: float = SHRINK) -> BaseGeometry:
    """At least `by` away from the edge everywhere; perhaps in several parts, perhaps empty."""
    return polygon.buffer(-by, join_style="mitre", mitre_limit=100.0)


@lru_cache(maxsize=4096)
def parts_of(shape: BaseGeometry) -> tuple[Ring, ...]:
    """Convex parts of a shape without holes."""
    polygons = [p for p in getattr(shape, "geoms", [shape]) if isinstance(p, Polygon)]
    return tuple(convex_parts(MultiPolygon(polygons)))


@lru_cache(maxsize=256)
def _walls(cloth: Polygon) -> tuple[Ring, tuple[Ring, ...]]:
    """Hull of a cloth, and convex parts that cover all that is not cloth within it."""
    plain = simpler(cloth, 120, grow=True)
    hull = plain.convex_hull
    return ring_of(hull), tuple(obstacles_of(plain, hull))


def no_fit(fixed: Ring, moving: Ring) -> BaseGeometry:
    """Where the moving convex part overlaps the fixed one (closed)."""
    return MultiPoint((fixed[:, None] - moving[None]).reshape(-1, 2)).convex_hull


def region(cloth: Polygon, shape: BaseGeometry) -> BaseGeometry:
    """All moves (x, y) of the shape, taken as it is, that keep it within the cloth."""
    parts = parts_of(shape)
    if not parts:
        return cloth.envelope
    hull, walls = _walls(cloth)
    free = _within(hull, np.concatenate(parts))
    if free.is_empty:
        return free
    # those that lie beyond all that is free don't matter
    low, high = _bounds(walls)
    part_low, part_high = _bounds(parts)
    x0, y0, x1, y1 = free.bounds
    near = ((low - part_high.max(axis=0) <= (x1, y1)) & (high - part_low.min(axis=0) >= (x0, y0))).all(axis=1)
    blocked = no_fits([walls[n] for n in np.flatnonzero(near)], parts)
    blocked = blocked[shapely.intersects(blocked, free)] if len(blocked) else blocked
    return free.difference(shapely.union_all(blocked)) if len(blocked) else free


def _bounds(rings: Sequence[Ring]) -> tuple[Ring, Ring]:
    """Lower left and upper right corners of the rings' boxes, (n, 2) each."""
    corners = [(ring.min(axis=0), ring.max(axis=0)) for ring in rings]
    low, high = np.array(corners).reshape(-1, 2, 2).transpose(1, 0, 2)
    return low, high


def _within(hull: Ring, points: Ring) -> BaseGeometry:
    """Moves that keep the points within a convex ring."""
    edge = np.roll(hull, -1, axis=0) - hull
    normal = np.column_stack([edge[:, 1], -edge[:, 0]]) / np.hypot(*edge.T)[:, None]
    offset = (normal * hull).sum(axis=1) - (normal @ points.T).max(axis=1)
    i, j = np.triu_indices(len(offset), 1)
    det = normal[i, 0] * normal[j, 1] - normal[i, 1] * normal[j, 0]
    keep = np.abs(det) > 1e-9
    i, j, det = i[keep], j[keep], det[keep]
    corner = np.column_stack(
        [
            (offset[i] * normal[j, 1] - offset[j] * normal[i, 1]) / det,
            (normal[i, 0] * offset[j] - normal[j, 0] * offset[i]) / det,
        ]
    )
    corner = corner[(corner @ normal.T <= offset + 1e-7).all(axis=1)]
    return MultiPoint(corner).convex_hull if len(corner) else Polygon()


def is_empty(where: BaseGeometry) -> bool:
    """Whether a region of a shrunk shape proves that the shape itself has no place."""
    return bool(where.area < LEAST)

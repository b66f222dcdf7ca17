"""Convex parts of simple polygons, for overlap tests that are exact and cheap.

A *part* is a convex polygon, (n, 2) in mm, counter-clockwise, first point not repeated. The parts of a
polygon cover it exactly: together they are the polygon, and no part leaves it.
Source: triangles of a constrained Delaunay triangulation (GEOS), merged as Hertel and Mehlhorn do, as in
O'Rourke, Computational Geometry in C, 2nd ed. (1998), section 2.4 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

Ring = NDArray[np.float64]

_MANY = 500  # corners; to merge the triangles takes the square of their number
_REFLEX = -1e-12  # mm^2; twice the area that a corner may bend the wrong way by rounding
_FLAT = 1e-9  # a corner whose sine is below this is no corner


def ring_of(polygon: Polygon) -> Ring:
    """Exterior of a polygon: counter-clockwise, no repeated and no straight-on points."""
    ring = np.asarray(orient(polygon, 1.0).exterior.coords)[:-1, :2]
    return _without_flat_points(ring)


def _without_flat_points(ring: Ring) -> Ring:
    while len(ring) > 3:
        before = ring - np.concatenate((ring[-1:], ring[:-1]))  # np.roll takes ten times as long
        after = np.concatenate((before[1:], before[:1]))
        turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        size = np.hypot(before[:, 0], before[:, 1])
        flat = np.abs(turn) <= _FLAT * (size * np.concatenate((size[1:], size[:1])))
        if not flat.any():
            break
        drop = int(np.flatnonzero(flat)[0])
        ring = np.delete(ring, drop, axis=0)
    return ring


def _is_convex(points: list[list[float]]) -> bool:
    (px, py), (x, y) = points[-2], points[-1]
    for nx, ny in points:
        if (x - px) * (ny - y) - (y - py) * (nx - x) < _REFLEX:
            return False
        px, py, x, y = x, y, nx, ny
    return True


def _triangles(ring: Ring) -> list[list[int]]:
    """The constrained Delaunay triangles of a ring, counter-clockwise, by the numbers of its corners; none where it
    comes back to a corner."""
    number = {(x, y): n for n, (x, y) in enumerate(ring.tolist())}
    if len(number) < len(ring):
        return []
    found = shapely.get_coordinates(shapely.constrained_delaunay_triangles(Polygon(ring)))
    triangles = []
    for (ax, ay), (bx, by), (cx, cy) in found.reshape(-1, 4, 2)[:, :3].tolist():
        corners = [number[ax, ay], number[bx, by], number[cx, cy]]
        left = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax) >= 0
        triangles.append(corners if left else corners[::-1])
    return triangles


def _merge(ring: Ring, parts: list[list[int]]) -> list[list[int]]:
    """Join convex parts across shared edges as long as the union stays convex, longest shared edge first.

    Whether it does is seen at the two ends of the edge; where it doesn't now it never will, for the parts only grow.
    """
    points = ring.tolist()
    alive = dict(enumerate(parts))  # by number, in the order in which they came to be
    owner = {(part[k - 1], part[k]): n for n, part in alive.items() for k in range(len(part))}
    shared = []
    for a, b in owner:
        if a < b and (b, a) in owner:
            (ax, ay), (bx, by) = points[a], points[b]
            shared.append((-abs(complex(ax - bx, ay - by)), a, b))
    count = len(parts)
    for _, a, b in sorted(shared):
        one, two = owner[a, b], owner[b, a]
        p, q = alive[one], alive[two]
        k, m = p.index(b), q.index(a)
        # p from b round to a, then q from a round to b, ends not repeated
        union = p[k:] + p[:k] + (q[m:] + q[:m])[1:-1]
        at = len(p) - 1
        if not (
            _bends_left(points, union[-1], b, union[1])
            and _bends_left(points, union[at - 1], a, union[(at + 1) % len(union)])
        ):
            continue
        del owner[a, b], owner[b, a], alive[one], alive[two]
        alive[count] = union
        owner.update(((union[i - 1], union[i]), count) for i in range(len(union)))
        count += 1
    return list(alive.values())


def _bends_left(points: list[list[float]], before: int, at: int, after: int) -> bool:
    (px, py), (x, y), (nx, ny) = points[before], points[at], points[after]
    return (x - px) * (ny - y) - (y - py) * (nx - x) >= _REFLEX


def convex_parts(polygon: Polygon | MultiPolygon) -> list[Ring]:
    """Convex parts of a polygon without holes (of each polygon of a MultiPolygon)."""
    if isinstance(polygon, MultiPolygon):
        return [part for one in polygon.geoms for part in convex_parts(one)]
    if polygon.is_empty or polygon.area <= 0:
        return []
    ring = ring_of(polygon)
    if _is_convex(ring.tolist()):
        return [ring]
    if len(ring) > _MANY:
        return _plain_triangles(polygon)
    parts = [_without_flat_points(ring[part]) for part in _merge(ring, _triangles(ring))]
    parts = [part for part in parts if _area(part) > 1e-9]
    return parts if _are_parts(parts, polygon) else _plain_triangles(polygon)


def no_fits(fixed: Sequence[Ring], moving: Sequence[Ring]) -> NDArray[np.object_]:
    """No-fit polygons of every two convex parts: where the moving one overlaps the fixed one."""
    pairs = [(wall[:, None] - part[None]).reshape(-1, 2) for wall in fixed for part in moving]
    if not pairs:
        return np.zeros(0, object)
    of_pair = np.repeat(np.arange(len(pairs)), [len(each) for each in pairs])
    points = shapely.points(np.concatenate(pairs))
    return np.asarray(shapely.convex_hull(shapely.multipoints(points, indices=of_pair)))


def _plain_triangles(polygon: Polygon) -> list[Ring]:
    """Triangles between the polygon's corners: more parts than need be, but quick and sure."""
    triangles = shapely.constrained_delaunay_triangles(polygon).geoms
    return [ring_of(each) for each in triangles if each.area > 1e-9]


def _are_parts(parts: list[Ring], polygon: Polygon) -> bool:
    """Whether none leaves the polygon and together they have its area, but for rounding."""
    rounding = 1e-6 * (polygon.area + polygon.length)
    if abs(sum(_area(part) for part in parts) - polygon.area) > rounding:
        return False
    of_part = np.repeat(np.arange(len(parts)), [len(part) for part in parts])
    whole = shapely.polygons(shapely.linearrings(np.concatenate(parts), indices=of_part))
    shapely.prepare(polygon)
    out = whole[~shapely.covers(polygon, whole)]
    return float(shapely.area(shapely.difference(out, polygon)).sum()) <= rounding


def _area(ring: Ring) -> float:
    x, y = ring[:, 0], ring[:, 1]
    after_x, after_y = np.concatenate((x[1:], x[:1])), np.concatenate((y[1:], y[:1]))
    return 0.5 * float(np.dot(x, after_y) - np.dot(y, after_x))

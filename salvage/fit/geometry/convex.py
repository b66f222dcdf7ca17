"""Convex parts of simple polygons, for overlap tests that are exact and cheap.

A *part* is a convex polygon, (n, 2) in mm, counter-clockwise, first point not repeated. The parts of a
polygon cover it exactly: together they are the polygon, and no part leaves it.
Source: ear clipping, then Hertel and Mehlhorn's merging of triangles, as in O'Rourke, Computational
Geometry in C, 2nd ed. (1998), sections 1.6 and 2.4 (from memory).
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

Ring = NDArray[np.float64]

_MANY = 120  # corners; ear clipping takes the cube of their number
_FLAT = 1e-9  # a corner whose sine is below this is no corner


def ring_of(polygon: Polygon) -> Ring:
    """Exterior of a polygon: counter-clockwise, no repeated and no straight-on points."""
    ring = np.asarray(orient(polygon, 1.0).exterior.coords)[:-1, :2]
    return _without_flat_points(ring)


def _without_flat_points(ring: Ring) -> Ring:
    while len(ring) > 3:
        before = ring - np.roll(ring, 1, axis=0)
        after = np.roll(ring, -1, axis=0) - ring
        turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        size = np.hypot(*before.T) * np.hypot(*after.T)
        flat = np.abs(turn) <= _FLAT * size
        if not flat.any():
            break
        drop = int(np.flatnonzero(flat)[0])
        ring = np.delete(ring, drop, axis=0)
    return ring


def _cross(o: Ring, a: Ring, b: Ring) -> float:
    return float((a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]))


def _is_convex(ring: Ring) -> bool:
    points = ring.tolist()  # plain numbers: most rings asked about have four to eight corners
    (px, py), (x, y) = points[-2], points[-1]
    for nx, ny in points:
        if (x - px) * (ny - y) - (y - py) * (nx - x) < -1e-12:
            return False
        px, py, x, y = x, y, nx, ny
    return True


def _triangles(ring: Ring) -> list[list[int]]:
    """Ear clipping; of all ears the one with the largest smallest angle goes first."""
    left = list(range(len(ring)))
    triangles = []
    while len(left) > 3:
        best, best_quality = -1, -1.0
        for k in range(len(left)):
            a, b, c = (ring[left[k - 1]], ring[left[k]], ring[left[(k + 1) % len(left)]])
            area = _cross(a, b, c)
            if area <= 0:
                continue
            sides = [float(np.hypot(*(p - q))) for p, q in ((a, b), (b, c), (c, a))]
            quality = area / max(sides) ** 2
            if quality <= best_quality:
                continue
            others = [i for i in left if i not in (left[k - 1], left[k], left[(k + 1) % len(left)])]
            p = ring[others]
            inside = np.ones(len(p), dtype=bool)
            for u, v in ((a, b), (b, c), (c, a)):
                inside &= (v[0] - u[0]) * (p[:, 1] - u[1]) - (v[1] - u[1]) * (p[:, 0] - u[0]) >= 0
            same = (p == a).all(axis=1) | (p == b).all(axis=1) | (p == c).all(axis=1)
            if (inside & ~same).any():
                continue
            best, best_quality = k, quality
        if best < 0:  # only slivers are left: take the flattest corner
            areas = [
                abs(_cross(ring[left[k - 1]], ring[left[k]], ring[left[(k + 1) % len(left)]]))
                for k in range(len(left))
            ]
            best = int(np.argmin(areas))
        triangles.append([left[best - 1], left[best], left[(best + 1) % len(left)]])
        del left[best]
    triangles.append(left)
    return triangles


def _merge(ring: Ring, parts: list[list[int]]) -> list[list[int]]:
    """Join parts across shared edges as long as the union stays convex, longest shared edge first."""
    while True:
        owner = {(part[k - 1], part[k]): n for n, part in enumerate(parts) for k in range(len(part))}
        shared = sorted(
            ((a, b) for (a, b) in owner if a < b and (b, a) in owner),
            key=lambda e: -float(np.hypot(*(ring[e[0]] - ring[e[1]]))),
        )
        for a, b in shared:
            one, two = owner[(a, b)], owner[(b, a)]
            p, q = parts[one], parts[two]
            k, m = p.index(b), q.index(a)
            # p from b round to a, then q from a round to b, ends not repeated
            union = p[k:] + p[:k] + (q[m:] + q[:m])[1:-1]
            if _is_convex(ring[union]):
                parts = [part for n, part in enumerate(parts) if n not in (one, two)] + [union]
                break
        else:
            return parts


def convex_parts(polygon: Polygon | MultiPolygon) -> list[Ring]:
    """Convex parts of a polygon without holes (of each polygon of a MultiPolygon)."""
    if isinstance(polygon, MultiPolygon):
        return [part for one in polygon.geoms for part in convex_parts(one)]
    if polygon.is_empty or polygon.area <= 0:
        return []
    ring = ring_of(polygon)
    if _is_convex(ring):
        return [ring]
    if len(ring) > _MANY:
        return _plain_triangles(polygon)
    parts = [_without_flat_points(ring[part]) for part in _merge(ring, _triangles(ring))]
    parts = [part for part in parts if _area(part) > 1e-9]
    return parts if _are_parts(parts, polygon) else _plain_triangles(polygon)


def _plain_triangles(polygon: Polygon) -> list[Ring]:
    """Triangles between the polygon's corners: more parts than need be, but quick and sure."""
    triangles = shapely.constrained_delaunay_triangles(polygon).geoms
    return [ring_of(each) for each in triangles if each.area > 1e-9]


def _are_parts(parts: list[Ring], polygon: Polygon) -> bool:
    """Whether none leaves the polygon and together they have its area: slivers can lead ear clipping astray."""
    rounding = 1e-6 * (polygon.area + polygon.length)
    if abs(sum(_area(part) for part in parts) - polygon.area) > rounding:
        return False
    outside = [Polygon(part).difference(polygon).area for part in parts if not _covered(part, polygon)]
    return sum(outside) <= rounding


def _covered(part: Ring, polygon: Polygon) -> bool:
    whole = Polygon(part)
    return whole.is_valid and bool(polygon.covers(whole))


def _area(ring: Ring) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return 0.5 * float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))

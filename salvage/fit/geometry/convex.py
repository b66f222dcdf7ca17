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
    points = ring.tolist()
    left = list(range(len(ring)))
    corners = [_corner(points, left, k) for k in range(len(left))]  # of each corner: area, quality
    triangles = []
    while len(left) > 3:
        there = ring[left]
        by_quality = sorted((-quality, k) for k, (area, quality) in enumerate(corners) if area > 0)
        best = next((k for _, k in by_quality if _is_ear(there, k)), -1)
        if best < 0:  # only slivers are left: take the flattest corner
            best = int(np.argmin([abs(area) for area, _ in corners]))
        triangles.append([left[best - 1], left[best], left[(best + 1) % len(left)]])
        del left[best], corners[best]
        for k in (best - 1, best % len(left)):
            corners[k] = _corner(points, left, k)
    triangles.append(left)
    return triangles


def _corner(points: list[list[float]], left: list[int], k: int) -> tuple[float, float]:
    """Twice the area of the triangle at corner k of those left, and how good it is: area over longest side squared."""
    (ax, ay), (bx, by), (cx, cy) = (points[left[k - 1]], points[left[k]], points[left[(k + 1) % len(left)]])
    area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    if area <= 0:
        return area, -1.0
    return area, area / float(np.hypot((ax - bx, bx - cx, cx - ax), (ay - by, by - cy, cy - ay)).max()) ** 2


def _is_ear(ring: Ring, k: int) -> bool:
    """Whether no corner of the ring lies in the triangle at corner k, other than its own."""
    a, b, c = ring[k - 1], ring[k], ring[(k + 1) % len(ring)]
    inside = np.ones(len(ring), dtype=bool)
    for u, v in ((a, b), (b, c), (c, a)):
        inside &= (v[0] - u[0]) * (ring[:, 1] - u[1]) - (v[1] - u[1]) * (ring[:, 0] - u[0]) >= 0
    own = (ring == a).all(axis=1) | (ring == b).all(axis=1) | (ring == c).all(axis=1)
    return not (inside & ~own).any()


def _merge(ring: Ring, parts: list[list[int]]) -> list[list[int]]:
    """Join parts across shared edges as long as the union stays convex, longest shared edge first."""
    edges = np.array([(part[k - 1], part[k]) for part in parts for k in range(len(part))])
    lengths = np.hypot(*(ring[edges[:, 0]] - ring[edges[:, 1]]).T).tolist()
    length = {(a, b): each for (a, b), each in zip(edges.tolist(), lengths, strict=True)}
    while True:
        owner = {(part[k - 1], part[k]): n for n, part in enumerate(parts) for k in range(len(part))}
        shared = sorted(
            ((a, b) for (a, b) in owner if a < b and (b, a) in owner),
            key=lambda e: -length[e],
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

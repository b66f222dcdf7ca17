"""Convex parts of simple polygons, for overlap tests that are exact and cheap.

A *part* is a convex polygon, (n, 2) in mm, counter-clockwise, first point not repeated. The parts of a
polygon cover it exactly: together they are the polygon, and no part leaves it.
Source: ear clipping, then Hertel and Mehlhorn's merging of triangles, as in O'Rourke, Computational
Geometry in C, 2nd ed. (1998), sections 1.6 and 2.4 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

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
        by_quality = sorted((-quality, k) for k, (area, quality) in enumerate(corners) if area > 0)
        best = next((k for _, k in by_quality if _is_ear(points, left, k)), -1)
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
    longest = max(
        abs(complex(ax - bx, ay - by)), abs(complex(bx - cx, by - cy)), abs(complex(cx - ax, cy - ay))
    )
    return area, area / longest**2


def _is_ear(points: list[list[float]], left: list[int], k: int) -> bool:
    """Whether no corner of those left lies in the triangle at corner k, other than its own."""
    a, b, c = points[left[k - 1]], points[left[k]], points[left[(k + 1) % len(left)]]
    (ax, ay), (bx, by), (cx, cy) = a, b, c
    abx, aby, bcx, bcy, cax, cay = bx - ax, by - ay, cx - bx, cy - by, ax - cx, ay - cy
    for number in left:  # plain numbers: arrays take several times as long for a few dozen corners
        x, y = point = points[number]
        if (
            abx * (y - ay) - aby * (x - ax) >= 0
            and bcx * (y - by) - bcy * (x - bx) >= 0
            and cax * (y - cy) - cay * (x - cx) >= 0
            and point not in (a, b, c)
        ):
            return False
    return True


def _merge(ring: Ring, parts: list[list[int]]) -> list[list[int]]:
    """Join parts across shared edges as long as the union stays convex, longest shared edge first."""
    points = ring.tolist()
    alive = dict(enumerate(parts))  # by number, in the order in which they came to be
    owner = {(part[k - 1], part[k]): n for n, part in alive.items() for k in range(len(part))}
    shared: dict[float, list[tuple[int, int]]] = {}
    for a, b in owner:
        if a < b and (b, a) in owner:
            (ax, ay), (bx, by) = points[a], points[b]
            shared.setdefault(abs(complex(ax - bx, ay - by)), []).append((a, b))
    alike = [shared[length] for length in sorted(shared, reverse=True)]
    failed: dict[
        tuple[int, int], tuple[int, int]
    ] = {}  # of an edge: the two parts that are not convex together
    count = len(parts)

    def place(edge: tuple[int, int]) -> tuple[int, int]:
        return owner[edge], alive[owner[edge]].index(edge[1])

    def joined() -> bool:
        nonlocal count
        for edges in alike:
            for a, b in sorted(edges, key=place) if len(edges) > 1 else edges:
                one, two = owner[(a, b)], owner[(b, a)]
                if failed.get((a, b)) == (one, two):
                    continue
                p, q = alive[one], alive[two]
                k, m = p.index(b), q.index(a)
                # p from b round to a, then q from a round to b, ends not repeated
                union = p[k:] + p[:k] + (q[m:] + q[:m])[1:-1]
                if not _is_convex([points[n] for n in union]):
                    failed[(a, b)] = one, two
                    continue
                edges.remove((a, b))
                del owner[(a, b)], owner[(b, a)], alive[one]
                alive.pop(two, None)
                alive[count] = union
                owner.update(((union[i - 1], union[i]), count) for i in range(len(union)))
                count += 1
                return True
        return False

    while joined():
        pass
    return list(alive.values())


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
    after_x, after_y = np.concatenate((x[1:], x[:1])), np.concatenate((y[1:], y[:1]))
    return 0.5 * float(np.dot(x, after_y) - np.dot(y, after_x))

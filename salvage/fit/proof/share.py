"""Which shapes can't lie on the same cloth, and proofs from that: more large shapes than cloths for them.

A pair of shapes on one cloth is ruled out if for every pair of allowed turns all differences of places
lie within their no-fit polygon. Differences are covered by convex cells that are divided until each lies
within, or a pair of places is found that does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import MultiPoint, Polygon, box
from shapely.geometry.base import BaseGeometry

from salvage.fit.geometry.turning import turned
from salvage.fit.proof.place import Ended, never
from salvage.fit.proof.region import is_empty, no_fit, parts_of, region, shrunk

_MOST_CELLS = 3000
_CELLS_A_LOOK = 10  # as long as it takes to work out a region


@dataclass(frozen=True, slots=True)
class Way:
    """An outline turned and perhaps flipped: one allowed way to lie."""

    outline: Polygon
    angle: float
    flipped: bool

    def core(self) -> BaseGeometry:
        return shrunk(turned(self.outline, self.angle, self.flipped))


@lru_cache(maxsize=2048)
def place_of(cloth: Polygon, way: Way) -> BaseGeometry:
    """Region of the shrunk shape on the cloth, an empty polygon where it is proved that it has none."""
    where = region(cloth, way.core())
    return Polygon() if is_empty(where) else where


@lru_cache(maxsize=2048)
def _between(one: Way, two: Way, gap: float) -> BaseGeometry:
    """Moves of two, seen from one, at which the shrunk shapes come nearer than the gap; a subset of them."""
    whole = shapely.union_all([no_fit(a, b) for a in parts_of(one.core()) for b in parts_of(two.core())])
    whole = whole.buffer(gap * 0.999, quad_segs=4) if gap > 0 else whole
    shapely.prepare(whole)
    return whole


def cannot_share(
    cloth: Polygon,
    one: tuple[Way, ...],
    two: tuple[Way, ...],
    gap: float,
    ended: Ended = never,
) -> bool:
    """True only if it is proved that no two of these ways leave both shapes room on the cloth."""
    for a in one:
        if place_of(cloth, a).is_empty:
            continue
        for b in two:
            if ended():
                return False
            if place_of(cloth, b).is_empty:
                continue
            if not _always_overlap(place_of(cloth, a), place_of(cloth, b), _between(a, b, gap), ended):
                return False
    return True


def _always_overlap(one: BaseGeometry, two: BaseGeometry, overlap: BaseGeometry, ended: Ended) -> bool:
    """Whether every move from a point of one to a point of two lies in overlap."""
    todo = [(a, b) for a in _polygons(one) for b in _polygons(two)]
    cells = 0
    while todo:
        a, b = todo.pop()
        cells += 1
        if cells > _MOST_CELLS or (cells % _CELLS_A_LOOK == 0 and ended()):
            return False
        pa, pb = shapely.get_coordinates(a.convex_hull), shapely.get_coordinates(b.convex_hull)
        if overlap.covers(MultiPoint((pb[:, None] - pa[None]).reshape(-1, 2)).convex_hull):
            continue
        corners_a, corners_b = shapely.get_coordinates(a), shapely.get_coordinates(b)
        moves = (corners_b[:, None] - corners_a[None]).reshape(-1, 2)
        if not shapely.contains_xy(overlap, moves[:, 0], moves[:, 1]).all():
            return False  # not proved: these two places, at least of the shrunk shapes, leave both room
        larger_first = a.envelope.length >= b.envelope.length
        whole = a if larger_first else b
        if whole.envelope.length < 0.1:
            return False
        for half in _halves(whole):
            todo += [(half, b)] if larger_first else [(a, half)]
    return True


def _polygons(where: BaseGeometry) -> list[Polygon]:
    return [p for p in getattr(where, "geoms", [where]) if isinstance(p, Polygon) and not p.is_empty]


def _halves(polygon: Polygon) -> list[Polygon]:
    x0, y0, x1, y1 = polygon.bounds
    if x1 - x0 > y1 - y0:
        m = (x0 + x1) / 2
        boxes = (box(x0 - 1, y0 - 1, m, y1 + 1), box(m, y0 - 1, x1 + 1, y1 + 1))
    else:
        m = (y0 + y1) / 2
        boxes = (box(x0 - 1, y0 - 1, x1 + 1, m), box(x0 - 1, m, x1 + 1, y1 + 1))
    return [p for b in boxes for p in _polygons(polygon.intersection(b))]


def inner_rectangle(outline: BaseGeometry) -> tuple[float, float]:
    """Width and height of a rectangle, upright, that lies in the outline; as wide for its height as the box.

    Its middle is middle_of(outline), and so may be the middle of any smaller one.
    """
    x0, y0, x1, y1 = outline.bounds
    if outline.covers(box(x0, y0, x1, y1)):
        return x1 - x0, y1 - y0
    x, y = middle_of(outline)
    unit = affinity.translate(box(x0, y0, x1, y1), x - (x0 + x1) / 2, y - (y0 + y1) / 2)
    low, high = 0.0, 1.0
    for _ in range(10):
        middle = (low + high) / 2
        good = outline.covers(affinity.scale(unit, middle, middle, origin=(x, y)))
        low, high = (middle, high) if good else (low, middle)
    return low * (x1 - x0), low * (y1 - y0)


def middle_of(outline: BaseGeometry) -> tuple[float, float]:
    """The middle of the outline's box if it fills that, else of a circle in it."""
    x0, y0, x1, y1 = outline.bounds
    if outline.covers(box(x0, y0, x1, y1)):
        return (x0 + x1) / 2, (y0 + y1) / 2
    x, y = shapely.maximum_inscribed_circle(outline, tolerance=1.0).coords[0]
    return float(x), float(y)


@dataclass(frozen=True, slots=True)
class LatticePoints:
    """How many points of the lattice through (x, y) lie on a cloth."""

    points: int
    x: float
    y: float


@lru_cache(maxsize=1024)
def most_rectangles(cloth: Polygon, width: float, height: float, gap: float) -> LatticePoints:
    """At most so many upright rectangles of this size or larger lie on the cloth without overlap.

    Each one, drawn out by gap / sqrt(2) to the right and up, is half open and holds exactly one point of
    any lattice of that pitch; so the points of the lattice that lie on the (drawn out) cloth are at least
    as many as the rectangles. The least over many lattices is taken.
    """
    out = gap / np.sqrt(2)
    w, h = width + out - 0.02, height + out - 0.02  # a little small, so that rounding can't hurt
    # holds the cloth drawn out by a square of side `out`: a disc round the square's middle does
    ground = (
        affinity.translate(cloth.buffer(0.72 * out, quad_segs=16), out / 2, out / 2) if out > 0 else cloth
    )
    shapely.prepare(ground)
    x0, y0, x1, y1 = ground.bounds
    shift = np.append((np.arange(16) + 0.5) / 16, 1 - 1e-9)
    cols, rows = np.arange(int((x1 - x0) / w) + 2), np.arange(int((y1 - y0) / h) + 2)
    best = LatticePoints(len(cols) * len(rows), x0, y0)
    for sx in shift:
        for sy in shift:
            x, y = np.meshgrid(x0 + w * (sx + cols), y0 + h * (sy + rows))
            points = int(shapely.intersects_xy(ground, x.ravel(), y.ravel()).sum())
            if points < best.points:
                best = LatticePoints(points, float(x0 + w * sx), float(y0 + h * sy))
    return best

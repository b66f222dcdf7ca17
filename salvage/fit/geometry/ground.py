"""A cloth made ready for the search: its grain up, and all that is no cloth within its hull in convex parts."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import Polygon

from salvage.fit.geometry.convex import Ring, convex_parts, ring_of
from salvage.fit.geometry.plainer import simpler
from salvage.fit.geometry.turning import turned
from salvage.fit.question import Cloth

MANY_POINTS = 80  # of a cloth's edge
_SPECK = 1e-6  # mm^2; a pocket of the edge that is smaller is none


@dataclass(frozen=True, slots=True)
class Ground:
    """A cloth with its grain up. rings: the edge, counter-clockwise, and holes, clockwise. hull: counter-clockwise.
    obstacles: convex, outside the cloth or in its holes.
    """

    cloth: int
    polygon: Polygon
    rings: tuple[Ring, ...]
    hull: Ring
    obstacles: tuple[Ring, ...]


def ground_of(index: int, cloth: Cloth, most: int = MANY_POINTS) -> Ground:
    """The cloth with its grain up; its rings, hull and obstacles with about `most` points at the most."""
    polygon, rings, hull, obstacles = upright(cloth.polygon, cloth.grain, most)
    return Ground(index, polygon, rings, hull, obstacles)


@lru_cache(maxsize=256)  # one answer asks about the same cloth many times, and so does the next after an edit
def upright(
    cloth: Polygon, grain: float, most: int
) -> tuple[Polygon, tuple[Ring, ...], Ring, tuple[Ring, ...]]:
    """What a ground has, of a cloth with this grain: the whole polygon; the rings, the hull and the obstacles of a plainer one."""
    polygon = turned(cloth, 90.0 - grain)
    slim = simpler(polygon, most, grow=False)
    hull = slim.convex_hull
    holes = [ring_of(Polygon(hole))[::-1] for hole in slim.interiors]
    return polygon, (ring_of(slim), *holes), ring_of(hull), tuple(obstacles_of(slim, hull))


def obstacles_of(polygon: Polygon, hull: Polygon) -> list[Ring]:
    """Convex parts of all that is not cloth within the hull, holes first.

    Pockets between the hull and the edge are drawn out beyond the hull, so that being deep in one costs
    as much as being far outside.
    """
    parts: list[Ring] = []
    for hole in polygon.interiors:
        parts += convex_parts(Polygon(hole))
    reach = 0.5 * math.hypot(hull.bounds[2] - hull.bounds[0], hull.bounds[3] - hull.bounds[1])
    for chain in _pockets(polygon, hull):
        if Polygon(chain).area >= _SPECK:
            parts += convex_parts(_drawn_out(chain, reach))
    return parts


def _pockets(polygon: Polygon, hull: Polygon) -> list[Ring]:
    """Stretches of the edge between two corners of the hull that follow each other, ends included.

    Corners of the hull are corners of the edge, so no tolerance is needed to tell a pocket's lid, the
    straight line between its ends, from its other sides, however shallow the pocket is.
    """
    ring = np.asarray(shapely.geometry.polygon.orient(polygon, 1.0).exterior.coords)[:-1, :2]
    on_hull = set(map(tuple, np.asarray(hull.exterior.coords)[:, :2].tolist()))
    at = [n for n, corner in enumerate(map(tuple, ring.tolist())) if corner in on_hull]
    twice = np.concatenate([ring, ring])
    ends = [*at[1:], at[0] + len(ring)] if at else []
    return [twice[a : b + 1] for a, b in zip(at, ends, strict=True) if b - a > 1]


def _drawn_out(chain: Ring, reach: float) -> Polygon:
    """The pocket that the chain bounds, together with the ground outside its lid, the line from end to start."""
    a, b = chain[0], chain[-1]
    out = np.array([b[1] - a[1], a[0] - b[0]]) * (reach / float(np.hypot(*(b - a))))
    drawn = Polygon([*chain, b + out, a + out])
    if drawn.is_valid:
        return drawn
    mended = shapely.make_valid(Polygon(chain))
    parts = [each for each in getattr(mended, "geoms", [mended]) if isinstance(each, Polygon)]
    return max(parts, key=lambda each: each.area, default=Polygon())

"""Where one shape lies on one stretch of cloth: worked out exactly, with nothing compiled.

A *stretch* is a connected bit of cloth that is still free. The places of a shape on it, at one angle, are
the moves that keep the shape within the stretch's hull less the no-fit polygons of all that is not cloth.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, reduce

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from salvage.fit.geometry.convex import Ring, convex_parts, no_fits, ring_of
from salvage.fit.geometry.ground import obstacles_of
from salvage.fit.geometry.plainer import simpler
from salvage.fit.geometry.turning import trig

_MANY_POINTS = 80  # an edge with more corners is drawn plainer, inwards
_ROUNDING = 1e-7  # mm, as in the tables: a shape as wide as the cloth has a line or a point for its places
_PARALLEL = 1e-9
_AN_ANGLE, _A_PAIR = (
    0.3,
    0.02,
)  # milliseconds about: one angle, and in it each part of the shape beside each of a wall

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Stretch:
    """cloth: index of the cloth that it is part of. angles: at which the shape may lie on it."""

    cloth: int
    polygon: Polygon
    angles: tuple[float, ...]

    @cached_property
    def _slim(self) -> Polygon:
        """The stretch with fewer corners where there are many, unless it is convex: then they cost little."""
        convex = self.polygon.convex_hull.area <= self.polygon.area * (1 + _PARALLEL)
        return self.polygon if convex else simpler(self.polygon, _MANY_POINTS, grow=False)

    @cached_property
    def _hull(self) -> tuple[Floats, Floats]:
        """Outward normals (n, 2) and offsets (n,) of the hull's edges."""
        ring = ring_of(self._slim.convex_hull)
        edge = np.roll(ring, -1, axis=0) - ring
        normal = np.column_stack([edge[:, 1], -edge[:, 0]]) / np.hypot(*edge.T)[:, None]
        return normal, (normal * ring).sum(axis=1)

    @cached_property
    def _pairs(self) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
        """Pairs of the hull's edges that aren't parallel, and the sine between them."""
        normal, _ = self._hull
        i, j = np.triu_indices(len(normal), 1)
        det = normal[i, 0] * normal[j, 1] - normal[i, 1] * normal[j, 0]
        keep = np.abs(det) > _PARALLEL
        return i[keep], j[keep], det[keep]

    @cached_property
    def _walls(self) -> tuple[Ring, ...]:
        """Convex parts of what is not cloth within the hull."""
        return tuple(obstacles_of(self._slim, self._slim.convex_hull))

    @property
    def walls(self) -> int:
        """How many convex parts there are of what is not cloth within the hull."""
        return len(self._walls)

    def within_hull(self, points: Floats) -> Floats:
        """(m, 2) corners of the region of moves that keep the points within the hull; none if it is empty."""
        normal, offset = self._hull
        if len(offset) > _MANY_POINTS:
            hull, corners = self._slim.convex_hull, shapely.multipoints(points).convex_hull
            moved = [affinity.translate(hull, -x, -y) for x, y in shapely.get_coordinates(corners)[:-1]]
            return shapely.get_coordinates(reduce(shapely.intersection, moved))
        i, j, det = self._pairs
        off = offset - (normal @ points.T).max(axis=1)
        x = (off[i] * normal[j, 1] - off[j] * normal[i, 1]) / det
        y = (normal[i, 0] * off[j] - normal[j, 0] * off[i]) / det
        corner = np.column_stack([x, y])
        return corner[(corner @ normal.T <= off + _ROUNDING).all(axis=1)]

    def places(self, parts: Sequence[Ring]) -> Floats:
        """(m, 2) corners of the region of moves that keep a shape, given by its convex parts, on the stretch."""
        corners = self.within_hull(np.concatenate(parts))
        if not len(corners) or not self._walls:
            return corners
        where = shapely.multipoints(corners).convex_hull
        if where.area <= 0:  # a line or a point: only its ends are looked at
            blocked = no_fits(self._walls, parts)
            free = [not shapely.contains_xy(blocked, x, y).any() for x, y in corners]
            return corners[np.array(free)]
        return shapely.get_coordinates(self._less_walls(where, parts))

    def region(self, parts: Sequence[Ring]) -> BaseGeometry:
        """The region itself, where it has an area."""
        corners = self.within_hull(np.concatenate(parts))
        where = shapely.multipoints(corners).convex_hull if len(corners) else Polygon()
        return Polygon() if where.area <= 0 else self._less_walls(where, parts)

    def _less_walls(self, where: BaseGeometry, parts: Sequence[Ring]) -> BaseGeometry:
        x0, y0, x1, y1 = where.bounds
        low, high = self._wall_boxes
        blocked = []
        for part in parts:
            near = (high - part.min(axis=0) > (x0, y0)).all(axis=1) & (low - part.max(axis=0) < (x1, y1)).all(
                axis=1
            )
            blocked += list(no_fits([self._walls[n] for n in np.flatnonzero(near)], [part]))
        return where.difference(shapely.union_all(blocked)) if blocked else where

    @cached_property
    def _wall_boxes(self) -> tuple[Floats, Floats]:
        low = np.array([wall.min(axis=0) for wall in self._walls]).reshape(-1, 2)
        return low, np.array([wall.max(axis=0) for wall in self._walls]).reshape(-1, 2)


@dataclass
class Outline:
    """A shape to be laid. Its convex parts are worked out once, and turned for each angle."""

    polygon: Polygon
    _turned: dict[float, tuple[Ring, ...]] = field(default_factory=dict)

    @cached_property
    def _parts(self) -> tuple[Ring, ...]:
        return tuple(convex_parts(self.polygon))

    def turned(self, angle: float) -> tuple[Ring, ...]:
        """Convex parts, turned about (0, 0)."""
        if angle not in self._turned:
            cos, sin = trig(angle)
            matrix = np.array([[cos, sin], [-sin, cos]])
            self._turned[angle] = tuple(part @ matrix for part in self._parts)
        return self._turned[angle]


def place_of(
    outline: Outline,
    stretch: Stretch,
    corner: tuple[float, float] = (-0.3, -1.0),
    *,
    over: Callable[[], bool] = lambda: False,
    spend: Callable[[float], None] = lambda _: None,
) -> tuple[float, float, float] | None:
    """(angle, x, y) of the place furthest towards the corner; None where there is none.

    corner: a direction. The outline is turned by the angle about (0, 0), then moved by (x, y). over, spend: as for `fits`.
    """
    best, found = -np.inf, None
    direction = np.array(corner)
    for angle in stretch.angles:
        if over():
            break
        parts = outline.turned(angle)
        spend(_AN_ANGLE + _A_PAIR * len(parts) * stretch.walls)
        where = stretch.places(parts)
        if not len(where):
            continue
        # what counts is how far the shape reaches away from the corner
        out = where @ direction + min(float((part @ direction).min()) for part in parts)
        at = int(out.argmax())
        if out[at] > best + 1e-9:
            best, found = float(out[at]), (angle, float(where[at, 0]), float(where[at, 1]))
    return found


def fits(
    outline: Outline,
    stretch: Stretch,
    *,
    in_hull: bool = False,
    over: Callable[[], bool] = lambda: False,
    spend: Callable[[float], None] = lambda _: None,
) -> bool:
    """Whether the shape has a place on the stretch. in_hull: or at least within its hull, which is quick to see.

    over: says whether to end; a place that wasn't looked for then counts as none. spend: told of what each angle takes,
    in about milliseconds.
    """
    for angle in stretch.angles:
        if over():
            return False
        parts = outline.turned(angle)
        spend(_AN_ANGLE + (0.0 if in_hull else _A_PAIR * len(parts) * stretch.walls))
        where = stretch.within_hull(np.concatenate(parts)) if in_hull else stretch.places(parts)
        if len(where):
            return True
    return False

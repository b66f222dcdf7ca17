"""That a shape has no place: its moves are covered by square cells, and each cell is ruled out by itself.

Take a cell of moves with half side h, and the shape's core: what of it is further than h * sqrt(2) from its
edge. Wherever in the cell the shape is moved to, it covers the core moved to the cell's middle. So if that
core is not on the cloth, no move of the cell is allowed. A cell that can't be ruled out is cut in four.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from salvage.fit.recheck.doubt import SLACK, Doubt, Limit
from salvage.fit.recheck.exact import area, area_at_most
from salvage.fit.recheck.ways import Arc, lying

Cells = NDArray[np.int64]  # (n, 2), column and row of a cell on the grid of its level

_FINEST = 0.01  # mm, side of the smallest cell
_NARROWEST = 0.01  # degrees, half-width of the smallest arc
_MOST_CELLS = 400_000  # at one level
_MOST_CELLS_ARC = 10_000  # where the arc may be cut in two instead
_LOOKS = 64  # cells at a level tried for a place, to give up early


def polygons(shape: BaseGeometry) -> list[Polygon]:
    """The polygons a geometry is made of."""
    parts = getattr(shape, "geoms", [shape])
    return [each for each in parts if isinstance(each, Polygon) and not each.is_empty]


def core_of(shape: Polygon, depth: float) -> list[Polygon]:
    """What of the shape is at least `depth` from its edge (or part of that): confirmed, not believed."""
    found = polygons(shape.buffer(-depth, join_style="mitre", mitre_limit=20.0))
    edge = shape.exterior
    shapely.prepare(shape)
    return [each for each in found if shape.covers(each) and float(each.distance(edge)) >= depth - SLACK / 4]


class Moves:
    """Cells of moves that keep a shape on a cloth, as far as known: those that are not ruled out yet.

    shape: as it lies. thin: mm by which it must be taken in beforehand. side: of the cells now.
    """

    def __init__(
        self,
        shape: Polygon,
        cloth: Polygon,
        limit: Limit,
        thin: float = 0.0,
        most: int = _MOST_CELLS,
        side: float | None = None,
    ) -> None:
        self.shape, self.cloth, self.limit, self.thin = shape, cloth, limit, thin + SLACK
        self.most = most
        shapely.prepare(cloth)
        low, high = _reach(shape, cloth, self.thin)
        self.possible = bool((high >= low).all())
        self.side = side_for(shape, cloth) if side is None else side
        if self.possible:
            first, last = np.floor(low / self.side), np.floor(high / self.side)
            if np.prod(last - first + 1) > self.most:
                raise Doubt("there are too many places to look at")
            self.cells = _grid(first.astype(np.int64), last.astype(np.int64))
        else:
            self.cells = np.zeros((0, 2), np.int64)
        self._rule_out()

    def middles(self) -> NDArray[np.float64]:
        """(n, 2) middles of the cells, mm."""
        return np.asarray((self.cells + 0.5) * self.side, np.float64)

    def finer(self) -> None:
        """Cut every cell in four and rule out what can be."""
        if len(self.cells) * 4 > self.most or self.side < 2 * _FINEST:
            raise Doubt("a place could neither be found nor ruled out")
        corner = np.array([(0, 0), (0, 1), (1, 0), (1, 1)])
        self.cells = (2 * self.cells[:, None] + corner[None]).reshape(-1, 2)
        self.side /= 2
        self._rule_out()

    def keep(self, wanted: NDArray[np.bool_]) -> None:
        """Only these of the cells matter any more."""
        self.cells = self.cells[wanted]

    def has_place(self) -> bool:
        """Whether the shape, taken in by `thin`, was found to lie on the cloth at the middle of some cell."""
        return len(self.places()) > 0

    def places(self) -> NDArray[np.float64]:
        """(n, 2) of the middles of a few cells, those at which the shape, taken in by `thin`, is on the cloth."""
        few = self.middles()[:: max(1, len(self.cells) // _LOOKS)]
        cores = core_of(self.shape, self.thin)
        return few[self._covered(cores, few)] if cores else few[:0]

    def _rule_out(self) -> None:
        cores = core_of(self.shape, self.thin + self.side / 2 * math.sqrt(2) + SLACK)
        if cores and len(self.cells):
            self.cells = self.cells[self._covered(cores, self.middles())]

    def _covered(self, cores: list[Polygon], moves: NDArray[np.float64]) -> NDArray[np.bool_]:
        """(n,) whether all cores lie on the cloth when moved so."""
        left = np.ones(len(moves), bool)
        for core in cores:
            ring = shapely.get_coordinates(core.exterior)
            for corner in ring[:-1]:
                at = np.flatnonzero(left)
                self.limit.spend(len(at))
                left[at] = shapely.intersects_xy(self.cloth, *(moves[at] + corner).T)
            at = np.flatnonzero(left)
            self.limit.spend(4 * len(at))
            moved = shapely.polygons(shapely.linearrings(ring[None] + moves[at][:, None]))
            left[at] = shapely.covers(self.cloth, moved)
        return left


def _grid(first: Cells, last: Cells) -> Cells:
    columns, rows = np.arange(first[0], last[0] + 1), np.arange(first[1], last[1] + 1)
    return np.stack(np.meshgrid(columns, rows, indexing="ij"), axis=-1).reshape(-1, 2)


def _reach(shape: Polygon, cloth: Polygon, thin: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Least and greatest moves that keep the shape's bounding box, taken in, within the cloth's."""
    s, c = np.array(shape.bounds), np.array(cloth.bounds)
    low: NDArray[np.float64] = c[:2] - s[:2] - 2 * thin
    high: NDArray[np.float64] = c[2:] - s[2:] + 2 * thin
    return low, high


def side_for(shape: Polygon, cloth: Polygon) -> float:
    """A side of cells, mm, to begin with: small enough for a core, no larger than the moves there are."""
    s, c = shape.bounds, cloth.bounds
    room = max(c[2] - c[0] - s[2] + s[0], c[3] - c[1] - s[3] + s[1], _FINEST)
    return max(_FINEST, min(room, _inner_radius(shape) / 2, 40.0))


def _inner_radius(shape: Polygon) -> float:
    line = shapely.maximum_inscribed_circle(shape, tolerance=0.1)
    return float(shapely.Point(line.coords[0]).distance(shape.exterior))


def lies_nowhere_at(shape: Polygon, cloth: Polygon, limit: Limit, thin: float = 0.0) -> bool:
    """Whether no move keeps the shape, taken in by `thin`, on the cloth; False as soon as a place is found.

    Raises Doubt where neither can be told.
    """
    if not core_of(shape, thin + SLACK):
        return False
    moves = Moves(shape, cloth, limit, thin, _MOST_CELLS if thin == 0 else _MOST_CELLS_ARC)
    while len(moves.cells):
        if moves.has_place():
            return False
        moves.finer()
    return True


def lies_nowhere(outline: Polygon, flipped: bool, arcs: list[Arc], cloth: Polygon, limit: Limit) -> bool:
    """Whether the outline lies nowhere on the cloth at any angle of these arcs.

    Turned by up to `half` about its middle no point of it moves by more than 2 r sin(half / 2), r its
    reach; so the outline taken in by that lies within it at every angle of the arc.
    """
    if area(outline) > area_at_most(cloth, 0.0):
        return True
    line = shapely.maximum_inscribed_circle(outline, tolerance=0.01)
    centre = shapely.Point(line.coords[0])
    about = affinity.translate(outline, -centre.x, -centre.y)
    if sum(half for _, half in arcs) >= 180 and _disc_lies_nowhere(about, cloth, limit):
        return True
    reach = float(np.hypot(*shapely.get_coordinates(about).T).max())
    todo = list(arcs)
    while todo:
        angle, half = todo.pop()
        moved = 2 * reach * math.sin(math.radians(half) / 2)
        shape = lying(about, angle, flipped)
        try:
            if lies_nowhere_at(shape, cloth, limit, moved):
                continue
        except Doubt:
            limit.spend(0)  # out of time is out of time; too fine a question is asked of less
            if half == 0:
                raise
        if half < _NARROWEST:
            return False
        todo += [(angle - half / 2, half / 2), (angle + half / 2, half / 2)]
    return True


def _disc_lies_nowhere(about: Polygon, cloth: Polygon, limit: Limit) -> bool:
    """The largest circle in the outline, round (0, 0): it is there at every angle."""
    radius = float(shapely.Point(0, 0).distance(about.exterior)) - SLACK
    if radius <= 0.1:
        return False
    corners = [(radius * math.cos(a), radius * math.sin(a)) for a in np.arange(48) * (math.pi / 24)]
    try:
        return lies_nowhere_at(Polygon(corners), cloth, limit)
    except Doubt:
        limit.spend(0)
        return False

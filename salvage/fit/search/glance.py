"""A first glance, with nothing compiled: shapes laid one after the other, the largest first, into a corner.

Most projects that fit with room to spare are laid out by it at once. The places of a shape on a cloth are
worked out exactly, as polygons: within the cloth's hull, less the no-fit polygons of all that is not cloth
and of all that lies there already.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from salvage.fit.geometry.convex import Ring, convex_parts, no_fits
from salvage.fit.geometry.plainer import simpler
from salvage.fit.geometry.turning import trig
from salvage.fit.question import Cloth, Placed, Question, Shape, allowed_turns, angle_of_turn, takes
from salvage.fit.search.place import Stretch
from salvage.project.project import Point

_MANY_POINTS = 40  # an outline with more corners is drawn plainer, outwards
_APART = 1e-6  # mm more than the gap, so that rounding never makes it less
_CORNER = np.array([-0.3, -1.0])
_TURNS = (0.0, 90.0)  # tried where every angle is allowed


def glance(question: Question, over: Callable[[], bool]) -> list[Placed]:
    """Places for as many of the copies as were found; what finds none where the others lie is left out."""
    grounds = [_Ground(n, cloth, question.gap) for n, cloth in enumerate(question.cloths)]
    grounds.sort(key=lambda ground: -ground.cloth.polygon.area)
    order = sorted(range(len(question.shapes)), key=lambda s: -Polygon(question.shapes[s].outline).area)
    found: list[Placed] = []
    for s in order:
        shape = question.shapes[s]
        mirrored = shape.count // 2 if shape.mirrored_pair else 0
        for copy in range(shape.count):
            if over():
                return found
            flipped = copy >= shape.count - mirrored
            placed = next((p for g in grounds if (p := g.lay(s, shape, flipped, over))), None)
            if placed is None:
                break
            found.append(placed)
    return found


def all_have_places(question: Question) -> bool:
    """Whether each shape lies somewhere alone, as far as a glance tells; one that may lie at any angle is taken to."""
    return all(_has_a_place(question.cloths, shape) for shape in question.shapes)


def _has_a_place(cloths: Sequence[Cloth], shape: Shape) -> bool:
    flips = (False, True) if shape.may_flip else (False,)
    for cloth in cloths:
        if not takes(cloth, shape):
            continue
        turns = allowed_turns(shape, cloth)
        if turns is None or shape.off_grain > 0:
            return True
        for turn in turns:
            angle = angle_of_turn(turn, cloth)
            if any(not _places_on(cloth.polygon, shape.outline, angle, flip).is_empty for flip in flips):
                return True
    return False


class _Ground:
    """A cloth with what lies on it."""

    def __init__(self, index: int, cloth: Cloth, gap: float) -> None:
        self.index, self.cloth, self.gap = index, cloth, gap
        self.free = cloth.polygon.area
        self.laid: list[Ring] = []  # convex parts of what lies there, with the gap round them
        self.known: dict[tuple[int, float, bool], tuple[BaseGeometry, int]] = {}

    def lay(self, s: int, shape: Shape, flipped: bool, over: Callable[[], bool]) -> Placed | None:
        """Lay a copy where it goes furthest into the corner; None if it has no place here."""
        area = Polygon(shape.outline).area
        if not takes(self.cloth, shape) or area > self.free * (1 + 1e-9):
            return None
        best, found = np.inf, None
        turns = allowed_turns(shape, self.cloth)
        for turn in _TURNS if turns is None else turns:
            angle = angle_of_turn(turn, self.cloth)
            parts = _parts(shape.outline, angle, flipped)
            where = shapely.get_coordinates(self._places(s, shape.outline, angle, flipped, parts))
            if len(where):
                # what counts is the corner of the shape's box that is furthest from the cloth's
                reach = -(where @ _CORNER) + max(float(-(part @ _CORNER).min()) for part in parts)
                at = int(reach.argmin())
                if reach[at] < best:
                    best, found = float(reach[at]), (angle, parts, where[at])
            if over():
                break
        if found is None:
            return None
        angle, parts, (x, y) = found
        self.free -= area
        self.laid += [_let_out(part + np.array([x, y]), self.gap) for part in parts]
        return Placed(s, self.index, angle % 360, flipped, float(x), float(y))

    def _whole(self, outline: tuple[Point, ...], angle: float, flipped: bool) -> BaseGeometry:
        return _places_on(self.cloth.polygon, outline, angle, flipped)

    def _places(
        self, s: int, outline: tuple[Point, ...], angle: float, flipped: bool, parts: Sequence[Ring]
    ) -> BaseGeometry:
        """What is left of the places of a shape; what was laid since the last time is taken out of them."""
        where, taken = self.known.get((s, angle, flipped)) or (self._whole(outline, angle, flipped), 0)
        if taken < len(self.laid) and not where.is_empty:
            where = where.difference(shapely.union_all(no_fits(self.laid[taken:], parts)))
        self.known[s, angle, flipped] = where, len(self.laid)
        return where


@lru_cache(maxsize=256)  # one answer asks about the same cloth many times, and so does the next after an edit
def _stretch(polygon: Polygon) -> Stretch:
    return Stretch(0, polygon, ())


@lru_cache(maxsize=2048)  # and about the same shapes on it
def _places_on(polygon: Polygon, outline: tuple[Point, ...], angle: float, flipped: bool) -> BaseGeometry:
    return _stretch(polygon).region(_parts(outline, angle, flipped))


@lru_cache(maxsize=512)
def _parts(outline: tuple[tuple[float, float], ...], angle: float, flipped: bool) -> tuple[Ring, ...]:
    """Convex parts of the shape, mirrored if flipped, then turned about (0, 0)."""
    cos, sin = trig(angle)
    sign = -1.0 if flipped else 1.0
    matrix = np.array([[cos * sign, sin * sign], [-sin, cos]])
    return tuple((part @ matrix)[:: int(sign)] for part in _parts_as_drawn(outline))


@lru_cache(maxsize=256)
def _parts_as_drawn(outline: tuple[tuple[float, float], ...]) -> tuple[Ring, ...]:
    return tuple(convex_parts(simpler(Polygon(outline), _MANY_POINTS, grow=True)))


def _let_out(part: Ring, gap: float) -> Ring:
    wide = Polygon(part).buffer(gap + _APART, join_style="mitre")
    return np.asarray(wide.exterior.coords)[:-1]

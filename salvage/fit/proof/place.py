"""Proof that a shape has no place on any cloth of its fabric, at any allowed angle."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import shapely
from shapely import affinity
from shapely.geometry import Polygon

from salvage.fit.claim import Nearest, NoPlace, Proof
from salvage.fit.geometry.turning import turned
from salvage.fit.proof.region import SHRINK, is_empty, region, shrunk
from salvage.fit.question import Cloth, Question, Shape, allowed_turns, angle_of_turn, takes

_FINEST = 0.2  # degrees; half an interval of angles is not divided below this
_MOST_INTERVALS = 4000

Intervals = list[tuple[float, float]]
Ended = Callable[
    [], bool
]  # asked before each region is worked out; True ends the work, and nothing is proved


def never() -> bool:
    """No limit."""
    return False


def flips_of(shape: Shape) -> tuple[bool, ...]:
    """Ways a shape must or may be flipped. A mirrored pair must lie both ways: each alone may prove a no."""
    return (False, True) if shape.may_flip or shape.mirrored_pair else (False,)


def intervals(shape: Shape, cloth: Cloth) -> Intervals:
    """Allowed angles on the plane as (middle, half-width), degrees."""
    turns = allowed_turns(shape, cloth)
    if turns is None:
        return [(22.5 + 45.0 * k, 22.5) for k in range(8)]
    off = 0.0 if shape.angles is not None else shape.off_grain
    return [(angle_of_turn(turn, cloth), off) for turn in turns]


def has_no_place(shape: Shape, cloth: Cloth, flipped: bool, ended: Ended = never) -> bool:
    """True only if proved: every allowed angle is covered, intervals by shapes shrunk enough for all of it."""
    outline = Polygon(shape.outline)
    if outline.area > cloth.polygon.area * (1 + 1e-9):
        return True
    centre = outline.centroid
    middle = affinity.translate(outline, -centre.x, -centre.y)
    if allowed_turns(shape, cloth) is None and _circle_has_no_place(middle, cloth.polygon):
        return True
    reach = max(math.hypot(x, y) for x, y in middle.exterior.coords)
    todo = intervals(shape, cloth)
    done = 0
    while todo:
        angle, half = todo.pop()
        done += 1
        if done > _MOST_INTERVALS or ended():
            return False
        # turning by up to `half` about the centroid moves no point further than this
        moved = 2 * reach * math.sin(math.radians(half) / 2)
        core = shrunk(turned(middle, angle, flipped), SHRINK + moved)
        if not core.is_empty and is_empty(region(cloth.polygon, core)):
            continue
        if half < _FINEST:
            return False
        todo += [(angle - half / 2, half / 2), (angle + half / 2, half / 2)]
    return True


def inscribed_circle(outline: Polygon) -> tuple[Polygon, float]:
    """A 32-gon within the largest circle that lies in the outline (nearly the largest), and the radius."""
    line = shapely.maximum_inscribed_circle(outline, tolerance=0.01)
    centre = shapely.Point(line.coords[0])
    radius = centre.distance(outline.exterior)
    return centre.buffer(radius - SHRINK, quad_segs=8), radius


def _circle_has_no_place(outline: Polygon, cloth: Polygon) -> bool:
    disc, radius = inscribed_circle(outline)
    return radius > 1.0 and is_empty(region(cloth, disc))


def no_place(question: Question, shape_index: int, ended: Ended = never) -> Proof | None:
    """Proof that one shape can't be cut anywhere, with what would have fitted."""
    shape = question.shapes[shape_index]
    cloths = [c for c in question.cloths if takes(c, shape)]
    flips = flips_of(shape)
    if shape.mirrored_pair:
        stuck = [f for f in flips if all(has_no_place(shape, c, f, ended) for c in cloths)]
        if not stuck:
            return None
        flips = (stuck[0],)
    elif not all(has_no_place(shape, c, f, ended) for c in cloths for f in flips):
        return None
    return Proof(NoPlace(shape_index, flips, nearest(shape, cloths, flips, ended)), question)


class _Late(Exception):
    """The time for it is over."""


def nearest(shape: Shape, cloths: Sequence[Cloth], flips: Sequence[bool], ended: Ended = never) -> Nearest:
    """What stops the shape: the longest clear stretch of its width, or the size that would fit.

    What isn't known when the time is over isn't told.
    """
    only = ""
    try:
        if not cloths:
            return Nearest()
        looks = _Looks(cloths, flips, ended)
        outline = Polygon(shape.outline)
        turns = [allowed_turns(shape, c) for c in cloths]
        if any(t is None for t in turns):
            return Nearest(percent=looks.largest(outline, _fan(cloths)))
        angles = [[angle_of_turn(t, c) for t in of_c or ()] for of_c, c in zip(turns, cloths, strict=True)]
        if shape.turns is None and shape.angles is None:
            only = looks.only_so(outline, angles)
        x0, y0, x1, y1 = outline.bounds
        if abs(outline.area - (x1 - x0) * (y1 - y0)) < 1e-6 * outline.area:
            return Nearest(run=looks.longest(outline, angles), only=only)
        return Nearest(percent=looks.largest(outline, angles), only=only)
    except _Late:
        return Nearest(only=only)


Angles = Sequence[Sequence[float]]  # for each cloth


class _Looks:
    """Whether shapes have a place on the cloths. Raises _Late when the time for it is over."""

    def __init__(self, cloths: Sequence[Cloth], flips: Sequence[bool], ended: Ended) -> None:
        self.cloths, self.flips, self.ended = cloths, flips, ended

    def only_so(self, outline: Polygon, angles: Angles) -> str:
        """How the shape would fit, were it allowed: "face-down", "against-grain"; "" if neither."""
        if self._fits(outline, angles, (False, True)):
            return "face-down"
        every = [[angle_of_turn(t, c) for t in (0.0, 90.0, 180.0, 270.0)] for c in self.cloths]
        return "against-grain" if self._fits(outline, every, self.flips) else ""

    def longest(self, outline: Polygon, angles: Angles) -> float:
        """mm of the outline's length, from its lower end, that have a place."""
        x0, y0, x1, y1 = outline.bounds
        low, high = 0.0, y1 - y0
        for _ in range(10):
            middle = (low + high) / 2
            fits = self._fits(shapely.box(x0, y0, x1, y0 + middle), angles, self.flips)
            low, high = (middle, high) if fits else (low, middle)
        return low

    def largest(self, outline: Polygon, angles: Angles) -> float:
        """Percent of its size at which the outline has a place, rounded down."""
        low, high = 0.0, 1.0
        for _ in range(7):
            middle = (low + high) / 2
            small = affinity.scale(outline, middle, middle, origin=(0, 0))
            low, high = (middle, high) if self._fits(small, angles, self.flips) else (low, middle)
        return math.floor(100 * low)

    def _fits(self, outline: Polygon, angles: Angles, flips: Sequence[bool]) -> bool:
        for cloth, of_cloth in zip(self.cloths, angles, strict=True):
            for angle in of_cloth:
                for flipped in flips:
                    if self.ended():
                        raise _Late
                    if not is_empty(region(cloth.polygon, shrunk(turned(outline, angle, flipped)))):
                        return True
        return False


def _fan(cloths: Sequence[Cloth]) -> Angles:
    return [[15.0 * k for k in range(24)] for _ in cloths]

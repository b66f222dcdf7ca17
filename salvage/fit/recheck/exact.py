"""Areas as fractions: coordinates are binary fractions, so nothing is rounded."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from fractions import Fraction

import shapely
from shapely.geometry import Polygon

from salvage.fit.recheck.doubt import SLACK

PI_LOW, PI_HIGH = (
    Fraction(333, 106),
    Fraction(355, 113),
)  # Archimedes' bounds made closer: 3.14150.., 3.14159292..
_ROUNDING = 1e-9  # of a length, that square roots may be off


def area(polygon: Polygon) -> Fraction:
    """mm^2, holes taken off."""
    return _ring(polygon.exterior.coords) - sum(
        (_ring(hole.coords) for hole in polygon.interiors), Fraction(0)
    )


def _ring(coords: Sequence[tuple[float, ...]]) -> Fraction:
    """By the shoelace formula."""
    points = [(Fraction(float(x)), Fraction(float(y))) for x, y, *_ in coords]
    total = sum((x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in itertools.pairwise(points)), Fraction(0))
    return abs(total) / 2


def area_at_most(polygon: Polygon, out: float) -> Fraction:
    """A bound on the area of all points within `out` of the polygon: A + L r + pi r^2 (Steiner)."""
    r = Fraction(out) + Fraction(SLACK)
    length = Fraction(polygon.length * (1 + _ROUNDING))
    return area(polygon) + length * r + PI_HIGH * r * r


def area_at_least(outline: Polygon, out: float) -> Fraction:
    """A bound from below: Steiner's formula where the outline is convex, else Brunn and Minkowski's."""
    r, whole = Fraction(out), area(outline)
    if is_convex(outline):
        return whole + Fraction(outline.length * (1 - _ROUNDING)) * r + PI_LOW * r * r
    root = Fraction(math.sqrt(math.pi * float(whole)) * (1 - _ROUNDING))
    return whole + 2 * r * root + PI_LOW * r * r


def is_convex(outline: Polygon) -> bool:
    """Whether it turns one way only, exactly."""
    points = [
        (Fraction(float(x)), Fraction(float(y))) for x, y in shapely.get_coordinates(outline.exterior)[:-1]
    ]
    n = len(points)
    turns = []
    for k in range(n):
        (ax, ay), (bx, by), (cx, cy) = points[k - 1], points[k], points[(k + 1) % n]
        turns.append((bx - ax) * (cy - by) - (by - ay) * (cx - bx))
    return all(turn >= 0 for turn in turns) or all(turn <= 0 for turn in turns)

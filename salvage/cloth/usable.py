"""What of a piece can be used: its outline minus everything blocked, grown by its margin.

Every approximation here errs towards less cloth: grown shapes are drawn around the true circle, not
inside it, and the result is pulled in before its coordinates are rounded. What a person typed in has few
corners and is not rounded at all: a panel exactly as large as the cloth must find room on it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache

import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, Piece
from salvage.shapes import polygons_of

SMALLEST_PART = 50.0  # mm^2; a scrap smaller than a thumbnail is no cloth
_LEAST_SHARE = 0.01  # of an outline that is hardly larger than a thumbnail itself
GRID = 0.01  # mm, coordinates are rounded to this
_PULLED_IN = 1.5 * GRID  # more than rounding can move a corner (GRID / sqrt 2), so rounding never adds cloth
_QUARTER_SEGMENTS = 8
_STRAIGHT = 5  # corners: a line from here to there, an oblong
_HAIR = 1e-6  # share of a margin
_CORNER, _ROUNDER = 1.05, 1.02  # margins that a corner, and anything, may reach out
_PLAINER = 0.005  # margins that a line may be off where it is only rounded by: much less than _ROUNDER adds
_TYPED = 200  # corners; more are traced from a photograph, and are rounded


def usable(piece: Piece) -> MultiPolygon:
    """The usable cloth of one layer of the piece, mm: all that isn't blocked, or what a person drew of it."""
    if piece.usable is None:
        return usable_of(piece.outline, piece.blocked)
    taken = shapely.union_all([grown(each.shape, each.margin) for each in piece.blocked])
    if piece.outline.covers(piece.usable) and not piece.usable.intersects(taken):
        return piece.usable
    drawn = polygons_of(piece.usable.intersection(piece.outline).difference(taken))
    return MultiPolygon([part for part in drawn if part.area >= SMALLEST_PART])


def usable_of(outline: Polygon, blocked: Iterable[Blocked]) -> MultiPolygon:
    """Outline minus each blocked shape grown by its margin; scraps are dropped (SMALLEST_PART)."""
    return _left(outline, tuple((each.shape, each.margin) for each in blocked))


@lru_cache(
    maxsize=1024
)  # one piece is asked about by its record, its picture, its summary and each of its doubts
def _left(outline: Polygon, blocked: tuple[tuple[BaseGeometry, float], ...]) -> MultiPolygon:
    taken = shapely.union_all([grown(shape, margin) for shape, margin in blocked])
    rest = outline.difference(taken)
    if shapely.get_num_coordinates(rest) > _TYPED:
        return tidy(rest)
    least = min(SMALLEST_PART, _LEAST_SHARE * outline.area)
    return MultiPolygon([part for part in polygons_of(rest) if part.area >= least])


@lru_cache(maxsize=1024)  # the same seams are asked about many times, with and without each other
def grown(shape: BaseGeometry, margin: float) -> BaseGeometry:
    """The shape and everything within margin mm of it: exact along straight sides, more at corners and bends.

    GEOS leaves out corners of slight bends, so that a rounded outline comes up to 0.6 % of the margin too near to a
    line that bends as seams do, and far nearer to some that are shorter than the margin. With mitred corners it
    keeps away as asked (to 5e-7 of the margin, 2,400 lines tried); so the rounding may only take off what is well beyond.
    """
    if margin <= 0:
        return shape
    around = margin if shapely.get_num_coordinates(shape) <= _STRAIGHT else margin * (1 + _HAIR)
    mitred = shape.buffer(around, join_style="mitre", cap_style="square", mitre_limit=_CORNER)
    beyond = _ROUNDER * margin / math.cos(math.pi / (4 * _QUARTER_SEGMENTS))
    return mitred.intersection(shape.simplify(_PLAINER * margin).buffer(beyond, quad_segs=_QUARTER_SEGMENTS))


def tidy(shape: BaseGeometry) -> MultiPolygon:
    """Round to GRID so that the result lies within the shape, and drop scraps."""
    rounded = shapely.set_precision(shape.buffer(-_PULLED_IN, quad_segs=2, join_style="mitre"), GRID)
    return MultiPolygon([part for part in polygons_of(rounded) if part.area >= SMALLEST_PART])

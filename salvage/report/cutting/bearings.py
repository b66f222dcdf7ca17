"""Two tape lengths for each panel: from which landmarks, and how far.

Two lengths from two landmarks fix a point; the best pair lies near, the two tapes meet at nearly a right
angle, and few letters serve many panels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from salvage.cloth.garment import Piece
from salvage.report.cutting.landmarks import Landmark, Point, corners, extremes, find_landmarks, where

_NEW_MARK_COST = 60.0  # mm of tape worth walking to use a mark that is lettered already
_SAME_SORT_COST = 40.0  # mm: two corners of the piece are as good as one and a feature 40 mm farther
_FLAT_COST = 80.0  # mm: for two tapes crossing at 45 degrees, which makes a slip of 1 mm one of 1.4 mm
_UNCLEAR_COST = 250.0  # mm: for points on a round edge, used only where there is nothing better
_OVER_PANEL_COST = 60.0  # mm: for a tape that lies over the panel itself
_LOOK_AHEAD = 3.0  # mm along a tape from the corner, to see whether it lies over the panel
_NEAREST = 10  # landmarks looked at for each corner
_FAR_ENOUGH = 0.6  # of the way to the farthest corner: where a second corner may lie
_APART_AT_LEAST = 15.0  # mm; of a smaller shape a second corner tells nothing
_ON_IT = 1.0  # mm; closer than this the corner lies on the landmark
_FOOT = 3.0  # mm from the end of a line: nearer to it, the shortest way to the line is not square to it


@dataclass(frozen=True, slots=True)
class Tape:
    """One tape length: from the landmark of that letter, at foot, to the panel's corner, mm."""

    letter: str
    length: float
    foot: Point


@dataclass(frozen=True, slots=True)
class Bearing:
    """Where one corner of a panel lies: the corner, what to call it, and the two tapes that lead to it."""

    corner: Point
    corner_words: str
    tapes: tuple[Tape, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Marks:
    """The landmarks of a piece (found: points first, then lines) as arrays: points (n, 2), mm; runs (m,), lines."""

    found: tuple[Landmark, ...]
    points: NDArray[np.float64]
    runs: NDArray[np.object_]

    @staticmethod
    def of(piece: Piece) -> _Marks:
        found = find_landmarks(piece)
        points = np.array([mark.point for mark in found if mark.line is None], dtype=float).reshape(-1, 2)
        return _Marks(
            found, points, np.array([mark.line for mark in found if mark.line is not None], dtype=object)
        )

    def seen_from(
        self, corner: Point
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Feet (n, 2), directions (n, 2) and lengths (n,), infinite where a line is not square to the corner."""
        away = self.points - np.array(corner)
        length = np.hypot(away[:, 0], away[:, 1])
        direction = away / np.maximum(length, 1e-9)[:, None]
        if len(self.runs) == 0:
            return self.points, direction, length
        at = shapely.line_locate_point(self.runs, shapely.Point(corner), normalized=True)
        foot = shapely.get_coordinates(shapely.line_interpolate_point(self.runs, at, normalized=True))
        near, far = (
            shapely.get_coordinates(
                shapely.line_interpolate_point(self.runs, np.clip(at + step, 0, 1), normalized=True)
            )
            for step in (-0.01, 0.01)
        )
        along = (far - near) / np.maximum(np.hypot(*(far - near).T), 1e-9)[:, None]
        reach = np.hypot(*(foot - np.array(corner)).T)
        from_end = np.minimum(at, 1 - at) * shapely.length(self.runs)
        reach[from_end < _FOOT] = np.inf
        square = np.column_stack([-along[:, 1], along[:, 0]])
        return np.vstack([self.points, foot]), np.vstack([direction, square]), np.append(length, reach)


@dataclass(frozen=True, slots=True)
class _Choice:
    cost: float
    corner: Point
    words: str
    marks: tuple[int, int]
    feet: tuple[Point, Point]
    lengths: tuple[float, float]


def bearings(
    piece: Piece, shapes: Sequence[Polygon]
) -> tuple[tuple[Landmark, ...], tuple[tuple[Bearing, ...], ...]]:
    """Letter the landmarks that the shapes on a piece need, and give each shape two corners with two tapes each.

    shapes: cut outlines on the piece, mm. Returns the lettered landmarks and, for each shape, one or two bearings:
    the second corner lies far from the first, so that a shape laid a little askew shows.
    """
    marks = _Marks.of(piece)
    used: dict[int, str] = {}
    given = []
    for shape in shapes:
        corners_ = panel_corners(shape)
        best = _best(shape, corners_, marks, used)
        two = [_bearing(best, used)]
        far = max(math.dist(best.corner, at) for at, _ in corners_)
        others = [each for each in corners_ if math.dist(best.corner, each[0]) >= _FAR_ENOUGH * far]
        if far >= _APART_AT_LEAST:
            two.append(_bearing(_best(shape, others, marks, used), used))
        given.append(tuple(two))
    lettered = tuple(replace(marks.found[index], letter=letter) for index, letter in used.items())
    return lettered, tuple(given)


def _bearing(best: _Choice, used: dict[int, str]) -> Bearing:
    tapes = [
        Tape(used.setdefault(index, letter_of(len(used))), length, foot)
        for index, length, foot in zip(best.marks, best.lengths, best.feet, strict=True)
    ]
    return Bearing(best.corner, best.words, tuple(tapes))


def panel_corners(shape: Polygon) -> list[tuple[Point, str]]:
    """The corners of a cut shape with their names, or its outermost points if it is round."""
    found = corners(shape, 0.02 * float(np.sqrt(shape.area)))
    box = shape.bounds
    if 3 <= len(found) <= 12:
        return [(point, f"its {where(point, box)} corner") for point in found]
    return [(point, f"its {word} point") for point, word in extremes(shape)]


def _best(
    shape: Polygon, corners_: Sequence[tuple[Point, str]], marks: _Marks, used: dict[int, str]
) -> _Choice:
    """The corner, of these, and the two landmarks that give its place best."""
    best: _Choice | None = None
    for corner, words in corners_:
        feet, direction, length = marks.seen_from(corner)
        nearest = [int(i) for i in np.argsort(length, kind="stable")[:_NEAREST]]
        near = [i for i in dict.fromkeys([*nearest, *used]) if np.isfinite(length[i])]
        pull = (feet[near] - corner) / np.maximum(length[near], 1e-9)[:, None]
        over = dict(zip(near, shapely.contains_xy(shape, corner + pull * _LOOK_AHEAD), strict=True))
        for i, j in combinations(near, 2):
            # a corner lying on a landmark needs no direction; the other tape only checks
            on_point = any(length[k] < _ON_IT and marks.found[k].line is None for k in (i, j))
            sine = 1.0 if on_point else abs(float(np.linalg.det(direction[[i, j]])))
            flat = 1 / max(sine * sine, 0.01) - 1
            cost = float(length[i] + length[j]) + _FLAT_COST * flat + _OVER_PANEL_COST * (over[i] + over[j])
            cost += sum(_cost(k, marks.found, used) for k in (i, j)) + _SAME_SORT_COST * _same_sort(
                i, j, marks.found
            )
            if best is None or cost < best.cost:
                ends = [(float(x), float(y)) for x, y in feet[[i, j]]]
                best = _Choice(
                    cost, corner, words, (i, j), (ends[0], ends[1]), (float(length[i]), float(length[j]))
                )
    if best is None:
        raise ValueError("a piece without landmarks has no outline")
    return best


def _cost(index: int, found: Sequence[Landmark], used: dict[int, str]) -> float:
    return _NEW_MARK_COST * (index not in used) + _UNCLEAR_COST * found[index].unclear


def _same_sort(i: int, j: int, found: Sequence[Landmark]) -> bool:
    """Two points of the same sort: less safe than two different things, if one has moved."""
    return found[i].line is None and found[j].line is None and found[i].on_outline == found[j].on_outline


def letter_of(index: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(ord("A") + rest) + text
    return text

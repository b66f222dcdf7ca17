"""Two clear places on a piece from which a tape finds a panel's corner.

A landmark is a point that a person recognises on the cloth itself: a corner of the piece, the end of a
closure or a seam, a corner of a pocket. Two tape lengths from two landmarks fix a point; the best pair
lies near, and the two tapes meet at nearly a right angle.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, BlockedKind, Piece
from salvage.report.draw import lines, polygons
from salvage.report.palette import BLOCKED_LOOK

Point = tuple[float, float]

_CORNER_TURN = 30.0  # degrees; a gentler bend is no corner that two people would agree on
_FLAT = 0.05  # a box less high than this share of its width (or the other way) is a line
_NEW_MARK_COST = 60.0  # mm of tape worth walking to use a mark that is lettered already
_SAME_SORT_COST = 40.0  # mm: two corners of the piece are as good as one corner and one feature 40 mm farther
_UNCLEAR_COST = 250.0  # mm: for points on a round edge, used only where there is nothing better
_SEAM_OVERLAP = 4.0  # mm; a seam that bounds a piece may be drawn this far outside it
_OVER_PANEL_COST = 60.0  # mm: for a tape that lies over the panel itself
_LOOK_AHEAD = 3.0  # mm along a tape from the corner, to see whether it lies over the panel
_NEAREST = 9  # landmarks looked at for each corner
_MOST_OF_KIND = 24  # features of one kind looked at; past that the plan would be all letters


@dataclass(frozen=True, slots=True)
class Landmark:
    """A recognisable point.

    outward: unit direction away from the thing it belongs to, where its letter is written.
    on_outline: of the piece's own edge. unclear: on a round edge. letter: "" until chosen.
    """

    point: Point
    words: str
    outward: Point
    on_outline: bool
    unclear: bool = False
    letter: str = ""


@dataclass(frozen=True, slots=True)
class Bearing:
    """Where one panel corner lies: the corner, what to call it, and tape lengths (mm) from two letters."""

    corner: Point
    corner_words: str
    distances: tuple[tuple[str, float], ...]


def where(point: Point, box: tuple[float, float, float, float]) -> str:
    """ "lower left" and the like: where a point lies in a box (min x, min y, max x, max y), y up.

    A box that is next to flat has only two ends, left and right or lower and upper.
    """
    wide, high = box[2] - box[0], box[3] - box[1]
    flat = _FLAT * max(wide, high)
    x = (point[0] - box[0]) / wide if wide > flat else 0.5
    y = (point[1] - box[1]) / high if high > flat else 0.5
    level = "upper" if y > 0.6 else "lower" if y < 0.4 else ""
    side = "right" if x > 0.6 else "left" if x < 0.4 else ""
    return " ".join(word for word in (level, side) if word) or "middle"


def corners(shape: Polygon, tolerance: float) -> list[Point]:
    """The points where a ring, smoothed by tolerance, turns by more than 30 degrees."""
    points = np.asarray(shape.exterior.simplify(tolerance).coords)[:-1, :2]
    if len(points) < 3:
        return []
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    turn = np.degrees(
        np.arctan2(
            before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0],
            (before * after).sum(axis=1),
        )
    )
    return [(float(x), float(y)) for x, y in points[np.abs(turn) > _CORNER_TURN]]


def extremes(shape: Polygon) -> list[tuple[Point, str]]:
    """The lowest, highest, leftmost and rightmost point of a shape, for shapes without corners."""
    points = np.asarray(shape.exterior.coords)[:-1, :2]
    named = (
        (points[:, 1].argmin(), "lowest"),
        (points[:, 1].argmax(), "highest"),
        (points[:, 0].argmin(), "leftmost"),
        (points[:, 0].argmax(), "rightmost"),
    )
    return [((float(points[i][0]), float(points[i][1])), word) for i, word in named]


def find_landmarks(piece: Piece) -> tuple[Landmark, ...]:
    """Every point of a piece that a person could find again on the cloth."""
    size = math.sqrt(piece.outline.area)
    box = piece.outline.bounds
    centre = _centre(piece.outline)
    found = [
        Landmark(point, f"the {where(point, box)} corner of the {piece.name}", outward(point, centre), True)
        for point in corners(piece.outline, 0.03 * size)
    ]
    reach = piece.outline.buffer(_SEAM_OVERLAP)
    for kind in (BlockedKind.CLOSURE, BlockedKind.POCKET, BlockedKind.SEAM, BlockedKind.HEM):
        here = [
            (blocked, blocked.shape.intersection(reach)) for blocked in piece.blocked if blocked.kind is kind
        ]
        here = sorted((pair for pair in here if not pair[1].is_empty), key=lambda pair: -pair[1].length)
        names = Counter(feature_name(blocked) for blocked, _ in here)
        for blocked, shape in here[:_MOST_OF_KIND]:
            name = feature_name(blocked)
            if names[name] > 1:
                name = f"{where(_centre(shape), box)} {name}"
            found += _of_feature(name, "corner" if kind is BlockedKind.POCKET else "end", shape)
    found += [
        Landmark(point, f"the {word} point of the {piece.name}", outward(point, centre), True, unclear=True)
        for point, word in extremes(piece.outline)
    ]
    return tuple(_named_once(found))


def feature_name(blocked: Blocked) -> str:
    """What a blocked area is called: as it was found or named, else by its kind."""
    return blocked.what or BLOCKED_LOOK[blocked.kind].words


def outward(point: Point, centre: Point) -> Point:
    """The unit direction from a centre to a point; up if they are the same."""
    dx, dy = point[0] - centre[0], point[1] - centre[1]
    length = math.hypot(dx, dy)
    return (dx / length, dy / length) if length > 0 else (0.0, 1.0)


def _centre(shape: BaseGeometry) -> Point:
    centre = shape.centroid
    return float(centre.x), float(centre.y)


def _of_feature(name: str, sort: str, shape: BaseGeometry) -> list[Landmark]:
    centre = _centre(shape)
    return [
        Landmark(
            point, f"the {where(point, shape.bounds)} {sort} of the {name}", outward(point, centre), False
        )
        for point in _ends(shape)
    ]


def _ends(shape: BaseGeometry) -> list[Point]:
    """The two ends of a line or of a long area, the four corners of a compact area."""
    runs = list(lines(shape))
    if runs:
        longest = max(runs, key=lambda run: run.length)
        first, last = longest.coords[0], longest.coords[-1]
        return [(float(first[0]), float(first[1])), (float(last[0]), float(last[1]))]
    areas = list(polygons(shape))
    if not areas:
        return []
    box = max(areas, key=lambda area: area.area).minimum_rotated_rectangle
    if not isinstance(box, Polygon):
        return []
    points = np.asarray(box.exterior.coords)[:-1, :2]
    sides = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
    if sides.max() > 4 * sides.min():  # long and thin: the middles of its short sides
        start = int(np.argmin(sides))
        middles = [
            (points[start] + points[(start + 1) % 4]) / 2,
            (points[(start + 2) % 4] + points[(start + 3) % 4]) / 2,
        ]
        return [(float(x), float(y)) for x, y in middles]
    return [(float(x), float(y)) for x, y in points]


def _named_once(found: Sequence[Landmark]) -> list[Landmark]:
    """Drop landmarks within 12 mm of an earlier one: two letters on one spot help nobody."""
    kept: list[Landmark] = []
    for mark in found:
        if all(math.dist(mark.point, other.point) > 12.0 for other in kept):
            kept.append(mark)
    return kept


def panel_corners(shape: Polygon) -> list[tuple[Point, str]]:
    """The corners of a cut shape with their names, or its outermost points if it is round."""
    found = corners(shape, 0.02 * math.sqrt(shape.area))
    box = shape.bounds
    if 3 <= len(found) <= 12:
        return [(point, f"its {where(point, box)} corner") for point in found]
    return [(point, f"its {word} point") for point, word in extremes(shape)]


def bearings(piece: Piece, shapes: Sequence[Polygon]) -> tuple[tuple[Landmark, ...], tuple[Bearing, ...]]:
    """Letter the landmarks that the shapes on a piece need, and give each shape its two tape lengths.

    shapes: cut outlines on the piece, mm. Returns the lettered landmarks and one bearing a shape.
    """
    marks = find_landmarks(piece)
    points = np.array([mark.point for mark in marks])
    used: dict[int, str] = {}
    given = []
    for shape in shapes:
        corner, words, pair = _best_pair(shape, marks, points, used)
        distances = []
        for index in pair:
            letter = used.setdefault(index, letter_of(len(used)))
            distances.append((letter, math.dist(corner, marks[index].point)))
        given.append(Bearing(corner, words, tuple(distances)))
    lettered = tuple(replace(marks[i], letter=letter) for i, letter in used.items())
    return lettered, tuple(given)


def _best_pair(
    shape: Polygon, marks: Sequence[Landmark], points: NDArray[np.float64], used: dict[int, str]
) -> tuple[Point, str, tuple[int, ...]]:
    best: tuple[float, Point, str, tuple[int, ...]] | None = None
    for corner, words in panel_corners(shape):
        away = points - np.array(corner)
        distance = np.hypot(away[:, 0], away[:, 1])
        nearest = np.argsort(distance, kind="stable")[:_NEAREST]
        near = list(dict.fromkeys([int(i) for i in nearest] + list(used)))
        step = (
            np.array(corner) + away[near] * (_LOOK_AHEAD / np.maximum(distance[near], _LOOK_AHEAD))[:, None]
        )
        over = dict(zip(near, shapely.contains_xy(shape, step), strict=True))
        for i, j in combinations(near, 2):
            cost = _cost(i, j, marks, away, distance, used) + _OVER_PANEL_COST * (over[i] + over[j])
            if best is None or cost < best[0]:
                best = (cost, corner, words, (i, j))
    if best is None:
        raise ValueError("a piece without landmarks has no outline")
    return best[1], best[2], best[3]


def _cost(
    i: int, j: int, marks: Sequence[Landmark], away: NDArray[np.float64], distance: NDArray[np.float64],
    used: dict[int, str],
) -> float:  # fmt: skip
    """Tape to read in mm, made longer by a flat crossing of the two tapes and by what is less clear."""
    a, b = distance[i], distance[j]
    if a < 1.0 or b < 1.0:  # the corner is the landmark: one tape is enough, the other only checks
        sine = 1.0
    else:
        sine = abs(away[i, 0] * away[j, 1] - away[i, 1] * away[j, 0]) / (a * b)
    cost = float((a + b) / max(sine, 0.05))
    for index in (i, j):
        cost += _NEW_MARK_COST * (index not in used) + _UNCLEAR_COST * marks[index].unclear
    if marks[i].on_outline == marks[j].on_outline:
        cost += _SAME_SORT_COST
    return cost


def letter_of(index: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(ord("A") + rest) + text
    return text

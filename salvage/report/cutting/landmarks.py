"""Clear places on a piece from which a tape finds a panel's corner.

A landmark is something that a person recognises on the cloth itself: a corner or a straight edge of the
piece, a hem or a seam, the end or side of a closure, a corner of a pocket.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from salvage.cloth.garment import DOUBTFUL, Blocked, BlockedKind, FoundBy, Piece
from salvage.report.say.words import BLOCKED_WORDS
from salvage.shapes import lines_of, part_within, polygons_of

Point = tuple[float, float]

_CORNER_TURN = 30.0  # degrees; a gentler bend is no corner that two people would agree on
_FLAT = 0.05  # a box less high than this share of its width (or the other way) is a line
_STRAIGHT = 0.025  # of an edge's length: how far it may bend and still be measured from
_SHORTEST_EDGE = 60.0  # mm
_SHORTEST_SIDE = 0.12  # of the square root of the piece's area
_LONG_AND_THIN = 4.0  # sides of a closure or pocket, longer over shorter, from which it has only two ends
_ROUND = 1.6  # sides of a small closure, longer over shorter, up to which it is a button
_BUTTON = 45.0  # mm; a larger closure isn't one
_MEETING = 12.0  # mm; a line that ends nearer to another, or to the edge, ends there
_RECTANGULAR = 0.88  # of its box that an area must fill for the box's corners to be its own
_SAME_SPOT = 12.0  # mm; two letters closer than this help nobody
_MOST_OF_KIND = 24  # features of one kind looked at; past that the plan would be all letters
_SEAM_OVERLAP = 4.0  # mm; a seam that bounds a piece may be drawn this far outside it


@dataclass(frozen=True, slots=True)
class Landmark:
    """A recognisable point or line.

    point: the point itself, or the middle of the line. line: None for a point.
    outward: unit direction away from the thing it belongs to, where its letter is written.
    on_outline: of the piece's own edge. unclear: on a round edge. letter: "" until chosen.
    """

    point: Point
    words: str
    outward: Point
    on_outline: bool
    line: LineString | None = None
    unclear: bool = False
    letter: str = ""


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
    """Everything on a piece that a person could find again on the cloth; points first, then lines.

    What is doubtful, or assumed, may not be there at all and is no landmark. Nor is the end of a line or an area as
    it was found, for where a find ends the thing itself may go on: a line's end counts only where it meets the edge
    of the piece or another line, and an area's corners only where a person drew it or it is a sewn-on rectangle.
    """
    found = _of_outline(piece)
    box = piece.outline.bounds
    reach = piece.outline.buffer(_SEAM_OVERLAP)
    lines = [
        (each, each.shape)
        for each in piece.blocked
        if each.kind in (BlockedKind.SEAM, BlockedKind.HEM) and _sure(each)
    ]
    for kind in (BlockedKind.CLOSURE, BlockedKind.POCKET, BlockedKind.SEAM, BlockedKind.HEM):
        here = [
            (blocked, part_within(blocked.shape, reach))
            for blocked in piece.blocked
            if blocked.kind is kind and _sure(blocked)
        ]
        here = sorted((pair for pair in here if not pair[1].is_empty), key=lambda pair: -pair[1].length)
        names = Counter(feature_name(blocked) for blocked, _ in here)
        for blocked, shape in here[:_MOST_OF_KIND]:
            name = feature_name(blocked)
            if names[name] > 1:
                name = f"{where(_centre(shape), box)} {name}"
            button = _button(name, shape) if kind is BlockedKind.CLOSURE else None
            others = [each for other, each in lines if other is not blocked]
            drawn = blocked.found_by is FoundBy.PERSON
            found += [button] if button else _of_feature(name, shape, piece.outline, others, drawn=drawn)
    points = _apart([mark for mark in found if mark.line is None])
    points += _apart(_round_edge(piece))
    return _told_apart([*points, *(mark for mark in found if mark.line is not None)])


def _told_apart(found: Sequence[Landmark]) -> tuple[Landmark, ...]:
    """The same marks; of those that would be called the same, each says which of them it is."""
    marks = list(found)
    for words, count in Counter(mark.words for mark in found).items():
        if count == 1:
            continue
        alike = [at for at, mark in enumerate(found) if mark.words == words]
        x, y = np.array([found[at].point for at in alike]).T
        if np.ptp(x) >= np.ptp(y):
            along, start, two = x, "the left", ("further left", "further right")
        else:
            along, start, two = y, "below", ("further down", "further up")
        for number, nth in enumerate(np.argsort(along, kind="stable")):
            which = two[number] if count == 2 else f"no. {number + 1} from {start}"
            marks[alike[nth]] = replace(found[alike[nth]], words=f"{words}, {which}")
    return tuple(marks)


def _sure(blocked: Blocked) -> bool:
    """Whether it is there: a person drew it, or it was seen and is not in doubt."""
    if blocked.found_by is FoundBy.PERSON:
        return True
    return blocked.found_by is FoundBy.PHOTO and blocked.confidence >= DOUBTFUL


def the(name: str) -> str:
    """`the back`, but `piece 2`."""
    return name if name[-1:].isdigit() else f"the {name}"


def feature_name(blocked: Blocked) -> str:
    """What a blocked area is called: as it was found or named, else by its kind."""
    return blocked.what or BLOCKED_WORDS[blocked.kind]


def _of_outline(piece: Piece) -> list[Landmark]:
    """Corners and straight edges of a piece."""
    size, box, centre = math.sqrt(piece.outline.area), piece.outline.bounds, _centre(piece.outline)
    tips = corners(piece.outline, 0.03 * size)
    found = [
        Landmark(tip, f"the {where(tip, box)} corner of {the(piece.name)}", outward(tip, centre), True)
        for tip in tips
    ]
    for side in sides(piece.outline, tips):
        if side.length >= _SHORTEST_SIDE * size and is_straight(side):
            middle = _middle(side)
            words = f"the {where(middle, box)} edge of {the(piece.name)}"
            found.append(Landmark(middle, words, outward(middle, centre), True, side))
    return found


def _round_edge(piece: Piece) -> list[Landmark]:
    centre = _centre(piece.outline)
    return [
        Landmark(point, f"the {word} point of {the(piece.name)}", outward(point, centre), True, unclear=True)
        for point, word in extremes(piece.outline)
    ]


def sides(shape: Polygon, tips: Sequence[Point]) -> list[LineString]:
    """A ring cut at its corners; nothing if it has fewer than two."""
    if len(tips) < 2:
        return []
    ring = LineString(shape.exterior.coords)
    at = sorted(float(ring.project(shapely.Point(tip))) for tip in tips)
    # twice round, so that the side over the ring's first point is in one run as well
    coordinates = list(ring.coords)
    twice = LineString([*coordinates, *coordinates[1:]])
    ends = [*at[1:], at[0] + ring.length]
    runs = [substring(twice, start, end) for start, end in zip(at, ends, strict=True)]
    return [run for run in runs if isinstance(run, LineString)]


def is_straight(line: LineString) -> bool:
    """Long enough and bent so little that the nearest point on it is plain."""
    if line.length < _SHORTEST_EDGE:
        return False
    chord = LineString([line.coords[0], line.coords[-1]])
    return (
        chord.length > 0.9 * line.length and chord.hausdorff_distance(line) <= _STRAIGHT * line.length + 1.0
    )


def outward(point: Point, centre: Point) -> Point:
    """The unit direction from a centre to a point; up if they are the same."""
    dx, dy = point[0] - centre[0], point[1] - centre[1]
    length = math.hypot(dx, dy)
    return (dx / length, dy / length) if length > 0 else (0.0, 1.0)


def _centre(shape: BaseGeometry) -> Point:
    centre = shape.centroid
    return float(centre.x), float(centre.y)


def _middle(line: LineString) -> Point:
    x, y = line.interpolate(0.5, normalized=True).coords[0][:2]
    return float(x), float(y)


def _of_feature(
    name: str, shape: BaseGeometry, outline: Polygon, others: Sequence[BaseGeometry], *, drawn: bool
) -> list[Landmark]:
    """Run and true ends of a seam, long sides of a zip, corners of a pocket. others: sure lines beside it.

    drawn: by a person, who sees where a thing ends.
    """
    runs = sorted(lines_of(shape), key=lambda run: -run.length)
    if runs:
        return _of_run(name, runs[0], shape, outline, others, drawn=drawn)
    areas = polygons_of(shape)
    box = areas[0].minimum_rotated_rectangle if areas else None
    if not isinstance(box, Polygon):
        return []
    square = areas[0].area >= _RECTANGULAR * box.area
    found = _of_box(name, np.asarray(box.exterior.coords)[:-1, :2])
    long = [mark for mark in found if mark.line is not None]
    return found if drawn or (square and not long) else long if square else []


def _button(name: str, shape: BaseGeometry) -> Landmark | None:
    """The middle of a small round closure, which has no corner to lay a tape at; None for another."""
    box = shape.minimum_rotated_rectangle
    if not isinstance(box, Polygon):
        return None
    long = sorted(math.dist(*pair) for pair in pairwise(list(box.exterior.coords)[:3]))
    if long[1] > _BUTTON or long[1] > _ROUND * long[0]:
        return None
    return Landmark(_centre(shape), f"the middle of the {name}", (0.0, 1.0), False)


def _of_run(
    name: str,
    run: LineString,
    shape: BaseGeometry,
    outline: Polygon,
    others: Sequence[BaseGeometry],
    *,
    drawn: bool,
) -> list[Landmark]:
    centre = _centre(shape)
    ends = [(float(x), float(y)) for x, y, *_ in (run.coords[0], run.coords[-1])]
    found = [
        Landmark(end, f"the {where(end, shape.bounds)} end of the {name}", outward(end, centre), False)
        for end in ends
        if drawn or _meets(end, outline, others)
    ]
    if is_straight(run):
        (x0, y0), (x1, y1) = ends
        found.append(
            Landmark(_middle(run), f"the {name}", outward((y0 - y1, x1 - x0), (0.0, 0.0)), False, run)
        )
    return found


def _meets(end: Point, outline: Polygon, others: Sequence[BaseGeometry]) -> bool:
    """Whether a line's end is a place of the cloth: at the edge of the piece, or at another line."""
    here = shapely.Point(end)
    return bool(
        outline.exterior.distance(here) <= _MEETING or any(o.distance(here) <= _MEETING for o in others)
    )


def _of_box(name: str, tips: np.ndarray) -> list[Landmark]:
    """tips: (4, 2), the corners of the smallest turned box round an area."""
    long = np.hypot(*(np.roll(tips, -1, axis=0) - tips).T)
    x, y = tips.mean(axis=0)
    centre = (float(x), float(y))
    bounds = MultiPoint(tips).bounds
    if long.max() <= _LONG_AND_THIN * long.min():
        points = [(float(x), float(y)) for x, y in tips]
        return [
            Landmark(tip, f"the {where(tip, bounds)} corner of the {name}", outward(tip, centre), False)
            for tip in points
        ]
    first = int(np.argmin(long))  # the corners from here on: short side, long side, short side, long side
    a, b, c, d = np.roll(tips, -first, axis=0)
    found = []
    for end in ((a + b) / 2, (c + d) / 2):
        tip = (float(end[0]), float(end[1]))
        found.append(
            Landmark(tip, f"the {where(tip, bounds)} end of the {name}", outward(tip, centre), False)
        )
    for run in (LineString([b, c]), LineString([d, a])):
        if is_straight(run):
            middle = _middle(run)
            words = f"the {_side_word(middle, centre)} side of the {name}"
            found.append(Landmark(middle, words, outward(middle, centre), False, run))
    return found


def _side_word(point: Point, centre: Point) -> str:
    dx, dy = point[0] - centre[0], point[1] - centre[1]
    if abs(dx) > abs(dy):
        return "right" if dx > 0 else "left"
    return "upper" if dy > 0 else "lower"


def _apart(found: Sequence[Landmark]) -> list[Landmark]:
    """Landmarks without those that lie on the spot of an earlier one."""
    kept: list[Landmark] = []
    for mark in found:
        if all(math.dist(mark.point, other.point) > _SAME_SPOT for other in kept):
            kept.append(mark)
    return kept

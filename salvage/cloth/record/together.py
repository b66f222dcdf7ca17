"""Pieces that hang together, since what parted them isn't there; and a piece that a drawn seam parts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import polygonize

from salvage.cloth.garment import BlockedKind, Garment, Piece
from salvage.shapes import lines_of, polygons_of

_ALONG, _EDGE = 3.0, 20.0  # mm from a line to the common edge of two pieces, and how long that is at least
_PARTED = 6.0  # mm; so near another seam that is still there two pieces stay apart
_CRACK = 0.05  # mm, between pieces that touch
_DIGITS, _GRID = 6, 1e-5  # decimals of mm in a record; mm
_RUN_ON, _RUN_ON_SHARE = (
    25.0,
    0.15,
)  # mm, or share of its length, that a drawn seam's end may be short of an edge
_SHORT = 10.0  # mm, likewise, of a seam that is there already
_OVER = 1.0  # mm that it is drawn across the edge
_SMALLEST_PART = 100.0  # mm^2


def hung_together(pieces: Sequence[Piece], shape: BaseGeometry) -> list[Piece]:
    """Pieces with a common edge along a shape made one, which is called as the largest was; largest first."""
    left = sorted(pieces, key=lambda each: -each.outline.area)
    zone = shape.buffer(_ALONG)
    done: list[Piece] = []
    while left:
        first = left.pop(0)
        k = 0
        while k < len(left):
            other = left[k]
            if (
                first.fabric != other.fabric
                or _told_apart(first, other)
                or not _share_edge(first, other, zone)
            ):
                k += 1
                continue
            both_grown = [_grown(each.outline, _CRACK) for each in (first, other)]
            whole = polygons_of(_grown(shapely.union_all(both_grown), -_CRACK).simplify(_CRACK / 5))[0]
            whole = as_written(whole)
            both = first.blocked + tuple(b for b in other.blocked if b not in first.blocked)
            cleared = first.cleared + tuple(c for c in other.cleared if c not in first.cleared)
            first = replace(first, outline=whole, blocked=both, cleared=cleared)
            del left[k]
            k = 0
        done.append(first)
    return done


def _share_edge(one: Piece, two: Piece, zone: BaseGeometry) -> bool:
    """Whether two pieces have a common edge in the zone that no seam parts."""
    if not one.outline.dwithin(two.outline, 2 * _CRACK):
        return False
    edge = one.outline.buffer(_CRACK).intersection(two.outline.buffer(_CRACK)).intersection(zone)
    if edge.area / (2 * _CRACK) < _EDGE:
        return False
    return bool(edge.difference(_parted_by((one, two), edge)).area / (2 * _CRACK) >= _EDGE)


def as_written(outline: Polygon) -> Polygon:
    """The outline, or one a hair off it that doesn't cross itself once it was written into a record and read."""
    if shapely.transform(outline, lambda points: np.round(points, _DIGITS)).is_valid:
        return outline
    parts = polygons_of(shapely.set_precision(outline, _GRID))
    return parts[0] if parts else outline


def together_along(garment: Garment, numbers: Iterable[int], shape: BaseGeometry) -> Garment:
    """The garment whose pieces of these numbers hang together along a shape; each stays in its place."""
    among = sorted(set(numbers))
    joined = hung_together([garment.pieces[n] for n in among], shape)
    if len(joined) == len(among):
        return garment
    pieces: list[Piece] = []
    for index, piece in enumerate(garment.pieces):
        if index not in among:
            pieces.append(piece)
            continue
        inside = piece.outline.representative_point()
        whole = next((each for each in joined if each.outline.covers(inside)), None)
        if whole is not None:
            joined.remove(whole)
            pieces.append(whole)
    return replace(garment, pieces=tuple(pieces))


def parts_along(piece: Piece, line: LineString) -> list[Polygon]:
    """The parts, the largest first, into which a seam drawn across a piece parts it; one if it doesn't.

    The seam's ends may be a little short of the edge, or of another seam of the piece on which it ends. Where the
    piece hangs together across a seam that lies there already, it goes on doing so.
    """
    outline = piece.outline
    there = [
        each
        for b in piece.blocked
        if b.kind is BlockedKind.SEAM and not b.shape.area
        for each in lines_of(b.shape.intersection(outline))
        if each.length > 0 and not each.within(outline.boundary.buffer(_ALONG))
    ]
    there = [
        _run_on(each, outline, [*there[:n], *there[n + 1 :]], most=_SHORT) for n, each in enumerate(there)
    ]
    drawn = _run_on(line, outline, there, most=max(_RUN_ON, _RUN_ON_SHARE * line.length))
    if not drawn.intersects(outline):
        return [outline]
    before = _faces(outline, there)
    faces = _faces(outline, [*there, drawn])
    return _across_what_hung(faces, before, drawn)


def _faces(outline: Polygon, lines: Sequence[LineString]) -> list[Polygon]:
    edges = shapely.union_all([outline.boundary, *lines])
    return [face for face in polygonize(edges) if outline.contains(face.representative_point())]


def _across_what_hung(
    faces: Sequence[Polygon], before: Sequence[Polygon], drawn: LineString
) -> list[Polygon]:
    """The faces, those joined that no drawn seam parts and that two faces of before were."""
    of = [
        next((n for n, old in enumerate(before) if old.covers(face.representative_point())), -1)
        for face in faces
    ]
    near = drawn.buffer(_CRACK)
    group = list(range(len(faces)))
    for i in range(len(faces)):
        for j in range(i):
            if group[i] == group[j] or of[i] == of[j]:
                continue
            shared = faces[i].boundary.intersection(faces[j].boundary).difference(near)
            if shared.length > 1.0:
                joined = group[j]
                group = [joined if each == group[i] else each for each in group]
    parts = []
    for each in dict.fromkeys(group):
        parts += polygons_of(shapely.union_all([f for f, g in zip(faces, group, strict=True) if g == each]))
    large = [part for part in parts if part.area >= _SMALLEST_PART]
    return sorted(large or parts, key=lambda part: -part.area)


def _run_on(line: LineString, outline: Polygon, others: Sequence[LineString], *, most: float) -> LineString:
    """The line with ends that are at most so many mm short of the edge, or of another line, run on across it."""
    goals = shapely.union_all([outline.boundary, *others])
    points = list(line.coords)
    near = min(15.0, 0.3 * line.length)
    start = _run_to(points[0], line.interpolate(near), goals, most)
    end = _run_to(points[-1], line.interpolate(line.length - near), goals, most)
    return LineString([*start[::-1], *points, *end])


def _run_to(
    end: tuple[float, ...], before: Point, goals: BaseGeometry, most: float
) -> list[tuple[float, float]]:
    """Points to add behind an end: where it meets a goal straight on, else the nearest one, and a bit over it."""
    x, y = end[:2]
    length = before.distance(Point(x, y)) or 1.0
    dx, dy = (x - before.x) / length, (y - before.y) / length
    met = LineString([(x, y), (x + most * dx, y + most * dy)]).intersection(goals)
    if not met.is_empty:
        far = Point(x, y).distance(met) + _OVER
        return [(x + far * dx, y + far * dy)]
    near = shapely.shortest_line(Point(x, y), goals)
    if near.length > most / 2:
        return []
    tx, ty = near.coords[-1]
    over = _OVER / max(near.length, 1e-6)
    return [(tx + over * (tx - x), ty + over * (ty - y))]


def _parted_by(pieces: Iterable[Piece], edge: BaseGeometry) -> BaseGeometry:
    """Where seams that are still there part the pieces; only those that reach the edge, for most are far off."""
    lines = [b.shape for p in pieces for b in p.blocked if b.kind is BlockedKind.SEAM and not b.shape.area]
    return shapely.union_all([each for each in lines if each.dwithin(edge, _PARTED)]).buffer(_PARTED)


def _told_apart(one: Piece, two: Piece) -> bool:
    """Whether a person said something of one of them that isn't so of the other, and would be lost."""
    return any(
        getattr(one, name) != getattr(two, name)
        for name in ("grain", "one_way", "layers")
        if name in one.by_person or name in two.by_person
    )


def _grown(shape: BaseGeometry, by: float) -> BaseGeometry:
    return shape.buffer(by, join_style="mitre")

"""Where a panel may lie that keeps something: the thing whole inside it, or a side of it on a hem."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from salvage.fit.ask import as_laid
from salvage.fit.geometry.task import turns_to_try
from salvage.fit.keep.things import Thing
from salvage.fit.material.lay import cloth_of
from salvage.fit.proof.refuse import panel_shape
from salvage.fit.question import Placed, angle_of_turn
from salvage.project.project import Around, Edge, Panel

_FINE = 0.5  # mm to which the room round a panel is made the most of
_WAYS = ((1, 0), (-1, 0), (0, 1), (0, -1), (0.7, 0.7), (0.7, -0.7), (-0.7, 0.7), (-0.7, -0.7))
_GRID = 7  # places tried each way within the tolerance
_HAIR = 0.02  # mm that a side keeps inside the hem's edge
_ON_EDGE = 4.0  # mm that a hem may stand over the side that lies on it; the checker allows 5
_ASKEW = 3.0  # degrees off the grain that a panel may follow its hem
_HEM_DEPTH = (
    60.0  # mm between the stitching of a hem and its edge, at most; common practice for coats is up to 50
)
_FEW_STEPS = 8  # of a line; with more the long ones together tell where it runs
_ROUND_AN_END = 35.0  # degrees off the way of a hem; a line that turns more goes round its end
_ALONG_HEM = 31  # places tried along it
_TURN_OF_SIDE = {"bottom": 0.0, "right": 90.0, "top": 180.0, "left": 270.0}


@dataclass(frozen=True, slots=True)
class KeptAt:
    """Where a shape lies round a thing; room: mm to the nearest edge of the cloth there, which the hem is none of."""

    thing: Thing
    placed: Placed
    shape: Polygon
    room: float


def places_round(
    panel: Panel, outline: Polygon, around: Around, thing: Thing, *, flipped: bool
) -> Iterator[KeptAt]:
    """Places of an outline (the panel's, or a part's, in the same frame) with the thing whole inside its stitching line."""
    sewn = outline.buffer(-panel.seam_allowance, join_style="mitre") if panel.seam_allowance else outline
    if sewn.is_empty:
        return
    shapely.prepare(thing.ground)
    cloth = cloth_of(thing.piece, 1, thing.ground)
    for turn in turns_to_try(panel_shape(panel), cloth):
        angle = angle_of_turn(turn, cloth)
        seen = as_drawn(thing.shape, angle, flipped=flipped)
        left, bottom, right, top = seen.bounds
        middle = np.array([(left + right) / 2, (bottom + top) / 2])
        middles, low, high = _middles(sewn, around, (right - left, top - bottom))

        def put_at(at: NDArray[np.float64], seen: BaseGeometry = seen, angle: float = angle) -> KeptAt | None:
            if not sewn.covers(affinity.translate(seen, *(at - middle))):  # noqa: B023
                return None
            return _placed(outline, thing, angle, flipped, middle - at)  # noqa: B023

        found = [(place, at) for at in middles if (place := put_at(at)) is not None]
        yield from (place for place, _ in found)
        if found:
            yield _with_more_room(max(found, key=lambda each: each[0].room), low, high, put_at)


def _with_more_room(
    found: tuple[KeptAt, NDArray[np.float64]],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    put_at: Callable[[NDArray[np.float64]], KeptAt | None],
) -> KeptAt:
    """The place moved by less and less, as long as there is more room round it."""
    best, at = found
    step = float((high - low).max()) / (_GRID - 1)
    while step > _FINE:
        near = [np.clip(at + step * np.array(way), low, high) for way in _WAYS]
        places = [(place, each) for each in near if (place := put_at(each)) is not None]
        more = max(places, key=lambda each: each[0].room, default=found)
        if more[0].room > best.room + 1e-9:
            best, at = more
        else:
            step /= 2
    return best


def as_drawn(shape: BaseGeometry, angle: float, *, flipped: bool) -> BaseGeometry:
    """What lies on the plane, seen in the frame of a panel that lies there at this angle, but for a move."""
    back = affinity.rotate(shape, -angle, origin=(0, 0))
    return affinity.scale(back, xfact=-1.0, origin=(0, 0)) if flipped else back


def _middles(
    sewn: Polygon, around: Around, size: tuple[float, float]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """(n, 2): where the middle of the thing may come to lie in the panel's frame, the wanted place first; and from
    where to where that is."""
    left, bottom, right, top = sewn.bounds
    half = np.array(size) / 2
    low, high = np.array([left, bottom]) + half, np.array([right, top]) - half
    if around.at is not None:
        at = np.array(around.at)
        low, high = np.maximum(low, at - around.tolerance), np.minimum(high, at + around.tolerance)
        wanted = at
    else:
        wanted = (low + high) / 2
    if (low > high + 1e-9).any():
        return np.empty((0, 2)), low, high
    xs, ys = (np.linspace(low[k], max(low[k], high[k]), _GRID) for k in (0, 1))
    grid = np.array([(x, y) for x in xs for y in ys])
    grid = np.vstack([np.clip(wanted, low, np.maximum(low, high))[None], grid])
    return grid[np.argsort(np.hypot(*(grid - wanted).T), kind="stable")], low, np.maximum(low, high)


def _placed(outline: Polygon, thing: Thing, angle: float, flipped: bool, move: np.ndarray) -> KeptAt | None:
    """The outline moved in its own frame and put on the plane, if it lies on the ground."""
    x, y = Point(*_on_plane(move, angle, flipped)).coords[0]
    placed = Placed(0, 0, angle, flipped, x, y)
    shape = as_laid(outline, placed)
    if not thing.ground.covers(shape):
        return None
    return KeptAt(thing, placed, shape, float(shape.distance(thing.ground.boundary)))


def _on_plane(move: NDArray[np.float64], angle: float, flipped: bool) -> tuple[float, float]:
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    x, y = (-float(move[0]) if flipped else float(move[0])), float(move[1])
    return x * cos - y * sin, x * sin + y * cos


def places_on_edge(panel: Panel, edge: Edge, thing: Thing, *, flipped: bool) -> Iterator[KeptAt]:
    """Places of the panel with its side on the hem."""
    line = hem_line(thing)
    if line is None:
        return
    first, last = (np.array(each) for each in (line.coords[0], line.coords[-1]))
    along = (last - first) / np.hypot(*(last - first))
    inward = np.array([-along[1], along[0]])  # the outline runs counter-clockwise
    turn_of_side = _TURN_OF_SIDE[edge.side]
    angle = math.degrees(math.atan2(along[1], along[0])) - turn_of_side
    cloth = cloth_of(thing.piece, 1, thing.ground)
    allowed = [angle_of_turn(turn, cloth) for turn in turns_to_try(panel_shape(panel), cloth)]
    if not any(abs((angle - each + 180) % 360 - 180) <= _ASKEW for each in allowed):
        return
    outline = Polygon(panel.outline)
    turned = as_laid(outline, Placed(0, 0, angle, flipped, 0.0, 0.0))
    corners = shapely.get_coordinates(turned.exterior)
    depth, reach = corners @ inward, corners @ along
    on_side = reach[depth <= depth.min() + 1e-6]
    points = shapely.get_coordinates(line.segmentize(5.0))
    shapely.prepare(thing.ground)
    rim = thing.ground.boundary.difference(line.buffer(_ON_EDGE + thing.blocked.margin + 1.0))
    lengths, heights = points @ along, points @ inward
    width = on_side.max() - on_side.min()
    if width > lengths.max() - lengths.min():
        return
    for start in np.linspace(lengths.min(), lengths.max() - width, _ALONG_HEM):
        under = heights[(lengths >= start - 5.0) & (lengths <= start + width + 5.0)]
        if not len(under) or under.max() - under.min() > _ON_EDGE - 0.5:
            continue
        move = along * (start - on_side.min()) + inward * (under.max() + _HAIR - depth.min())
        placed = Placed(0, 0, angle, flipped, float(move[0]), float(move[1]))
        shape = as_laid(outline, placed)
        if thing.ground.covers(shape):
            yield KeptAt(thing, placed, shape, float(shape.distance(rim)))


def hem_line(thing: Thing) -> LineString | None:
    """The edge of the piece along the hem, from one end to the other, counter-clockwise; None if the hem is inside."""
    ring = orient(thing.piece.outline).exterior
    if thing.shape.area > 0:
        beside = thing.shape.buffer(thing.blocked.margin + 1.0)
    else:  # a photograph shows where a hem is stitched; its edge runs beside that
        beside = thing.shape.buffer(_HEM_DEPTH, cap_style="flat")
    near = ring.intersection(beside)
    merged = shapely.line_merge(near) if near.geom_type == "MultiLineString" else near
    lines = [each for each in getattr(merged, "geoms", [merged]) if isinstance(each, LineString)]
    line = max(lines, key=lambda each: each.length, default=None)
    if line is None or line.length < 1.0:
        return None
    # intersections may come back the other way round
    begin, then = (ring.project(Point(line.coords[k])) for k in (0, 1))
    backward = (then < begin and begin - then < ring.length / 2) or then - begin > ring.length / 2
    return _straight(np.array(line.coords[::-1] if backward else line.coords))


def _straight(points: np.ndarray) -> LineString | None:
    """The longest stretch of a line that runs about one way: without what turns round the ends of a hem."""
    steps = np.diff(points, axis=0)
    lengths = np.hypot(*steps.T)
    main = steps[lengths.argmax()] if len(lengths) < _FEW_STEPS else (lengths[:, None] * steps).sum(axis=0)
    runs = steps @ main >= math.cos(math.radians(_ROUND_AN_END)) * lengths * np.hypot(*main)
    best, begin = (0.0, 0, 0), None
    for k, along in enumerate([*runs, False]):
        if along and begin is None:
            begin = k
        elif not along and begin is not None:
            best = max(best, (float(lengths[begin:k].sum()), begin, k))
            begin = None
    return LineString(points[best[1] : best[2] + 1]) if best[2] > best[1] else None

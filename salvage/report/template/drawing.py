"""What a template is made of, whatever file it goes to: lines and texts on layers, in mm, y up."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from salvage.shapes import lines_of, polygons_of

Point = tuple[float, float]


class Layer(StrEnum):
    """Layers of a drawing, by the plain words that they are called in SVG and DXF files."""

    CLOTH = "cloth"  # the edge of a piece, and of what of it is usable
    BLOCKED = "blocked"
    CUT = "cut"
    STITCH = "stitch"
    NOTCH = "notch"
    GUIDE = "guide"  # folds, openings, boxed corners
    KEPT = "kept"  # what of the garment the panel is cut round, and how far off it may lie
    EDGE = "edge"  # a side that lies on a finished edge of the garment
    GRAIN = "grain"
    TEXT = "text"


@dataclass(frozen=True, slots=True)
class Line:
    """points: mm; closed: a ring, its first point not repeated; filled: an arrowhead."""

    layer: Layer
    points: tuple[Point, ...]
    closed: bool = False
    filled: bool = False


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text about its middle. height: of the letters' em, mm; rotation: degrees."""

    at: Point
    text: str
    height: float
    rotation: float = 0.0
    bold: bool = False


def box_of(text: Text) -> BaseGeometry:
    """About what a text covers: a letter is some 0.62 of its em wide, with its gap (DejaVu Sans)."""
    (x, y), wide, high = text.at, 0.31 * text.height * len(text.text), 0.5 * text.height
    return affinity.rotate(box(x - wide, y - high, x + wide, y + high), text.rotation)


@dataclass(frozen=True, slots=True)
class Wording:
    """What is still to be written on a drawing, once it is known where it lies.

    room: where there is room for it; choices: from the most wordy to the shortest, each line by line; warp: direction
    of the grain line, degrees, None for none; both: whether it has a head at both ends.
    """

    room: BaseGeometry
    choices: tuple[tuple[str, ...], ...]
    warp: float | None
    both: bool = True


@dataclass(frozen=True, slots=True)
class Drawing:
    """name: of what is drawn. outline: what it takes of the paper. lines, texts: in any order."""

    name: str
    outline: BaseGeometry
    lines: tuple[Line, ...]
    texts: tuple[Text, ...] = ()
    wording: Wording | None = None

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Of all lines, and of texts that stand beyond them, up and down, mm."""
        xs, ys = zip(*(point for line in self.lines for point in line.points), strict=True)
        texts = [y + sign * text.height for text in self.texts for y in (text.at[1],) for sign in (-1, 1)]
        return min(xs), min(*ys, *texts), max(xs), max(*ys, *texts)

    @property
    def size(self) -> tuple[float, float]:
        low_x, low_y, high_x, high_y = self.bounds
        return high_x - low_x, high_y - low_y


def shape_lines(layer: Layer, shape: BaseGeometry | None) -> tuple[Line, ...]:
    """The rings of areas and the runs of lines, as they are."""
    found = [Line(layer, _points(line.coords)) for line in lines_of(shape)]
    for polygon in polygons_of(shape):
        rings = (polygon.exterior, *polygon.interiors)
        found += [Line(layer, _points(list(ring.coords)[:-1]), closed=True) for ring in rings]
    return tuple(found)


def _points(coordinates: Iterable[Sequence[float]]) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y, *_ in coordinates)


def arrow_lines(start: Point, end: Point, *, both: bool, head: float = 4.0) -> tuple[Line, ...]:
    """A grain line with a head at its end, or at both."""
    length = math.dist(start, end)
    along = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
    lines = [Line(Layer.GRAIN, (start, end))]
    for tip, sign in ((end, -1.0), (start, 1.0)) if both else ((end, -1.0),):
        back = (tip[0] + sign * along[0] * head, tip[1] + sign * along[1] * head)
        side = (-along[1] * head * 0.35, along[0] * head * 0.35)
        corners = (tip, (back[0] + side[0], back[1] + side[1]), (back[0] - side[0], back[1] - side[1]))
        lines.append(Line(Layer.GRAIN, corners, closed=True, filled=True))
    return tuple(lines)


def moved(drawing: Drawing, dx: float, dy: float) -> Drawing:
    return _mapped(drawing, lambda p: (p[0] + dx, p[1] + dy), 0.0)


def turned(drawing: Drawing, angle: float, *, mirrored: bool = False) -> Drawing:
    """Mirrored left to right if asked for, then turned about (0, 0). Texts are turned too, but never mirrored."""
    radians = math.radians(angle)
    c, s = math.cos(radians), math.sin(radians)
    if angle % 90 == 0:  # a quarter turn is exact
        c, s = float(round(c)), float(round(s))
    sign = -1.0 if mirrored else 1.0
    return _mapped(drawing, lambda p: (c * sign * p[0] - s * p[1], s * sign * p[0] + c * p[1]), angle)


def _mapped(drawing: Drawing, way: Callable[[Point], Point], angle: float) -> Drawing:
    import numpy as np
    import shapely

    def ways(points: np.ndarray) -> np.ndarray:
        return np.array([way((x, y)) for x, y in points]).reshape(-1, 2)

    wording = drawing.wording
    if wording is not None:
        wording = replace(wording, room=shapely.transform(wording.room, ways), warp=_warp(wording, way))
    return replace(
        drawing,
        wording=wording,
        outline=shapely.transform(drawing.outline, ways),
        lines=tuple(replace(line, points=tuple(map(way, line.points))) for line in drawing.lines),
        texts=tuple(
            replace(text, at=way(text.at), rotation=_upright(text.rotation + angle)) for text in drawing.texts
        ),
    )


def _warp(wording: Wording, way: Callable[[Point], Point]) -> float | None:
    """The grain's direction after the mapping, mirrored ones too."""
    if wording.warp is None:
        return None
    radians = math.radians(wording.warp)
    (x0, y0), (x1, y1) = way((0.0, 0.0)), way((math.cos(radians), math.sin(radians)))
    return math.degrees(math.atan2(y1 - y0, x1 - x0))


def _upright(angle: float) -> float:
    """Never upside down."""
    return (angle + 90 - 1e-9) % 180 - 90 + 1e-9


def together(name: str, drawings: Sequence[Drawing]) -> Drawing:
    """Several drawings as one."""
    return Drawing(
        name,
        Polygon(),
        tuple(line for each in drawings for line in each.lines),
        tuple(text for each in drawings for text in each.texts),
    )

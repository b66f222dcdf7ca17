"""Drawing primitives shared by the photograph and the flat plane.

Page coordinates are whatever the page's pen uses, y up in all cases. A `Page` knows how many typographic
points one page unit is, so that labels can be fitted into shapes before they are drawn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.report.pen.fonts import face, font_of
from salvage.report.pen.marks import (
    NO_COLOUR,
    Across,
    Area,
    Casing,
    Dashes,
    Pen,
    Stroke,
    Up,
    Words,
    hex_of,
    rgba,
)
from salvage.report.pen.palette import INK
from salvage.shapes import lines_of, polygons_of

_MEASURED_AT = 1000.0  # px; where letters are so large, hinting moves none of them
_CASED = 0.75  # opacity of a casing
_NUMBER = 3  # letters of a label that is a number alone
LARGE = 1.4  # letters of a large-print report, against the usual ones


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """A pen and the size of its unit. points_per_unit: typographic points (1/72 in) to a page unit.

    casing: colour drawn round lines and letters so that they show on any cloth; None on white paper.
    letters: how much larger than usual letters are; points_per_unit is then so much smaller than it is, so that all
    that makes room for letters makes more of it. grey: no colours, for a printer that has none.
    """

    pen: Pen
    points_per_unit: float
    casing: str | None = None
    letters: float = 1.0
    grey: bool = False

    def cased(self, colour: str) -> Page:
        """The same page with lines and letters drawn round in a colour."""
        return replace(self, casing=colour)


@dataclass(frozen=True, slots=True)
class Printing:
    """How a report is printed. large: for who reads large letters only; grey: black and white."""

    large: bool = False
    grey: bool = False

    @property
    def letters(self) -> float:
        return LARGE if self.large else 1.0

    def page(self, pen: Pen, points_per_unit: float, casing: str | None = None) -> Page:
        return Page(pen, points_per_unit / self.letters, casing, self.letters, self.grey)


PLAIN = Printing()


def ink(page: Page, colour: str) -> str:
    """A colour as it is printed: on a grey page by its brightness (Rec. 709), its transparency kept."""
    if not page.grey or colour == NO_COLOUR:
        return colour
    red, green, blue, alpha = rgba(colour)
    grey = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    return hex_of(grey, grey, grey, alpha)


@dataclass(frozen=True, slots=True)
class Label:
    """Where a label goes: centre, rotation in degrees, size in points, the lines to write; fits: inside its shape."""

    x: float
    y: float
    rotation: float
    size: float
    lines: tuple[str, ...]
    box: Polygon
    fits: bool = True


@lru_cache(maxsize=4096)
def _advance(letter: str, bold: bool) -> float:
    """Width of one letter at _MEASURED_AT; kerning is left out, which errs towards wide."""
    return face(font_of(letter, bold), _MEASURED_AT).getlength(letter)


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of a line of text in points."""
    return sum(_advance(letter, bold) for letter in text) * size / _MEASURED_AT


def wrap(text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """Break text into lines no wider than width points; a word too long for a line is broken too."""
    done: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split():
            while text_width(word, size, bold=bold) > width and len(word) > 1:
                keep = _longest_start(word, width, size, bold)
                if line:
                    done.append(line)
                    line = ""
                done.append(word[:keep])
                word = word[keep:]
            longer = f"{line} {word}" if line else word
            if text_width(longer, size, bold=bold) <= width or not line:
                line = longer
            else:
                done.append(line)
                line = word
        done.append(line)
    return done


def shortened(text: str, width: float, size: float) -> str:
    """Text cut off to width points, with an ellipsis where something is lost."""
    if text_width(text, size) <= width:
        return text
    return text[: _longest_start(text, width - text_width("…", size), size, False)] + "…"


def _longest_start(word: str, width: float, size: float, bold: bool) -> int:
    low, high = 1, len(word)
    while low < high:
        middle = (low + high + 1) // 2
        if text_width(word[:middle], size, bold=bold) <= width:
            low = middle
        else:
            high = middle - 1
    return low


def write(
    page: Page, x: float, y: float, text: str, size: float, *, color: str = INK, ha: Across = "center",
    va: Up = "center", rotation: float = 0.0, anchored: bool = False, bold: bool = False, zorder: float = 3.0,
) -> None:  # fmt: skip
    """Write text. anchored: see `Words`."""
    size *= page.letters
    halo = None if page.casing is None else ink(page, page.casing)
    page.pen.put(
        Words(
            x, y, text, size, ink(page, color), bold, ha, va, rotation, anchored, halo, max(1.6, size * 0.28), zorder
        )
    )  # fmt: skip


def fill(
    page: Page, shape: BaseGeometry | None, *, facecolor: str = NO_COLOUR, edgecolor: str = NO_COLOUR,
    linewidth: float = 0.0, linestyle: Dashes = (), hatch: str = "", alpha: float = 1.0, zorder: float = 1.0,
) -> None:  # fmt: skip
    """Draw every polygon of a shape as one path, holes left open."""
    parts = tuple(polygons_of(shape))
    if parts:
        colours = ink(page, facecolor), ink(page, edgecolor)
        page.pen.put(Area(parts, *colours, linewidth, linestyle, hatch, alpha, zorder))


def stroke(
    page: Page, shape: BaseGeometry | None, colour: str, width: float, *, linestyle: Dashes = (), zorder: float = 1.0
) -> None:  # fmt: skip
    """Draw a line, or the rings of a polygon; with a casing under it where the page asks for one."""
    runs = [np.asarray(line.coords)[:, :2] for line in lines_of(shape)]
    for polygon in polygons_of(shape):
        runs += [np.asarray(ring.coords)[:, :2] for ring in (polygon.exterior, *polygon.interiors)]
    if not runs:
        return
    casing = None
    if page.casing is not None:
        casing = Casing(ink(page, page.casing), width + min(1.4, 0.4 + width), _CASED)
    page.pen.put(Stroke(tuple(runs), ink(page, colour), width, linestyle, casing, zorder))


def arrow(
    page: Page,
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    *,
    both: bool,
    colour: str = INK,
    width: float = 1.0,
) -> None:
    """A grain line: straight, with an arrowhead at both ends, or only at its end on one-way cloth."""
    direction = end - start
    length = float(np.hypot(*direction))
    if length == 0.0:
        return
    unit = direction / length
    side = np.array([-unit[1], unit[0]])
    head = min(5.0 / page.points_per_unit, length / 3)
    heads = [Polygon([end, end - unit * head + side * head * 0.38, end - unit * head - side * head * 0.38])]
    if both:
        heads.append(
            Polygon(
                [start, start + unit * head + side * head * 0.38, start + unit * head - side * head * 0.38]
            )
        )
    shaft = LineString([start + unit * head * 0.5 * both, end - unit * head * 0.5])
    stroke(page, shaft, colour, width, zorder=7)
    fill(
        page, MultiPolygon(heads), facecolor=colour, linewidth=0.4, edgecolor=page.casing or colour, zorder=7
    )


def middle_of(shape: Polygon) -> tuple[float, float]:
    """A point well inside a shape: its centre of gravity if that lies deep enough, else the deepest point."""
    centre = shape.centroid
    circle = shapely.maximum_inscribed_circle(shape, tolerance=max(shape.length / 200, 1e-6))
    if shape.contains(centre) and centre.distance(shape.boundary) >= 0.8 * circle.length:
        return float(centre.x), float(centre.y)
    x, y = circle.coords[0][:2]
    return float(x), float(y)


def chord(shape: Polygon, x: float, y: float, angle: float) -> float:
    """How far one can go inside a shape through (x, y) along angle, equally far both ways."""
    reach = math.hypot(*(np.ptp(np.asarray(shape.exterior.coords)[:, :2], axis=0)))
    dx, dy = reach * math.cos(math.radians(angle)), reach * math.sin(math.radians(angle))
    boundary = shape.boundary
    shortest = reach
    for sign in (1.0, -1.0):
        hit = boundary.intersection(LineString([(x, y), (x + sign * dx, y + sign * dy)]))
        if not hit.is_empty:
            shortest = min(shortest, shapely.Point(x, y).distance(hit))
    return 2 * shortest


def fit_label(
    page: Page, shape: Polygon, choices: Sequence[tuple[str, ...]], *, sizes: Sequence[float] = (9, 8, 7, 6)
) -> Label:
    """The fullest of the choices that fits into the shape, upright if it can, else along the shape.

    choices: from the most wordy to the shortest. If none fits, the last one at the smallest size.
    """
    x, y = middle_of(shape)
    angles = (0.0, *_long_direction(shape))
    room = [
        (
            angle,
            chord(shape, x, y, angle) * page.points_per_unit,
            chord(shape, x, y, angle + 90) * page.points_per_unit,
        )
        for angle in angles
    ]
    # the smallest size only where no wording fits at a larger one
    tries = [(words, size) for group in (sizes[:-1], sizes[-1:]) for words in choices for size in group]
    for words, size in tries:
        close = len(words) == 1 and len(words[0]) <= _NUMBER  # a number may fill its shape
        wide = max(text_width(line, size, bold=True) for line in words) + (1 if close else 4)
        tall = size * 1.25 * len(words) + (0 if close else 3)
        for angle, across, up in room:
            # the corners of the box must be inside as well, not only its middle lines
            if wide <= across and tall <= up and _inside(page, shape, x, y, wide, tall, angle):
                return Label(x, y, angle, size, tuple(words), text_box(page, x, y, wide, tall, angle))
    words, size = choices[-1], sizes[-1]
    wide = max(text_width(line, size, bold=True) for line in words)
    tall = size * 1.25 * len(words)
    return Label(x, y, 0.0, size, tuple(words), text_box(page, x, y, wide, tall, 0.0), fits=False)


def _long_direction(shape: Polygon) -> tuple[float, ...]:
    box = shape.minimum_rotated_rectangle
    if not isinstance(box, Polygon):
        return ()
    corners = np.asarray(box.exterior.coords)
    sides = corners[1:3] - corners[0:2]
    longest = sides[int(np.argmax(np.hypot(sides[:, 0], sides[:, 1])))]
    angle = math.degrees(math.atan2(longest[1], longest[0]))
    upright = readable(angle)
    return (upright,) if abs(upright) > 3 else ()


def readable(angle: float) -> float:
    """A direction as text is turned to it: never upside down, upwards where it stands on end."""
    return (angle + 88) % 180 - 88


def text_box(page: Page, x: float, y: float, wide: float, tall: float, angle: float) -> Polygon:
    """The box of so many points round a text turned by angle, on the page."""
    w, h = wide / 2 / page.points_per_unit, tall / 2 / page.points_per_unit
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return Polygon([(x + c * a - s * b, y + s * a + c * b) for a, b in ((-w, -h), (w, -h), (w, h), (-w, h))])


def _inside(page: Page, shape: Polygon, x: float, y: float, wide: float, tall: float, angle: float) -> bool:
    return bool(shape.covers(text_box(page, x, y, wide, tall, angle)))


def draw_label(page: Page, label: Label, *, colour: str = INK) -> None:
    """Write a fitted label, its first line bold."""
    step = label.size * 1.25 / page.points_per_unit
    c, s = math.cos(math.radians(label.rotation + 90)), math.sin(math.radians(label.rotation + 90))
    for index, text in enumerate(label.lines):
        up = ((len(label.lines) - 1) / 2 - index) * step
        write(
            page, label.x + c * up, label.y + s * up, text, label.size, rotation=label.rotation, color=colour,
            bold=index == 0, anchored=True, va="center_baseline", zorder=20,
        )  # fmt: skip


def grain_line(
    page: Page, shape: Polygon, direction: NDArray[np.float64], label: Label | None, *, both: bool
) -> None:
    """Draw the grain line of a shape."""
    ends = grain_ends(page, shape, direction, label)
    if ends is not None:
        arrow(page, *ends, both=both)


def grain_ends(
    page: Page, shape: Polygon, direction: NDArray[np.float64], label: Label | None
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Both ends of the grain line of a shape: on the longest clear run along direction that keeps off the label."""
    clear = shape.buffer(-3.0 / page.points_per_unit)
    if label is not None:
        clear = clear.difference(label.box.buffer(1.5 / page.points_per_unit))
    if clear.is_empty:
        return None
    unit = direction / np.hypot(*direction)
    side = np.array([-unit[1], unit[0]])
    points = np.asarray(shape.exterior.coords)[:, :2]
    along, across = points @ unit, points @ side
    best: tuple[float, NDArray[np.float64], NDArray[np.float64]] | None = None
    for part in (0.22, 0.78, 0.14, 0.86, 0.34, 0.66, 0.5):
        offset = across.min() + part * np.ptp(across)
        ray = LineString([side * offset + unit * along.min(), side * offset + unit * along.max()])
        for run in lines_of(clear.intersection(ray)):
            if best is None or run.length > best[0] * 1.15:
                ends = np.asarray(run.coords)[:, :2]
                best = (run.length, ends[0], ends[-1])
    if best is None or best[0] * page.points_per_unit < 9:
        return None
    length, start, end = best
    middle, half = (start + end) / 2, unit * min(length * 0.42, 60 / page.points_per_unit)
    return middle - half, middle + half

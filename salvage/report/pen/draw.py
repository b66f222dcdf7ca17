"""Drawing primitives shared by the photograph and the flat plane.

Page coordinates are whatever the axes use, y up in both cases. A `Page` knows how many typographic
points one page unit is, so that labels can be fitted into shapes before they are drawn.
"""

from __future__ import annotations

import io
import math
import warnings
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex, to_rgba
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patches import PathPatch
from matplotlib.path import Path as PlotPath
from matplotlib.patheffects import Normal, Stroke, withStroke
from matplotlib.textpath import text_to_path
from numpy.typing import NDArray
from PIL import Image
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.report.pen.fonts import families
from salvage.report.pen.palette import INK
from salvage.shapes import lines_of, polygons_of

_MEASURED_AT = 10.0
_NUMBER = 3  # letters of a label that is a number alone
LARGE = 1.4  # letters of a large-print report, against the usual ones


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """Axes and the size of their unit. points_per_unit: typographic points (1/72 in) to a page unit.

    casing: colour drawn round lines and letters so that they show on any cloth; None on white paper.
    letters: how much larger than usual letters are; points_per_unit is then so much smaller than it is, so that all
    that makes room for letters makes more of it. grey: no colours, for a printer that has none.
    """

    axes: Axes
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

    def page(self, axes: Axes, points_per_unit: float, casing: str | None = None) -> Page:
        return Page(axes, points_per_unit / self.letters, casing, self.letters, self.grey)


PLAIN = Printing()


def ink(page: Page, colour: str) -> str:
    """A colour as it is printed: on a grey page by its brightness (Rec. 709), its transparency kept."""
    if not page.grey or colour == "none":
        return colour
    red, green, blue, alpha = to_rgba(colour)
    grey = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    return to_hex((grey, grey, grey, alpha), keep_alpha=True)


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
    """Width of one letter at ten points; kerning is left out, which errs towards wide."""
    font = FontProperties(family=families(letter), size=_MEASURED_AT, weight="bold" if bold else "normal")
    with quiet_glyphs():
        both, one = (
            float(text_to_path.get_text_width_height_descent(text, font, False)[0])
            for text in (f"|{letter}|", "||")
        )
    return both - one


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


def write(page: Page, x: float, y: float, text: str, size: float, **style: Any) -> None:
    """Write text, never read as mathematics (a name may hold a dollar sign)."""
    style.setdefault("color", INK)
    style.setdefault("ha", "center")
    style.setdefault("va", "center")
    style["color"] = ink(page, style["color"])
    size *= page.letters
    made = page.axes.text(x, y, text, fontsize=size, family=families(text), parse_math=False, **style)
    if page.casing is not None:
        made.set_path_effects(
            [withStroke(linewidth=max(1.6, size * 0.28), foreground=ink(page, page.casing))]
        )


def fill(page: Page, shape: BaseGeometry | None, **style: Any) -> None:
    """Draw every polygon of a shape as one path, holes left open."""
    path = _path(polygons_of(shape))
    if path is not None:
        style.setdefault("linewidth", 0.0)
        for key in ("facecolor", "edgecolor"):
            if isinstance(style.get(key), str):
                style[key] = ink(page, style[key])
        page.axes.add_artist(PathPatch(path, **style))


def stroke(page: Page, shape: BaseGeometry | None, colour: str, width: float, **style: Any) -> None:
    """Draw a line, or the rings of a polygon; with a casing under it where the page asks for one."""
    runs = [np.asarray(line.coords)[:, :2] for line in lines_of(shape)]
    for polygon in polygons_of(shape):
        runs += [np.asarray(ring.coords)[:, :2] for ring in (polygon.exterior, *polygon.interiors)]
    if not runs:
        return
    path = PlotPath.make_compound_path(*[PlotPath(run) for run in runs])
    patch = PathPatch(path, fill=False, edgecolor=ink(page, colour), linewidth=width, **style)
    if page.casing is not None:
        patch.set_path_effects(
            [
                Stroke(
                    linewidth=width + min(1.4, 0.4 + width), foreground=ink(page, page.casing), alpha=0.75
                ),
                Normal(),
            ]
        )
    page.axes.add_artist(patch)


def _path(parts: Iterable[Polygon]) -> PlotPath | None:
    rings = []
    for part in parts:
        for ring in (part.exterior, *part.interiors):
            points = np.asarray(ring.coords)[:, :2]
            codes = np.full(len(points), PlotPath.LINETO, dtype=PlotPath.code_type)
            codes[0], codes[-1] = PlotPath.MOVETO, PlotPath.CLOSEPOLY
            rings.append(PlotPath(points, codes))
    return PlotPath.make_compound_path(*rings) if rings else None


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
            weight="bold" if index == 0 else "normal", rotation_mode="anchor", va="center_baseline", zorder=20,
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


def agg_figure(width_px: int, height_px: int, dpi: float) -> Figure:
    """An empty figure of so many pixels, outside every global registry."""
    figure = Figure(figsize=(width_px / dpi, height_px / dpi), dpi=dpi, facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def to_jpeg(figure: Figure, *, most_bytes: int | None = None) -> bytes:
    """The figure as JPEG, at the best of a few qualities that is no larger than most_bytes."""
    canvas = figure.canvas
    assert isinstance(canvas, FigureCanvasAgg)
    with quiet_glyphs():
        canvas.draw()
    pixels = np.asarray(canvas.buffer_rgba())
    # Read as it lies there, its fourth channel passed over: a copy of a large photograph takes a fifth of a second.
    picture = Image.frombuffer("RGBX", (pixels.shape[1], pixels.shape[0]), pixels, "raw", "RGBX", 0, 1)
    data = b""
    for quality in (85, 72, 58, 42):
        stream = io.BytesIO()
        picture.save(stream, "JPEG", quality=quality)
        data = stream.getvalue()
        if most_bytes is None or len(data) <= most_bytes:
            break
    return data


@contextmanager
def quiet_glyphs() -> Iterator[None]:
    """No warning on the terminal for a name in a script that the drawing font lacks."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*[Gg]lyph.*")
        yield

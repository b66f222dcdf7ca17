"""Drawing over a photograph: what was found, and the panels as they will lie on the cloth."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Protocol

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from numpy.typing import ArrayLike, NDArray
from PIL import Image
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import BlockedKind, Garment, Piece
from salvage.cloth.usable import usable
from salvage.photo.photo import Photo
from salvage.photo.problem import Level, Problem
from salvage.report.chart import Cut, Spread
from salvage.report.draw import (
    Page,
    agg_figure,
    arrow,
    draw_label,
    fill,
    fit_label,
    grain_line,
    lines,
    polygons,
    stroke,
    text_width,
    to_jpeg,
    wrap,
    write,
)
from salvage.report.palette import ATTENTION, BLOCKED_LOOK, INK, PAPER
from salvage.report.plan import draw_cut, seam_line
from salvage.report.words import known_words
from salvage.scale.square import Square
from salvage.units import MM_PER_INCH, Unit, format_area, format_length

_ACROSS_INCHES = 7.2  # a picture is drawn as if printed this wide, which fixes the size of its letters
_AROUND = 0.07  # of the garment's longer extent: floor shown around it
_STEP = 20.0  # mm; edges are broken into runs this long so that they bend with the lens
_NAMED_DOUBTS = 6  # more words than this would hide the picture
_CASING = "#10161c"
_CHALK = "#ffffff"


class OnPhoto(Protocol):
    """What is needed of a plane: millimetres of the cloth plane to pixels of the upright picture, and back."""

    def to_px(self, points_mm: ArrayLike) -> NDArray[np.float64]: ...

    def to_mm(self, points_px: ArrayLike) -> NDArray[np.float64]: ...


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """A reduced photograph, or a part of one, as the ground of a drawing.

    shrink: page units to a photo pixel. corner_px: the photo pixel (column, row) of its top-left pixel.
    """

    pixels: NDArray[np.uint8]
    shrink: float
    corner_px: tuple[int, int] = (0, 0)

    @property
    def width(self) -> int:
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        return int(self.pixels.shape[0])

    def from_px(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape in photo pixels, on the page: y up, and the page's origin at the lower-left corner."""
        return shapely.transform(shape, self.points)

    def points(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        scaled = (np.asarray(points_px, dtype=float) - self.corner_px + 0.5) * self.shrink
        return np.column_stack([scaled[:, 0], self.height - scaled[:, 1]])

    def to_px(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Photo pixels of points on the page."""
        flipped = np.column_stack([points[:, 0], self.height - points[:, 1]])
        return flipped / self.shrink - 0.5 + self.corner_px


def ground(photo: Photo, most_px: int, window_px: tuple[int, int, int, int] | None = None) -> Ground:
    """Reduce a photograph so that its longer side is at most most_px.

    window_px: first column, first row, end column, end row of the part to take; all of it if None.
    """
    left, top, right, bottom = window_px or (0, 0, photo.width_px, photo.height_px)
    part = photo.pixels[top:bottom, left:right]
    longest = max(right - left, bottom - top)
    if longest <= most_px:
        return Ground(part, 1.0, (left, top))
    shrink = most_px / longest
    size = (max(1, round((right - left) * shrink)), max(1, round((bottom - top) * shrink)))
    reduced = Image.fromarray(part).resize(size, Image.Resampling.BOX)
    return Ground(np.asarray(reduced), shrink, (left, top))


def ground_of(photo: Photo, plane: OnPhoto, pieces: Sequence[Piece], most_px: int) -> Ground:
    """The part of a photograph in which these pieces lie, with some floor around them."""
    rings = [np.asarray(piece.outline.exterior.segmentize(_STEP).coords)[:, :2] for piece in pieces]
    if not rings:
        return ground(photo, most_px)
    points = plane.to_px(np.vstack(rings))
    low, high = points.min(axis=0), points.max(axis=0)
    around = _AROUND * max(high - low)
    left, top = (max(0, int(value)) for value in low - around)
    right = min(photo.width_px, int(high[0] + around))
    bottom = min(photo.height_px, int(high[1] + around))
    if right - left < 50 or bottom - top < 50:  # the pieces lie outside this picture
        return ground(photo, most_px)
    return ground(photo, most_px, (left, top, right, bottom))


def warp(ground: Ground, plane: OnPhoto) -> Callable[[BaseGeometry], BaseGeometry]:
    """A function from a shape on the cloth plane, mm, to the page."""

    def to_page(shape: BaseGeometry) -> BaseGeometry:
        fine = shapely.segmentize(shape, _STEP)
        return shapely.transform(fine, lambda points: ground.points(plane.to_px(points)))

    return to_page


@dataclass(frozen=True, slots=True, eq=False)
class _Canvas:
    figure: Figure
    page: Page
    strip: Page | None


def _canvas(ground: Ground, strip_points: float = 0.0) -> _Canvas:
    """A figure with the picture, and a strip of so many points below it for the legend."""
    dpi = max(ground.width, ground.height) / _ACROSS_INCHES
    per_unit = 72 / dpi
    strip_px = round(strip_points / per_unit)
    whole = ground.height + strip_px
    figure = agg_figure(ground.width, whole, dpi)
    axes = figure.add_axes((0, strip_px / whole, 1, ground.height / whole))
    draw_ground(axes, ground)
    strip = None
    if strip_px:
        below = figure.add_axes((0, 0, 1, strip_px / whole))
        below.set_xlim(0, ground.width * per_unit)
        below.set_ylim(0, strip_points)
        below.set_axis_off()
        strip = Page(below, 1.0)
    return _Canvas(figure, Page(axes, per_unit, _CASING), strip)


def draw_ground(axes: Axes, ground: Ground) -> None:
    """Lay the picture into axes, one page unit a pixel, y up."""
    axes.imshow(
        ground.pixels,
        extent=(0, ground.width, 0, ground.height),
        interpolation="none",
        zorder=0,
        aspect="auto",
    )
    axes.set_xlim(0, ground.width)
    axes.set_ylim(0, ground.height)
    axes.set_axis_off()


def on_this_photo(garment: Garment, photo_name: str) -> list[Piece]:
    """The pieces of a garment that lie in this photograph (all that name no photograph too)."""
    return [
        piece
        for piece in garment.pieces
        if piece.photo is None or PurePath(piece.photo.file).name == photo_name
    ]


def marked_photo(
    photo: Photo,
    plane: OnPhoto,
    garment: Garment,
    *,
    squares: Sequence[Square] = (),
    outline_px: MultiPolygon | None = None,
    doubtful_px: BaseGeometry | None = None,
    unit: Unit = Unit.MM,
    most_px: int = 2000,
) -> bytes:
    """The photograph with everything that was found on it, as JPEG.

    outline_px: the cloth's outline, photo pixels (else the pieces' outlines do). doubtful_px: stretches
    of the edge that a person should look at, photo pixels. most_px: longer side of the picture.
    """
    base = ground(photo, most_px)
    to_page = warp(base, plane)
    pieces = on_this_photo(garment, photo.name)
    notes = _found_notes(photo, garment, pieces, squares, unit)
    doubts = doubtful_px is not None and not doubtful_px.is_empty
    entries = _legend_entries(pieces, bool(squares), doubts)
    sheet = _canvas(base, _strip_height(base, notes, entries))
    page = sheet.page
    for piece in pieces:
        _draw_piece(page, piece, to_page)
    if outline_px is not None:
        stroke(page, base.from_px(outline_px), _CHALK, 1.1, zorder=7)
    _draw_squares(page, base, squares, unit)
    if doubtful_px is not None:
        _draw_doubts(page, base.from_px(doubtful_px), _cloth_on_page(base, outline_px))
    for piece in pieces:
        _name_piece(page, piece, to_page)
    _scale_bar(page, base, plane, unit)
    if sheet.strip is not None:
        _draw_strip(sheet.strip, base, notes, entries)
    return to_jpeg(sheet.figure)


def marked_check(
    photo: Photo,
    squares: Sequence[Square],
    problems: Sequence[Problem],
    outline_px: MultiPolygon | None = None,
    *,
    plane: OnPhoto | None = None,
    doubtful_px: BaseGeometry | None = None,
    unit: Unit = Unit.MM,
    most_px: int = 2000,
) -> bytes:
    """The photograph as `check` sees it: squares, outline, doubtful edges, and what is wrong, as JPEG."""
    base = ground(photo, most_px)
    notes = [f"{photo.name}: {_count_squares(squares, unit)}"]
    notes += [
        f"{'Can’t be measured' if p.level is Level.ERROR else 'Note'} ({p.code}): {p.message}"
        for p in problems
    ]
    if not problems:
        notes.append("Nothing found wrong with it.")
    entries = []
    if outline_px is not None and not outline_px.is_empty:
        entries.append("outline")
    if doubtful_px is not None and not doubtful_px.is_empty:
        entries.append("doubt")
    if squares:
        entries.append("square")
    sheet = _canvas(base, _strip_height(base, notes, entries))
    if outline_px is not None:
        stroke(sheet.page, base.from_px(outline_px), _CHALK, 1.1, zorder=7)
    _draw_squares(sheet.page, base, squares, unit)
    if doubtful_px is not None:
        _draw_doubts(sheet.page, base.from_px(doubtful_px), _cloth_on_page(base, outline_px))
    if plane is not None:
        _scale_bar(sheet.page, base, plane, unit)
    if sheet.strip is not None:
        _draw_strip(sheet.strip, base, notes, entries)
    return to_jpeg(sheet.figure)


def layout_on_photo(
    photo: Photo,
    plane: OnPhoto,
    spreads: Sequence[Spread],
    *,
    unit: Unit = Unit.MM,
    most_px: int = 1600,
    pieces: Sequence[Piece] = (),
    most_bytes: int | None = None,
) -> bytes:
    """The panels warped back into the picture, as the person sees the garment lying there, as JPEG.

    spreads: the layers to draw, all of pieces in this photograph (one layer a piece). pieces: every piece
    of the garment in it, to cut the picture down to; the whole picture if none are given.
    most_bytes: the JPEG's quality is lowered, down to a limit, until it is no larger.
    """
    base = ground_of(photo, plane, pieces, most_px)
    sheet = _canvas(base)
    draw_layout(sheet.page, base, plane, spreads, unit=unit)
    return to_jpeg(sheet.figure, most_bytes=most_bytes)


def draw_layout(page: Page, base: Ground, plane: OnPhoto, spreads: Sequence[Spread], *, unit: Unit) -> None:
    """Draw spreads over a picture that is already on the page."""
    to_page = warp(base, plane)
    for spread in spreads:
        if spread.cuts:
            stroke(page, to_page(spread.piece.outline), _CHALK, 1.0, zorder=3)
        else:  # what is in the way is what there is to see
            _draw_piece(page, spread.piece, to_page)
        for cut in spread.cuts:
            _draw_cut(page, cut, spread.piece, to_page, unit)
    _scale_bar(page, base, plane, unit)


def _draw_cut(
    page: Page, cut: Cut, piece: Piece, to_page: Callable[[BaseGeometry], BaseGeometry], unit: Unit
) -> None:
    shape = to_page(cut.placement.shape)
    assert isinstance(shape, Polygon)
    if not shape.is_valid or shape.is_empty:
        return
    stitched = seam_line(cut)
    seam = to_page(stitched) if stitched is not None else None
    direction = grain_on_page(piece, cut.placement.shape, to_page)
    chalked = Page(page.axes, page.points_per_unit, "#ffffff")  # dark lines edged white show on any cloth
    draw_cut(
        chalked, cut, piece.grain, one_way=piece.one_way, unit=unit, shape=shape, direction=direction, alpha=0.66,
        seam=seam if isinstance(seam, Polygon) else None,
    )  # fmt: skip


def grain_on_page(
    piece: Piece, near: Polygon, to_page: Callable[[BaseGeometry], BaseGeometry]
) -> NDArray[np.float64]:
    """The direction of the warp at a shape, as seen on the page."""
    x, y = near.centroid.coords[0]
    radians = np.radians(piece.grain)
    reach = 5.0
    line = LineString([(x, y), (x + reach * np.cos(radians), y + reach * np.sin(radians))])
    ends = np.asarray(to_page(line).coords)
    return ends[-1] - ends[0]


def _draw_piece(page: Page, piece: Piece, to_page: Callable[[BaseGeometry], BaseGeometry]) -> None:
    fill(page, to_page(piece.outline.difference(usable(piece))), facecolor=_CASING, alpha=0.34, zorder=2)
    stroke(page, to_page(usable(piece).simplify(0.3)), "#9be8c8", 0.7, zorder=3)
    stroke(page, to_page(piece.outline), _CHALK, 0.9, zorder=4)
    for blocked in piece.blocked:
        look = BLOCKED_LOOK[blocked.kind]
        shape = to_page(blocked.shape)
        if blocked.kind in (BlockedKind.SEAM, BlockedKind.HEM) and any(True for _ in lines(shape)):
            stroke(page, shape, look.colour, 1.0, linestyle=(0, (4, 2)), zorder=4)
            continue
        fill(page, shape, facecolor=look.colour, alpha=0.35, zorder=4)
        fill(page, shape, facecolor="none", edgecolor=look.colour, hatch=look.hatch, zorder=4.1)
        stroke(page, shape, look.colour, 1.0, zorder=4.2)


def _name_piece(page: Page, piece: Piece, to_page: Callable[[BaseGeometry], BaseGeometry]) -> None:
    clear = shapely.union_all([blocked.shape.buffer(blocked.margin) for blocked in piece.blocked])
    parts = sorted(polygons(to_page(piece.outline.difference(clear))), key=lambda part: -part.area)
    outline = parts[0] if parts else to_page(piece.outline)
    if not isinstance(outline, Polygon) or not outline.is_valid:
        return
    both = piece.fabric + (f", {piece.layers} layers" if piece.layers > 1 else "")
    label = fit_label(page, outline, ((piece.name, both), (piece.name,)), sizes=(8, 7, 6, 5))
    bright = Page(page.axes, page.points_per_unit, "#ffffffe0")
    draw_label(bright, label)
    grain_line(bright, outline, grain_on_page(piece, piece.outline, to_page), label, both=not piece.one_way)


def _draw_squares(page: Page, base: Ground, squares: Sequence[Square], unit: Unit) -> None:
    for square in squares:
        corners = base.points(square.corners_px)
        shape = Polygon(corners)
        stroke(page, shape, ATTENTION, 1.4, zorder=8)
        same = abs(square.width - square.length) < 0.05
        side = format_length(square.width, unit)
        if not same:
            side = (
                f"{format_length(square.width, unit, with_unit=False)} × {format_length(square.length, unit)}"
            )
        middle = shape.centroid
        write(page, middle.x, middle.y, side, 7.5, color=ATTENTION, weight="bold", zorder=21)


def _cloth_on_page(base: Ground, outline_px: MultiPolygon | None) -> BaseGeometry | None:
    return None if outline_px is None else base.from_px(outline_px).buffer(0)


def _draw_doubts(page: Page, doubts: BaseGeometry, cloth: BaseGeometry | None) -> None:
    """Dashes along doubtful stretches; the longest few are named, on the floor beside them."""
    width, height = (
        text_width("look at this edge", 7, bold=True) / page.points_per_unit,
        9 / page.points_per_unit,
    )
    for index, run in enumerate(sorted(lines(doubts), key=lambda run: -run.length)):
        stroke(page, run, ATTENTION, 2.6, linestyle=(0, (1.2, 1.0)), zorder=9)
        if index >= _NAMED_DOUBTS or run.length * page.points_per_unit < 12:
            continue
        before, here, after = (
            np.array(run.interpolate(part, normalized=True).coords[0]) for part in (0.45, 0.5, 0.55)
        )
        along = (after - before) / max(float(np.hypot(*(after - before))), 1e-9)
        side = np.array([-along[1], along[0]])
        if cloth is not None and cloth.contains(shapely.Point(*(here + side * height))):
            side = -side
        x, y = here + side * (height + abs(side[0]) * width / 2)
        x = min(max(x, width / 2), page.axes.get_xlim()[1] - width / 2)
        write(page, x, y, "look at this edge", 7, color=ATTENTION, weight="bold", zorder=22)


def _scale_bar(page: Page, base: Ground, plane: OnPhoto, unit: Unit) -> None:
    """A bar of round length lying on the cloth plane at the lower left of the picture."""
    per = MM_PER_INCH if unit is Unit.INCH else 1.0
    x, y = plane.to_mm(base.to_px(np.array([[0.04 * base.width, 0.045 * base.height]])))[0]
    for length in (8 * per, 4 * per, 2 * per) if unit is Unit.INCH else (200.0, 100.0, 50.0):
        stops = np.linspace(0, length, 5)
        points = base.points(plane.to_px(np.column_stack([x + stops, np.full(5, y)])))
        if np.ptp(points[:, 0]) < 0.32 * base.width:
            break
    width = 5.5
    for index in range(4):
        colour = _CHALK if index % 2 == 0 else INK
        stroke(page, LineString(points[index : index + 2]), colour, width, capstyle="butt", zorder=10 + index)
    end = points[-1]
    gap = 5 / page.points_per_unit
    write(
        page,
        end[0] + gap,
        end[1],
        format_length(length, unit),
        7.5,
        color=_CHALK,
        ha="left",
        zorder=21,
        weight="bold",
    )


_LEGEND: Mapping[str, str] = {
    "outline": "outline of the cloth",
    "usable": "edge of what is usable",
    "seam": "seam or hem",
    "closure": "closure",
    "pocket": "pocket",
    "worn": "worn or stained",
    "other": "kept clear",
    "grain": "grain",
    "square": "reference square",
    "doubt": "look at this edge",
}


def _legend_entries(pieces: Sequence[Piece], has_squares: bool, has_doubts: bool) -> list[str]:
    kinds = {blocked.kind for piece in pieces for blocked in piece.blocked}
    names = {
        "seam": BlockedKind.SEAM in kinds or BlockedKind.HEM in kinds,
        "closure": BlockedKind.CLOSURE in kinds,
        "pocket": BlockedKind.POCKET in kinds,
        "worn": BlockedKind.WORN in kinds,
        "other": BlockedKind.OTHER in kinds,
        "grain": bool(pieces),
        "square": has_squares,
        "doubt": has_doubts,
    }
    return ["outline", "usable", *[name for name, shown in names.items() if shown]]


def _count_squares(squares: Sequence[Square], unit: Unit) -> str:
    if not squares:
        return "no reference square found"
    sides = sorted({format_length(square.width, unit) for square in squares})
    count = "1 reference" if len(squares) == 1 else f"{len(squares)} references"
    return f"{count} found, side {' and '.join(sides)}"


def _found_notes(
    photo: Photo, garment: Garment, pieces: Sequence[Piece], squares: Sequence[Square], unit: Unit
) -> list[str]:
    area = sum(usable(piece).area * piece.layers for piece in pieces)
    notes = [f"{garment.name} · {photo.name} · {_count_squares(squares, unit)}"]
    count = "1 piece" if len(pieces) == 1 else f"{len(pieces)} pieces"
    sizes = f"{count}, {format_area(area, unit)} usable"
    if pieces:
        percent = max(piece.plus_minus.scale_percent for piece in pieces)
        edge = max(piece.plus_minus.edge for piece in pieces)
        known = known_words(percent, edge, unit)
        if known:
            sizes += f" · plus-minus: {known} (95 %)"
    notes.append(sizes)
    return notes


_LINE = 10.5  # points from line to line of the strip
_NOTE_SIZE = 7.5


def _note_lines(base: Ground, notes: Sequence[str]) -> list[str]:
    width = base.width * 72 * _ACROSS_INCHES / max(base.width, base.height) - 16
    return [line for note in notes for line in wrap(note, width, _NOTE_SIZE)]


def _legend_rows(base: Ground, entries: Sequence[str]) -> list[list[tuple[str, float]]]:
    """Entries with the x where each begins, points, broken into rows."""
    width = base.width * 72 * _ACROSS_INCHES / max(base.width, base.height)
    rows: list[list[tuple[str, float]]] = [[]]
    x = 8.0
    for entry in entries:
        need = 26 + text_width(_LEGEND[entry], _NOTE_SIZE) + 12
        if x + need > width and rows[-1]:
            rows.append([])
            x = 8.0
        rows[-1].append((entry, x))
        x += need
    return rows


def _strip_height(base: Ground, notes: Sequence[str], entries: Sequence[str]) -> float:
    rows = len(_note_lines(base, notes)) + (len(_legend_rows(base, entries)) if entries else 0)
    return rows * _LINE + 8


def _draw_strip(strip: Page, base: Ground, notes: Sequence[str], entries: Sequence[str]) -> None:
    high = strip.axes.get_ylim()[1]
    strip.axes.add_patch(Rectangle((0, 0), strip.axes.get_xlim()[1], high, facecolor=PAPER))
    y = high - 4 - _LINE / 2
    for index, line in enumerate(_note_lines(base, notes)):
        write(strip, 8, y, line, _NOTE_SIZE, ha="left", weight="bold" if index == 0 else "normal")
        y -= _LINE
    for row in _legend_rows(base, entries) if entries else []:
        for entry, x in row:
            _swatch(strip, entry, x, y)
            write(strip, x + 26, y, _LEGEND[entry], _NOTE_SIZE, ha="left")
        y -= _LINE


def _swatch(strip: Page, entry: str, x: float, y: float) -> None:
    """A sample of a line or a hatching, 22 points wide, on dark so that pale lines show."""
    field = shapely.box(x, y - 4, x + 22, y + 4)
    fill(strip, field, facecolor="#5b6670")
    run = LineString([(x + 2, y), (x + 20, y)])
    if entry == "outline":
        stroke(strip, run, _CHALK, 1.8)
    elif entry == "usable":
        stroke(strip, run, "#9be8c8", 1.0)
    elif entry == "seam":
        stroke(strip, run, BLOCKED_LOOK[BlockedKind.SEAM].colour, 1.0, linestyle=(0, (4, 2)))
    elif entry == "grain":
        fill(strip, field, facecolor="#ffffff", edgecolor=INK, linewidth=0.4)
        arrow(strip, np.array([x + 2, y]), np.array([x + 20, y]), both=True)
    elif entry == "square":
        stroke(strip, shapely.box(x + 8, y - 3, x + 14, y + 3), ATTENTION, 1.2)
    elif entry == "doubt":
        stroke(strip, run, ATTENTION, 2.4, linestyle=(0, (1.2, 1.0)))
    else:
        look = BLOCKED_LOOK[BlockedKind(entry)]
        fill(strip, field, facecolor=look.colour, alpha=0.35)
        fill(strip, field, facecolor="none", edgecolor=look.colour, hatch=look.hatch)
        stroke(strip, field, look.colour, 1.0)

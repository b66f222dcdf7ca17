"""The flat plane to scale: one layer of a piece with its usable cloth, what is blocked, and the panels."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from salvage.cloth.garment import BlockedKind, Piece
from salvage.project.project import Panel
from salvage.report.cutting.bearings import Bearing
from salvage.report.cutting.chart import CutShape, Spread, item_size
from salvage.report.cutting.landmarks import Landmark, feature_name
from salvage.report.drawing.cut import draw_cut
from salvage.report.pen.draw import (
    PLAIN,
    Page,
    Printing,
    draw_label,
    fill,
    fit_label,
    readable,
    stroke,
    text_box,
    text_width,
    write,
)
from salvage.report.pen.labels import Labels
from salvage.report.pen.leaf import POINTS_PER_MM, Field, Leaf
from salvage.report.pen.paint import painting_of
from salvage.report.pen.palette import BLOCKED_LOOK, FAINT, INK, PAPER, SOUND, TAPE, WASTE
from salvage.report.pen.ruler import ROOM as RULER
from salvage.report.pen.ruler import draw_rulers
from salvage.report.pen.svg import svg_of
from salvage.shapes import part_within, polygons_of
from salvage.units import Unit, format_exact_size, format_length

# A plan is drawn at one of these scales, 1 : n, so that a person with a scale ruler can use it.
SCALES = (1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100)
PLAN_PAPER = (
    225.0,
    270.0,
)  # mm; what a plan may take of a screen, on which letters of 9 points are just read
_EDGE = 3.0  # mm of paper around the rest
_AROUND = 4.6  # mm of paper round a piece: room for the letters of landmarks on its edge
_TAPE_SIZE = 5.6  # points
_SPOT, _CORNER = 1.9, 1.7  # points, radius of a landmark's dot and of the ring at a corner
_OFF_MARK = (
    1.4,
    2.4,
    3.6,
    5.0,
    7.0,
    9.0,
    12.0,
)  # radii of a letter's ring that it may stand off its landmark
_FAR_OFF = 2.0  # of them, from which a line leads there
_SMALL = 14.0  # points; the corners of a narrower shape are not marked: the chart tells them
_FEW = 5  # shapes on a plan up to which the tapes are drawn as lines
_PX_PER_POINT = 200 / 72  # of a plan in pixels
_MANY = 150  # shapes past which small ones lose their grain line


@dataclass(frozen=True, slots=True)
class PlanPaper:
    """How a plan lies on paper. bounds: what of the plane is drawn, mm; scale: 1 : scale; start: where its rulers begin."""

    bounds: tuple[float, float, float, float]
    scale: float
    start: tuple[float, float]

    @property
    def size(self) -> tuple[float, float]:
        """Width and height on paper, mm."""
        low_x, low_y, high_x, high_y = self.bounds
        return (
            (high_x - low_x) / self.scale + RULER + _EDGE,
            (high_y - low_y) / self.scale + RULER + _EDGE,
        )


def paper_for(shapes: Sequence[Polygon], width: float, height: float, *, no_larger: float = 1.0) -> PlanPaper:
    """The largest scale at which shapes on the plane fit together on width x height mm of paper.

    no_larger: a scale 1 : n that is large enough.
    """
    low_x, low_y, high_x, high_y = unary_union(shapes).bounds

    def at(scale: float) -> PlanPaper:
        margin = max(0.015 * max(high_x - low_x, high_y - low_y), _AROUND * scale)
        bounds = (low_x - margin, low_y - margin, high_x + margin, high_y + margin)
        return PlanPaper(bounds, scale, (low_x, low_y))

    for scale in SCALES:
        sheet = at(scale)
        if scale >= no_larger and sheet.size[0] <= width and sheet.size[1] <= height:
            return sheet
    taken = RULER + _EDGE + 2 * _AROUND
    over = 1.03 * max((high_x - low_x) / (width - taken), (high_y - low_y) / (height - taken))
    return at(math.ceil(over / 50) * 50)


def set_apart(items: Sequence[Panel]) -> list[tuple[Panel, Polygon]]:
    """Panels without a place, grain up, in rows below each other that make about a square."""
    shapes = [(item, Polygon(item.outline)) for item in items]
    widths = [shape.bounds[2] - shape.bounds[0] for _, shape in shapes]
    gap = 0.06 * max(widths, default=0.0)
    wide = max(max(widths, default=0.0), 1.6 * math.sqrt(sum(shape.envelope.area for _, shape in shapes)))
    x = y = lowest = 0.0
    done = []
    for item, shape in shapes:
        left, bottom, right, top = shape.bounds
        if x > 0 and x + right - left > wide:
            x, y = 0.0, lowest - gap
        done.append((item, affinity.translate(shape, x - left, y - top)))
        x += right - left + gap
        lowest = min(lowest, y - (top - bottom))
    return done


def draw_apart(
    field: Field,
    sheet: PlanPaper,
    laid: Sequence[tuple[Panel, Polygon]],
    unit: Unit,
    printing: Printing = PLAIN,
) -> None:
    """Panels without a place, to the scale of their sheet, into a field of exactly sheet.size."""
    page = plan_page(field, sheet, printing)
    low_x, low_y, high_x, high_y = sheet.bounds
    labels = Labels(page, box(low_x, low_y, high_x, high_y))
    for item, shape in laid:
        fill(page, shape, facecolor=PAPER, edgecolor=INK, linewidth=1.0, linestyle=(1, 1.5))
        size = format_exact_size(item_size(item), unit)
        choices = ((item.name, size), (item.name,), (*item.name.split(),))
        labels.write(page, shape, choices, outside=((item.name,),))
    draw_rulers(page, sheet.bounds, sheet.start, sheet.scale, unit)


def apart_leaf(
    items: Sequence[Panel], unit: Unit, *, no_larger: float = 1.0, printing: Printing = PLAIN
) -> tuple[Leaf, PlanPaper]:
    """The panels without a place on a leaf of the size that they need, at most PLAN_PAPER."""
    laid = set_apart(items)
    sheet = paper_for([shape for _, shape in laid], *PLAN_PAPER, no_larger=no_larger)
    leaf = Leaf(*sheet.size)
    draw_apart(leaf.field(), sheet, laid, unit, printing)
    return leaf, sheet


def plan_page(field: Field, sheet: PlanPaper, printing: Printing = PLAIN) -> Page:
    """A page over a field of exactly sheet.size, with the plane's millimetres as units."""
    low_x, low_y, high_x, high_y = sheet.bounds
    low, edge = RULER * sheet.scale, _EDGE * sheet.scale
    pen = field.pen(low_x - low, low_y - low, high_x + edge, high_y + edge)
    return printing.page(pen, POINTS_PER_MM / sheet.scale)


def draw_plan(
    field: Field,
    sheet: PlanPaper,
    spread: Spread,
    usable: MultiPolygon,
    *,
    unit: Unit,
    printing: Printing = PLAIN,
) -> None:
    """Draw a plan into a field of exactly sheet.size. y up, 1 mm of cloth = 1 unit."""
    piece, cuts = spread.upright, spread.cuts
    low_x, low_y, high_x, high_y = sheet.bounds
    page = plan_page(field, sheet, printing)
    tolerance = 0.08 * sheet.scale  # a twelfth of a millimetre on paper
    fill(page, piece.outline.simplify(tolerance), facecolor=WASTE)
    fill(page, usable.simplify(tolerance), facecolor=SOUND, edgecolor=FAINT, linewidth=0.4)
    labels = Labels(page, box(low_x, low_y, high_x, high_y), [cut.shape for cut in cuts])
    _draw_blocked(page, piece)
    stroke(page, piece.outline.simplify(tolerance), INK, 0.9)
    many = len(cuts) > _MANY
    for cut in cuts:  # largest first, so that the small ones' leader lines go round the others' names
        draw_cut(
            page, cut, piece.grain, labels, one_way=piece.one_way, unit=unit, many=many, turn=spread.turn
        )
    if not cuts:
        _draw_name(page, piece, usable, labels)
    _draw_marks(page, spread.marks, labels)
    for cut in cuts:
        _draw_tapes(page, cut, unit, labels if len(cuts) <= _FEW else None)
    _name_blocked(page, piece, labels)
    draw_rulers(page, sheet.bounds, sheet.start, sheet.scale, unit)


def _draw_name(page: Page, piece: Piece, usable: MultiPolygon, labels: Labels) -> None:
    if not usable.is_empty:
        largest = max(usable.geoms, key=lambda part: part.area)
        labels.write(page, largest, ((piece.name, piece.fabric), (piece.name,)))


def _draw_blocked(page: Page, piece: Piece) -> None:
    reach = piece.outline.buffer(0.5)
    for blocked in piece.blocked:
        shape = part_within(blocked.shape, reach)
        if blocked.kind in (BlockedKind.SEAM, BlockedKind.HEM):
            stroke(page, shape, FAINT, 0.7, linestyle=(3, 1.6))
            continue
        hatch = BLOCKED_LOOK[blocked.kind].hatch
        fill(page, shape, facecolor="#cfc8ba", edgecolor=INK, linewidth=0.5, hatch=hatch)


def _name_blocked(page: Page, piece: Piece, labels: Labels) -> None:
    """The names of what is in the way, where they have room in it."""
    reach = piece.outline.buffer(0.5)
    for blocked in piece.blocked:
        parts = polygons_of(part_within(blocked.shape, reach))
        label = fit_label(page, parts[0], ((feature_name(blocked),),), sizes=(6.5, 5.5)) if parts else None
        if label is not None and label.fits and labels.free(label.box):
            labels.take(label.box)
            draw_label(page.cased("#ffffffd0"), label)


def _draw_marks(page: Page, marks: Sequence[Landmark], labels: Labels) -> None:
    """A ringed letter at each landmark, set off from it so that the point itself stays visible."""
    radius = 5.2 / page.points_per_unit
    for mark in marks:
        spot = np.array(mark.point)
        if mark.line is None:
            fill(page, Point(*spot).buffer(_SPOT / page.points_per_unit), facecolor=INK, zorder=24)
        else:
            stroke(page, mark.line, INK, 1.6, zorder=4)
        at = _beside_mark(spot, np.array(mark.outward), radius, labels)
        if at is None:
            continue
        labels.take(Point(*at).buffer(radius))
        if (off := math.dist(at, spot)) > _FAR_OFF * radius:
            stroke(page, LineString([spot, spot + (at - spot) * (1 - radius / off)]), INK, 0.6, zorder=24)
        fill(page, Point(*at).buffer(radius), facecolor=INK, edgecolor="white", linewidth=0.6, zorder=25)
        write(
            page,
            at[0],
            at[1],
            mark.letter,
            6.2,
            color="white",
            bold=True,
            zorder=26,
            va="center_baseline",
        )


def _beside_mark(spot: np.ndarray, outward: np.ndarray, radius: float, labels: Labels) -> np.ndarray | None:
    """Where a landmark's letter has room: outward of it if it can, else turned from that, else farther off.

    None where nothing is free for far around.
    """
    for off in _OFF_MARK:
        for turn in (0, 40, -40, 80, -80, 130, -130, 180):
            c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
            away = np.array([c * outward[0] - s * outward[1], s * outward[0] + c * outward[1]])
            at = spot + away * radius * off
            if labels.free(Point(*at).buffer(radius)):
                return np.asarray(at)
    return None


def _draw_tapes(page: Page, cut: CutShape, unit: Unit, labels: Labels | None) -> None:
    """The corners that the tapes lead to, and where there is room the tapes with their lengths.

    labels: what is written already, to which the lengths are added; None for no tapes.
    """
    left, bottom, right, top = cut.shape.bounds
    if labels is None and min(right - left, top - bottom) * page.points_per_unit < _SMALL:
        return
    for bearing in cut.bearings:
        _draw_bearing(page, bearing, unit, labels)


def _draw_bearing(page: Page, bearing: Bearing, unit: Unit, labels: Labels | None) -> None:
    corner = np.array(bearing.corner)
    for tape in bearing.tapes if labels is not None else ():
        assert labels is not None
        foot = np.array(tape.foot)
        line: BaseGeometry = LineString([corner, foot])
        text = format_length(tape.length, unit)
        wide = text_width(text, _TAPE_SIZE) + 2
        angle = readable(math.degrees(math.atan2(*(corner - foot)[::-1])))
        roomy = tape.length * page.points_per_unit >= wide + 4
        for part in (0.5, 0.35, 0.65, 0.22, 0.78) if roomy else ():
            x, y = corner + (foot - corner) * part
            figures = text_box(page, x, y, wide, _TAPE_SIZE * 1.25, angle)
            if labels.free(figures):
                haloed = page.cased("#fffffff0")
                write(haloed, x, y, text, _TAPE_SIZE, color=TAPE, rotation=angle, zorder=19)
                labels.take(figures)
                line = line.difference(figures)  # the line would run through the figures
                break
        stroke(page, line, TAPE, 0.7, zorder=8)
    ring = Point(*corner).buffer(_CORNER / page.points_per_unit)
    fill(page, ring, facecolor="white", edgecolor=INK, linewidth=1.0, zorder=23)


def plan_leaf(
    spread: Spread, usable: MultiPolygon, *, unit: Unit, no_larger: float = 1.0, printing: Printing = PLAIN
) -> Leaf:
    """A leaf of exactly the size the plan needs, at most PLAN_PAPER."""
    sheet = paper_for([spread.upright.outline], *PLAN_PAPER, no_larger=no_larger)
    leaf = Leaf(*sheet.size)
    draw_plan(leaf.field(), sheet, spread, usable, unit=unit, printing=printing)
    return leaf


def layout_on_plane(
    spread: Spread, usable: MultiPolygon, *, unit: Unit, no_larger: float = 1.0, printing: Printing = PLAIN
) -> tuple[bytes, str]:
    """The flat plan of one layer of a piece, drawn to scale with rulers, and its media type.

    usable: the piece's usable cloth on the plan, mm. no_larger: a scale 1 : n that is large enough.
    A vector drawing (SVG), or PNG where so many shapes would make that too large.
    """
    leaf = plan_leaf(spread, usable, unit=unit, no_larger=no_larger, printing=printing)
    return as_picture(leaf, vector=len(spread.cuts) <= _MANY)


def as_picture(leaf: Leaf, *, vector: bool = True) -> tuple[bytes, str]:
    """A leaf's bytes and media type. The same leaf gives the same bytes."""
    if vector:
        return svg_of(leaf), "image/svg+xml"
    return painting_of(leaf, _PX_PER_POINT).png(), "image/png"

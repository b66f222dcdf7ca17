"""Templates on paper: tiled PDF with a page that tells how to put it together, or one sheet for a plotter."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely.geometry import LineString, Polygon, box

from salvage.errors import UsageError
from salvage.project.project import Project
from salvage.report.cutting.chart import finished_size, item_size
from salvage.report.paper.flow import Pages
from salvage.report.pen.draw import Page, stroke, write
from salvage.report.pen.leaf import POINTS_PER_MM, Leaf
from salvage.report.pen.marks import Area, Dashes, Pen, Stroke, Words
from salvage.report.pen.pdf import pdf_of
from salvage.report.say.table import Table
from salvage.report.say.words import allowance_words, grain_words, items_of
from salvage.report.template.drawing import Drawing, Layer
from salvage.report.template.lay import HEAD, Frame, Group, Tile
from salvage.report.template.pattern import copies_words
from salvage.trade.paper import GLUED_STRIP, LONGEST_PDF_PAGE
from salvage.units import MM_PER_INCH, Unit, format_exact, format_exact_size

# Line widths in points and dashes, by the trade's conventions: cut solid, stitching dashed.
_LOOK: dict[Layer, tuple[str, float, Dashes]] = {
    Layer.CLOTH: ("#8b8f90", 0.6, ()),
    Layer.BLOCKED: ("#8b8f90", 0.6, (3, 1.6)),
    Layer.CUT: ("black", 1.0, ()),
    Layer.STITCH: ("black", 0.6, (6, 3)),
    Layer.NOTCH: ("black", 1.2, ()),
    Layer.GUIDE: ("black", 0.5, (1, 2)),
    Layer.KEPT: ("black", 0.9, (1, 1.6)),
    Layer.EDGE: ("black", 2.4, (7, 1.5, 1.5, 1.5)),
    Layer.GRAIN: ("black", 0.8, ()),
}
_GREY = "#7a7f82"
_TEST = {Unit.INCH: 4 * MM_PER_INCH}  # side of the test square; 100 mm for people of millimetres
_TEST_METRIC = 100.0
_CROSS = 5.0  # mm, half a registration cross
_MAP_SCALE, _MAP_APART = 0.1, 4.0  # of the page map, at most; mm between its groups
_MARK = 2.5  # mm, letters beside marks


def tiled_pdf(
    groups: Sequence[Group], project: Project, frame: Frame, paper: str, unit: Unit, *, strips_drawn: bool
) -> bytes:
    """Page of instructions with the map, then every sheet. strips_drawn: whether strips are among the groups."""
    first = _instructions(groups, project, frame, paper, unit, strips_drawn=strips_drawn)
    total = sum(len(group.tiles) for group in groups)
    sheets = [_sheet(group, tile, frame, total) for group in groups for tile in group.tiles]
    return pdf_of([*first, *sheets], f"{project.name}: templates")


def sheet_pdf(drawing: Drawing, unit: Unit, *, width: float | None = None) -> bytes:
    """One page as large as the drawing (or as wide as a roll), with a test square's worth of ruler below it.

    Raises UsageError where a PDF page can't be as long.
    """
    edge, ruler = 5.0, 14.0
    low_x, low_y, high_x, high_y = drawing.bounds
    long = check_side(unit)
    size = (
        max(width or 0.0, high_x - low_x + 2 * edge, long + 2 * edge + 40),
        high_y - low_y + 2 * edge + ruler,
    )
    if max(size) > LONGEST_PDF_PAGE:
        raise UsageError(
            f"the sheet would be {max(size) / 1000:.1f} m long, and a PDF page can't be longer than "
            f"{LONGEST_PDF_PAGE / 1000:.1f} m. Ask for .svg or .dxf, or a wider --roll."
        )
    leaf = Leaf(*size)
    pen = leaf.pen()
    _draw(pen, drawing, (edge - low_x, edge + ruler - low_y))
    page = Page(pen, POINTS_PER_MM)
    stroke(page, LineString([(edge, edge), (edge + long, edge)]), "black", 0.5)
    for x in (edge, edge + long):
        stroke(page, LineString([(x, edge - 2), (x, edge + 4)]), "black", 0.5)
    said = f"Check: this line is {format_exact(long, unit)} long."
    write(page, edge + 2, edge + 2.4, said, 7, ha="left", va="bottom")
    return pdf_of([leaf], drawing.name)


def check_side(unit: Unit) -> float:
    """Side of the test square, mm."""
    return _TEST.get(unit, _TEST_METRIC)


# --- instructions --------------------------------------------------------------------------------


def _instructions(
    groups: Sequence[Group], project: Project, frame: Frame, paper: str, unit: Unit, *, strips_drawn: bool
) -> list[Leaf]:
    sheets = Pages(frame.paper, f"{project.name}, templates on {paper}")
    sheets.text(f"{project.name}: templates at full size", 17, bold=True, after=2.0)
    side = check_side(unit)
    total = sum(len(group.tiles) for group in groups)
    glued = any(len(group.tiles) > 1 for group in groups)
    sheets.points(
        [
            f"Print at 100 % on {paper}, without “fit to page”. The square below must measure "
            f"{format_exact(side, unit)} on each side before you cut anything.",
            f"{total} {'sheet' if total == 1 else 'sheets'} follow this page."
            + (
                f" Sheets of one panel overlap by {format_exact(GLUED_STRIP, unit)}: trim the left and the lower edge "
                "of a sheet along its frame where a number stands outside it, lay it on that sheet so that the "
                "crosses with the same letter lie on each other, and glue."
                if glued
                else ""
            ),
            "Solid line: cut. Long dashes: stitch. Dots: folds and openings. Arrow: grain. A short line in the "
            "allowance is a notch; equal numbers come to lie on each other.",
            *_about_kept(project),
            "Check the measured size of each template against the list before you lay it on the cloth.",
        ],
        9.0,
    )
    sheets.skip(3.0)
    _square_and_map(sheets, groups, frame, unit)
    sheets.heading("What to cut", keep=25.0)
    sheets.table(_list(project, groups, unit))
    sheets.text(allowance_words(project, unit), 8.5)
    if project.strips and not strips_drawn:
        sheets.text("Strips have no template: draw them with a ruler on the cloth.", 8.5)
    sheets.finish()
    return sheets.leaves


def _about_kept(project: Project) -> list[str]:
    """What the marks of panels mean that keep something of the garment."""
    said = []
    if any(panel.around is not None for panel in project.panels):
        said.append(
            "Thick dots: what of the garment the panel is cut round, and the square in which its middle comes to lie. Feel "
            "where it is through the paper, or cut a window there, and lay the template on it."
        )
    if any(panel.edge is not None for panel in project.panels):
        said.append(
            "Thick line of dashes and dots: lies on the garment's finished edge. Nothing is added there and nothing is cut."
        )
    return said


def _list(project: Project, groups: Sequence[Group], unit: Unit) -> Table:
    where: dict[str, str] = {}
    for group in groups:
        first, last = group.tiles[0].number, group.tiles[-1].number
        for name in group.names:
            where[name] = str(first) if first == last else f"{first}–{last}"
    rows = []
    for item in items_of(project):
        finished = finished_size(item)
        rows.append(
            (
                item.name,
                copies_words(item).removeprefix("cut "),
                item.fabric,
                grain_words(item),
                format_exact_size(item_size(item), unit),
                format_exact_size(finished, unit) if finished is not None else "–",
                where.get(item.name, "ruler"),
            )
        )
    columns = ("Panel", "How many", "Fabric", "Grain", "Cut size", "Finished size", "Sheet")
    return Table(columns, (2.0, 1.7, 1.0, 1.1, 1.9, 1.9, 0.8), tuple(rows))


def _square_and_map(sheets: Pages, groups: Sequence[Group], frame: Frame, unit: Unit) -> None:
    """The square to check the printer with, and beside it small pictures of how the sheets lie, with their numbers."""
    side, beside = check_side(unit), 8.0
    room = sheets.inner - side - beside
    rows, scale = _map_rows(groups, frame, room, side)
    field = sheets.picture(sheets.inner, side + 1.0)
    page = Page(field.pen(0.0, 0.0, sheets.inner, side + 1.0, clipped=False), POINTS_PER_MM)
    stroke(page, box(0, 0, side, side), "black", 0.5)
    _draw_ticks(page, side, unit)
    cell = frame.step[0] * scale, frame.step[1] * scale
    y = side
    write(page, side + beside, y, "How the sheets lie", 9.5, ha="left", va="top", bold=True)
    y -= 6.0
    over = GLUED_STRIP * scale
    for row in rows:
        y -= max(_map_size(group, cell)[1] for group in row) + over
        x = side + beside
        for group in row:
            _map_of(page, group, (x, y), cell, scale)
            x += _map_size(group, cell)[0] + over + _MAP_APART
        y -= _MAP_APART
    sheets.y -= 2.0


def _map_rows(
    groups: Sequence[Group], frame: Frame, width: float, height: float
) -> tuple[list[list[Group]], float]:
    """The groups in rows, and the largest scale at which they have room."""
    scale = _MAP_SCALE
    while True:
        cell = frame.step[0] * scale, frame.step[1] * scale
        apart = _MAP_APART + GLUED_STRIP * scale
        rows: list[list[Group]] = [[]]
        x = 0.0
        for group in groups:
            wide = _map_size(group, cell)[0]
            if rows[-1] and x + wide > width:
                rows.append([])
                x = 0.0
            rows[-1].append(group)
            x += wide + apart
        high = sum(max(_map_size(group, cell)[1] for group in row) + apart for row in rows if row)
        wide = max((_map_size(group, cell)[0] for group in groups), default=0.0)
        if (high + 6.0 <= height and wide <= width) or scale < 0.005:
            return rows, scale
        scale *= 0.9


def _draw_ticks(page: Page, side: float, unit: Unit) -> None:
    ticks = 4 if unit is Unit.INCH else 10
    for k in range(1, ticks):
        at = side * k / ticks
        for run in (((at, 0), (at, 3)), ((0, at), (3, at))):
            stroke(page, LineString(run), "black", 0.4)
    write(page, side / 2, side / 2, f"{format_exact(side, unit)} × {format_exact(side, unit)}", 11)
    write(page, side / 2, side / 2 - 7, "measure this square first", 8)


def _map_size(group: Group, cell: tuple[float, float]) -> tuple[float, float]:
    columns = max(tile.column for tile in group.tiles) + 1
    rows = max(tile.row for tile in group.tiles) + 1
    return columns * cell[0] + 1.0, rows * cell[1] + 1.0


def _map_of(
    page: Page, group: Group, at: tuple[float, float], cell: tuple[float, float], scale: float
) -> None:
    x, y = at
    over = GLUED_STRIP * scale  # of each sheet its neighbour shows again
    for tile in group.tiles:
        sheet = box(0, 0, cell[0] + over, cell[1] + over)
        low = x + tile.column * cell[0], y + tile.row * cell[1]
        stroke(page, LineString([(px + low[0], py + low[1]) for px, py in sheet.exterior.coords]), _GREY, 0.5)
    for line in group.drawing.lines:
        if line.layer is Layer.CUT:
            points = [(x + px * scale, y + py * scale) for px, py in (*line.points, line.points[0])]
            stroke(page, LineString(points), "black", 0.5)
    for tile in group.tiles:
        middle = x + (tile.column + 0.5) * cell[0], y + (tile.row + 0.5) * cell[1]
        write(page, *middle, str(tile.number), min(9.0, 60 * scale + 3), bold=True)


# --- sheets --------------------------------------------------------------------------------------


def _sheet(group: Group, tile: Tile, frame: Frame, total: int) -> Leaf:
    leaf = Leaf(*frame.paper)
    low_x, low_y = frame.low
    within = leaf.pen((low_x, low_y, low_x + frame.size[0], low_y + frame.size[1]))
    _draw(within, group.drawing, (low_x - tile.at[0], low_y - tile.at[1]))
    page = Page(leaf.pen(), POINTS_PER_MM)
    stroke(page, box(low_x, low_y, low_x + frame.size[0], low_y + frame.size[1]), _GREY, 0.4)
    names = ", ".join(group.names)
    head = f"sheet {tile.number} of {total} · {names}"
    write(page, low_x, low_y + frame.size[1] + HEAD / 2, head[:110], 8, ha="left", color="black")
    _joints(page, group, tile, frame)
    return leaf


def _joints(page: Page, group: Group, tile: Tile, frame: Frame) -> None:
    """Registration crosses in the strips that two sheets share, and the number of the sheet beyond each edge."""
    (low_x, low_y), (width, height) = frame.low, frame.size
    half = GLUED_STRIP / 2
    beside = (
        (group.tile(tile.column + 1, tile.row), "right"),
        (group.tile(tile.column - 1, tile.row), "left"),
        (group.tile(tile.column, tile.row + 1), "top"),
        (group.tile(tile.column, tile.row - 1), "bottom"),
    )
    for other, side in beside:
        if other is None:
            continue
        lies = {
            "right": [(width - half, height * part) for part in (0.2, 0.8)],
            "left": [(half, height * part) for part in (0.2, 0.8)],
            "top": [(width * part, height - half) for part in (0.2, 0.8)],
            "bottom": [(width * part, half) for part in (0.2, 0.8)],
        }[side]
        first = min(tile.number, other.number)
        last = max(tile.number, other.number)
        for index, (x, y) in enumerate(lies):
            _cross(page, low_x + x, low_y + y, f"{first}/{last}{'ab'[index]}")
        under = side in ("left", "bottom")
        words = (
            f"trim here, lay on sheet {other.number}"
            if under
            else f"sheet {other.number} comes on this strip"
        )
        _along(page, side, words, frame)


def _cross(page: Page, x: float, y: float, name: str) -> None:
    for run in (((x - _CROSS, y), (x + _CROSS, y)), ((x, y - _CROSS), (x, y + _CROSS))):
        stroke(page, LineString(run), "black", 0.35)
    ring = LineString([(x + 1.6, y), (x, y + 1.6), (x - 1.6, y), (x, y - 1.6), (x + 1.6, y)])
    stroke(page, ring, "black", 0.35)
    write(page, x + 2.2, y + 2.6, name, _MARK * POINTS_PER_MM * 0.8, ha="left")


def _along(page: Page, side: str, words: str, frame: Frame) -> None:
    """A line of small words just outside the frame."""
    (low_x, low_y), (width, height) = frame.low, frame.size
    places = {
        "right": (low_x + width + 2.2, low_y + height / 2, 90),
        "left": (low_x - 2.2, low_y + height / 2, 90),
        "top": (low_x + width * 0.75, low_y + height + 1.8, 0),
        "bottom": (low_x + width / 2, low_y - 2.2, 0),
    }
    x, y, rotation = places[side]
    write(page, x, y, words, 6.5, rotation=rotation, color="#40464a")


def _draw(pen: Pen, drawing: Drawing, shift: tuple[float, float]) -> None:
    """Lines and texts, moved."""
    for line in drawing.lines:
        colour, width, dashes = _LOOK[line.layer]
        points = np.array([*line.points, line.points[0]] if line.closed else line.points) + shift
        if line.filled:
            pen.put(Area((Polygon(points),), colour))
        pen.put(Stroke((points,), colour, width, dashes))
    for text in drawing.texts:
        x, y = text.at[0] + shift[0], text.at[1] + shift[1]
        size = text.height * POINTS_PER_MM
        pen.put(Words(x, y, text.text, size, "black", text.bold, rotation=text.rotation, anchored=True))

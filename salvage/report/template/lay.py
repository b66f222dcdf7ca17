"""Templates side by side: on sheets of the printer's paper, and on one sheet for a plotter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon, box

from salvage.errors import UsageError
from salvage.report.template.drawing import Drawing, moved, together, turned
from salvage.report.template.pattern import worded
from salvage.trade.paper import GLUED_STRIP, PAPER, PRINTER_MARGIN
from salvage.units import Unit, format_length

APART = 6.0  # mm between two templates, so that one can be cut out without the other
HEAD = 6.0  # mm above the frame for the sheet's number


@dataclass(frozen=True, slots=True)
class Tile:
    """One sheet of paper. number: from 1; at: lower left corner of its frame in the group's drawing, mm.

    column, row: in its group, from the lower left.
    """

    number: int
    column: int
    row: int
    at: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Group:
    """Sheets that are glued together, or one alone. drawing: with (0, 0) at the lower left of tile (0, 0)."""

    drawing: Drawing
    names: tuple[str, ...]
    tiles: tuple[Tile, ...]

    def tile(self, column: int, row: int) -> Tile | None:
        return next((each for each in self.tiles if (each.column, each.row) == (column, row)), None)


@dataclass(frozen=True, slots=True)
class Frame:
    """What of a sheet is drawn in. paper: width and height, mm; low: lower left corner of the frame on it."""

    paper: tuple[float, float]

    @property
    def low(self) -> tuple[float, float]:
        return PRINTER_MARGIN, PRINTER_MARGIN

    @property
    def size(self) -> tuple[float, float]:
        return self.paper[0] - 2 * PRINTER_MARGIN, self.paper[1] - 2 * PRINTER_MARGIN - HEAD

    @property
    def step(self) -> tuple[float, float]:
        """From one sheet to the next: the frame less the strip that is glued over."""
        return self.size[0] - GLUED_STRIP, self.size[1] - GLUED_STRIP


def frame_of(paper: str) -> Frame:
    width, height = PAPER[paper]
    return Frame((width, height))


def tiled(patterns: Sequence[Drawing], frame: Frame) -> tuple[Group, ...]:
    """Templates on sheets: small ones share a sheet, large ones take several; no sheet is empty."""
    small = [worded(each) for pattern in patterns if _fits(each := _lying(pattern, frame), frame)]
    large = [each for each in patterns if not _fits(_lying(each, frame), frame)]
    groups: list[Group] = []
    number = 1
    for drawing in large:
        group = _large_group(drawing, frame, number)
        groups.append(group)
        number += len(group.tiles)
    for page in _shelves(small, *frame.size):
        names = tuple(each.name for each in page)
        groups.append(Group(together(", ".join(names), page), names, (Tile(number, 0, 0, (0.0, 0.0)),)))
        number += 1
    return tuple(groups)


def _fits(drawing: Drawing, frame: Frame) -> bool:
    return all(long + APART <= room for long, room in zip(drawing.size, frame.size, strict=True))


def _lying(drawing: Drawing, frame: Frame) -> Drawing:
    """Turned a quarter where it fits a sheet only so."""
    across = turned(drawing, 90)
    return across if not _fits(drawing, frame) and _fits(across, frame) else drawing


def _large_group(drawing: Drawing, frame: Frame, number: int) -> Group:
    """Over as few sheets as it can be, upright or turned a quarter."""
    ways = [_spread(each, frame) for each in (drawing, turned(drawing, 90))]
    placed, cells = min(ways, key=lambda way: len(way[1]))
    placed = _worded_on_a_sheet(placed, cells, frame)
    tiles = tuple(
        Tile(number + k, column, row, (column * frame.step[0], row * frame.step[1]))
        for k, (column, row) in enumerate(cells)
    )
    return Group(placed, (drawing.name,), tiles)


def _spread(drawing: Drawing, frame: Frame) -> tuple[Drawing, list[tuple[int, int]]]:
    """The drawing from the lower left of its sheets on, and which sheets, top row first, it lies on."""
    (width, height), (step_x, step_y) = drawing.size, frame.step
    columns = max(1, math.ceil((width + APART - GLUED_STRIP) / step_x))
    rows = max(1, math.ceil((height + APART - GLUED_STRIP) / step_y))
    low_x, low_y, _, _ = drawing.bounds
    placed = moved(drawing, APART / 2 - low_x, APART / 2 - low_y)
    cells = [
        (column, row)
        for row in reversed(range(rows))
        for column in range(columns)
        if placed.outline.intersects(_own(column, row, columns, rows, frame))
    ]
    return placed, cells


def _worded_on_a_sheet(drawing: Drawing, cells: Sequence[tuple[int, int]], frame: Frame) -> Drawing:
    """With its words on one sheet, that with most room for them, clear of the strips and their crosses."""
    assert drawing.wording is not None
    inner = [
        box(
            column * frame.step[0] + 2 * GLUED_STRIP,
            row * frame.step[1] + 2 * GLUED_STRIP,
            (column + 1) * frame.step[0] - GLUED_STRIP,
            (row + 1) * frame.step[1] - GLUED_STRIP,
        )
        for column, row in cells
    ]
    room = drawing.wording.room
    return worded(drawing, max(inner, key=lambda each: float(each.intersection(room).area)))


def _own(column: int, row: int, columns: int, rows: int, frame: Frame) -> Polygon:
    """What only this sheet shows, the strip that its neighbour shows again left to the neighbour."""
    (x, y), (dx, dy) = (column * frame.step[0], row * frame.step[1]), frame.step
    right = x + (dx if column < columns - 1 else frame.size[0])
    top = y + (dy if row < rows - 1 else frame.size[1])
    return box(x, y, right, top)


def _shelves(drawings: Sequence[Drawing], width: float, height: float) -> list[list[Drawing]]:
    """In rows on pages of that size, highest first; each drawing fits a page."""
    pages: list[list[Drawing]] = []
    x = width
    y = height
    shelf = 0.0
    for drawing in sorted(drawings, key=lambda each: (-each.size[1], each.name)):
        wide, high = drawing.size
        if x + APART / 2 + wide > width:
            x, y, shelf = APART / 2, y + shelf + APART, high
            if y + high + APART / 2 > height or not pages:
                pages.append([])
                y = APART / 2
        low_x, low_y, _, _ = drawing.bounds
        # rows are filled from the top of the page
        pages[-1].append(moved(drawing, x - low_x, height - y - high - low_y))
        x += wide + APART
    return pages


def one_sheet(name: str, drawings: Sequence[Drawing], width: float, unit: Unit) -> Drawing:
    """All on one sheet no wider than width, mm, its lower left corner at (0, 0). Raises UsageError if one is too wide.

    A template keeps its own direction where it can, so that grain lines run along the roll.
    """
    lying = []
    for drawing in drawings:
        upright = drawing.size[0] + APART <= width
        across = turned(drawing, 90)
        if not upright and across.size[0] + APART > width:
            need = format_length(min(drawing.size) + APART, unit)
            raise UsageError(f"{drawing.name} needs a sheet {need} wide. Give a wider one with --roll.")
        lying.append(worded(drawing if upright else across))
    high = sum(each.size[1] + APART for each in lying) + APART
    (page,) = _shelves(lying, width, high)
    whole = together(name, page)
    low_x, low_y, _, _ = whole.bounds
    return moved(whole, APART / 2 - low_x, APART / 2 - low_y)

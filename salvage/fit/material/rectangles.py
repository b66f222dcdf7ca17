"""Clear rectangles in cloth: the largest there is, the largest of a shape, the longest of a width.

Each is found on a raster laid along the grain, then grown to the cloth's true edge with exact geometry.
What is returned lies within the cloth; it may be a little smaller than the very largest, never larger.
Source of the largest rectangle in a raster: bars widened row by row, as commonly taught (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon, box

_CELLS = 260  # along the longer side of a cloth's box
_FINEST = 0.5  # mm
_MOST_RUNS = 40
_GAP_HAIR = 1e-6  # mm more than the gap, so that rounding never makes it less
_SHIFT = 6  # bits of a pixel kept when drawing
_HAIR = 1e-7  # mm by which rectangles are taken in, so that rounding never puts them over the edge


@dataclass(frozen=True, slots=True)
class ClearRectangle:
    """A clear rectangle. width across, length along the direction asked for; polygon on the plane."""

    width: float
    length: float
    polygon: Polygon

    @property
    def area(self) -> float:
        """mm^2."""
        return self.width * self.length


@dataclass(frozen=True, slots=True)
class _Raster:
    """free[row, column]: cells (row upward) that lie within the turned cloth; origin of cell (0, 0)."""

    free: NDArray[np.bool_]
    left: float
    bottom: float
    cell: float


def largest_rectangle(polygon: Polygon, grain: float = 90.0) -> ClearRectangle | None:
    """The largest clear rectangle with its length along the grain; None where the cloth is too thin."""
    turned = _turned(polygon, grain)
    raster = _raster(turned, _cell_size(turned))
    area, row, column, height, width = _largest_in(raster.free)
    if area == 0:
        return None
    return _finish(turned, grain, raster, (column, row, column + width, row + height), grow="both")


def largest_of_ratio(polygon: Polygon, ratio: float, grain: float = 90.0) -> ClearRectangle | None:
    """The largest clear rectangle whose length along the grain is `ratio` times its width."""
    turned = _turned(polygon, grain)
    raster = _raster(turned, _cell_size(turned))
    sums = _sums(raster.free)
    low, high, found = 0, min(raster.free.shape[1], int(raster.free.shape[0] / ratio)) + 1, None
    while high - low > 1:
        width = (low + high) // 2
        corner = _window(sums, width, max(1, int(np.ceil(width * ratio))))
        if corner is None:
            high = width
        else:
            low, found = width, (*corner, width, max(1, int(np.ceil(width * ratio))))
    if found is None:
        return None
    column, row, width, height = found
    ends = (column, row, column + width, row + height)
    whole = _finish(turned, grain, raster, ends, grow="both")
    if whole is None:
        return None
    width_mm = min(whole.width, whole.length / ratio)
    return _cut_down(whole, grain, width_mm, width_mm * ratio)


def longest_run(polygon: Polygon, width: float, grain: float = 90.0) -> ClearRectangle | None:
    """The longest clear rectangle of this width along the grain; None if there is none of that width."""
    turned = _turned(polygon, grain)
    left, _, right, _ = turned.bounds
    if right - left < width - 1e-9:
        return None
    across = max(1, int(np.ceil(width / _cell_size(turned))))
    raster = _raster(turned, max(width / across, _FINEST))
    across = max(1, int(np.ceil(width / raster.cell - 1e-9)))
    if raster.free.shape[1] < across:
        return None
    sums = np.cumsum(np.pad(raster.free, ((0, 0), (1, 0))), axis=1, dtype=np.int32)
    clear = (sums[:, across:] - sums[:, :-across]) == across
    row, column, length = _longest_up(clear)
    if length == 0:
        return None
    ends = (column, row, column + across, row + length)
    found = _finish(turned, grain, raster, ends, grow="length", width=width)
    return found


def runs(
    polygon: Polygon, width: float, grain: float, *, shortest: float, gap: float
) -> list[ClearRectangle]:
    """Clear rectangles of this width one after the other, the longest first, gap apart."""
    found: list[ClearRectangle] = []
    rest: list[tuple[ClearRectangle, Polygon]] = []
    parts = [polygon]
    while len(found) < _MOST_RUNS:
        for part in parts:
            run = longest_run(part, width, grain) if part.area >= width * shortest else None
            if run is not None and run.length >= shortest:
                rest.append((run, part))
        if not rest:
            break
        best = max(range(len(rest)), key=lambda index: rest[index][0].length)
        run, part = rest.pop(best)
        found.append(run)
        taken = part.difference(run.polygon.buffer(gap + _GAP_HAIR, join_style="mitre"))
        parts = [each for each in getattr(taken, "geoms", [taken]) if isinstance(each, Polygon)]
    return found


def _turned(polygon: Polygon, grain: float) -> Polygon:
    turned = affinity.rotate(polygon, 90.0 - grain, origin=(0, 0))
    assert isinstance(turned, Polygon)
    return turned


def _cell_size(polygon: Polygon) -> float:
    left, bottom, right, top = polygon.bounds
    return max(_FINEST, max(right - left, top - bottom) / _CELLS)


def _raster(polygon: Polygon, cell: float) -> _Raster:
    """Cells that lie within the polygon let out by a hair, but for corners cut by under a tenth of one."""
    let_out = polygon.buffer(cell * 0.02, join_style="mitre")
    if not isinstance(let_out, Polygon):
        let_out = polygon
    left, bottom, right, top = polygon.bounds
    columns, rows = int((right - left) / cell) + 2, int((top - bottom) / cell) + 2
    image = np.zeros((rows, columns), np.uint8)
    rings = [np.asarray(ring.coords)[:, :2] for ring in (let_out.exterior, *let_out.interiors)]
    origin = np.array([left, bottom])
    fixed = [np.round(((ring - origin) / cell - 0.5) * 2**_SHIFT).astype(np.int32) for ring in rings]
    cv2.fillPoly(image, fixed, 1, shift=_SHIFT)  # even-odd, so holes stay empty
    for ring in rings:
        _clear_edge(image, (ring - origin) / cell)
    return _Raster(image.astype(bool), left, bottom, cell)


def _clear_edge(image: NDArray[np.uint8], ring: NDArray[np.float64]) -> None:
    line = shapely.segmentize(shapely.linestrings(ring), 0.1)
    cells = np.floor(shapely.get_coordinates(line)).astype(int)
    rows, columns = image.shape
    kept = (cells[:, 0] >= 0) & (cells[:, 0] < columns) & (cells[:, 1] >= 0) & (cells[:, 1] < rows)
    image[cells[kept, 1], cells[kept, 0]] = 0


def _largest_in(free: NDArray[np.bool_]) -> tuple[int, int, int, int, int]:
    """(area, row, column, height, width) of the largest all-true rectangle; row and column its least.

    Row after row: over each cell stands a bar of free ones, and `first` to `last` is how far it can be widened
    without being cut lower, which is what it was in the row before, less what this row shuts off. Of equal ones
    the one that ends lowest, then furthest left, then the highest.
    """
    columns = free.shape[1]
    if not free.any():
        return 0, 0, 0, 0, 0
    at = np.arange(columns)
    row_number = np.arange(len(free))[:, None]
    bar = row_number - np.maximum.accumulate(np.where(free, -1, row_number), axis=0)
    # How far this row alone lets go; made below, from row to row, into how far all rows of the bar do.
    first = np.maximum.accumulate(np.where(free, 0, at + 1), axis=1)
    last = np.minimum.accumulate(np.where(free, columns, at)[:, ::-1], axis=1)[:, ::-1].copy()
    first[~free], last[~free] = 0, columns
    for row in range(1, len(free)):
        np.maximum(first[row], first[row - 1], out=first[row], where=free[row])
        np.minimum(last[row], last[row - 1], out=last[row], where=free[row])
    area = bar * (last - first)
    most = int(area.max())
    row = int(area.max(axis=1).argmax())
    among = np.flatnonzero(area[row] == most)
    k = among[np.lexsort((-bar[row, among], last[row, among]))[0]]
    height, left = int(bar[row, k]), int(first[row, k])
    return most, row - height + 1, left, height, int(last[row, k]) - left


def _longest_up(clear: NDArray[np.bool_]) -> tuple[int, int, int]:
    """(row, column, length) of the longest run of true cells up a column."""
    if not clear.any():
        return 0, 0, 0
    at = np.arange(clear.shape[0], dtype=np.int32)[:, None]
    length = at - np.maximum.accumulate(np.where(clear, np.int32(-1), at), axis=0)
    row, column = (int(each) for each in np.unravel_index(length.argmax(), length.shape))
    longest = int(length[row, column])
    return row - longest + 1, column, longest


def _sums(free: NDArray[np.bool_]) -> NDArray[np.int64]:
    sums = np.zeros((free.shape[0] + 1, free.shape[1] + 1), np.int64)
    sums[1:, 1:] = free.cumsum(0).cumsum(1)
    return sums


def _window(sums: NDArray[np.int64], width: int, height: int) -> tuple[int, int] | None:
    """(column, row) of a window of that many cells that is all free."""
    rows, columns = sums.shape
    if width >= columns or height >= rows:
        return None
    inside = sums[height:, width:] - sums[:-height, width:] - sums[height:, :-width] + sums[:-height, :-width]
    index = int(inside.argmax())
    row, column = divmod(index, inside.shape[1])
    return (column, row) if inside[row, column] == width * height else None


def _finish(
    turned: Polygon,
    grain: float,
    raster: _Raster,
    ends: Sequence[int],
    *,
    grow: str,
    width: float | None = None,
) -> ClearRectangle | None:
    """The rectangle of cells as mm, made to lie within the cloth and then as large as it will go there."""
    x0, x1 = (raster.left + raster.cell * ends[i] for i in (0, 2))
    y0, y1 = (raster.bottom + raster.cell * ends[i] for i in (1, 3))
    if width is not None:
        x1 = x0 + width
    shapely.prepare(turned)  # many questions are asked of it
    sides = _taken_in(turned, [x0, y0, x1, y1], raster.cell, keep_width=width is not None)
    if sides is None:
        return None
    reach = 2 * raster.cell
    for index in (1, 3) if grow == "length" else (0, 2, 1, 3, 0, 2):
        sides[index] = _pushed(turned, sides, index, reach if grow == "both" else 4 * reach)
    x0, y0, x1, y1 = sides
    if width is None:
        x0, x1 = x0 + _HAIR, x1 - _HAIR
    y0, y1 = y0 + _HAIR, y1 - _HAIR
    back = affinity.rotate(box(x0, y0, x1, y1), grain - 90.0, origin=(0, 0))
    return ClearRectangle(x1 - x0, y1 - y0, back)


def _taken_in(turned: Polygon, sides: list[float], cell: float, *, keep_width: bool) -> list[float] | None:
    """The rectangle, moved or taken in by up to a cell and a half so that the cloth covers it."""
    x0, y0, x1, y1 = sides
    if keep_width:
        for inset in (0.0, 0.1, 0.25, 0.5, 1.0, 1.5):
            for move in (0.0, 0.05, -0.05, 0.1, -0.1, 0.25, -0.25, 0.5, -0.5):
                tried = [x0 + move * cell, y0 + inset * cell, x1 + move * cell, y1 - inset * cell]
                if tried[1] < tried[3] and shapely.covers(turned, shapely.box(*tried)):
                    return tried
        return None
    for inset in (0.0, 0.05, 0.1, 0.2, 0.4, 0.7, 1.0, 1.5):
        by = inset * cell
        tried = [x0 + by, y0 + by, x1 - by, y1 - by]
        if tried[0] < tried[2] and tried[1] < tried[3] and shapely.covers(turned, shapely.box(*tried)):
            return tried
    return None


def _pushed(turned: Polygon, sides: list[float], index: int, reach: float) -> float:
    """Where one side can go, outward by at most `reach`, with the cloth still covering the rectangle."""
    outward = -1.0 if index < 2 else 1.0
    start = sides[index]
    low, high = 0.0, reach
    for _ in range(18):
        tried = list(sides)
        middle = high if low == 0.0 and high == reach and _ == 0 else (low + high) / 2
        tried[index] = start + outward * middle
        if shapely.covers(turned, shapely.box(*tried)):
            low = middle
            if middle == reach:
                break
        else:
            high = middle
    return start + outward * low


def _cut_down(whole: ClearRectangle, grain: float, width: float, length: float) -> ClearRectangle:
    left, bottom, _, _ = _turned(whole.polygon, grain).bounds
    back = affinity.rotate(box(left, bottom, left + width, bottom + length), grain - 90.0, origin=(0, 0))
    return ClearRectangle(width, length, back)

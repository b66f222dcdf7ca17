"""Pages of paper filled from the top: headings, paragraphs, tables and pictures, one below the other."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import LineString

from salvage.report.pen.draw import PLAIN, Page, Printing, shortened, stroke, wrap, write
from salvage.report.pen.leaf import POINTS_PER_MM, Field, Leaf
from salvage.report.pen.palette import INK
from salvage.report.say.table import Table

MARGIN = 15.0  # mm
_FOOT = 9.0  # mm kept for the page number
_HEADING = 13.5  # points
_TIGHT_GAPS, _TIGHT_LETTERS = 0.4, 0.95
_LARGE_ENOUGH = 13.0  # points; letters that large are not made larger in large print
_LEADING = 1.32  # line to line, in sizes of the letters


class Pages:
    """Pages of one paper size, filled from the top; a cursor, and a new page where the old one is full.

    width, height: of the paper, mm. Page coordinates are mm, y up. tight: a little less of everything, to save a
    page. leaves: the pages that are done; fills: how full each became, 0 to 1.
    """

    def __init__(
        self,
        size: tuple[float, float],
        foot: str,
        printing: Printing = PLAIN,
        *,
        tight: bool = False,
    ) -> None:
        self.width, self.height = size
        self.printing = printing
        self.tight = tight
        self.leaves: list[Leaf] = []
        self.fills: list[float] = []
        self._foot = foot
        self._leaf: Leaf | None = None
        self._page: Page | None = None
        self.y = 0.0

    @property
    def inner(self) -> float:
        """Width between the margins, mm."""
        return self.width - 2 * MARGIN

    @property
    def left_on_page(self) -> float:
        """Height left above the foot, mm."""
        return self.y - MARGIN - _FOOT if self._page is not None else 0.0

    @property
    def full_height(self) -> float:
        """Height of an empty page between head and foot, mm."""
        return self.height - 2 * MARGIN - _FOOT

    def page(self) -> Page:
        """The page under the cursor; begins one if there is none."""
        if self._page is None:
            self._begin()
        assert self._page is not None
        return self._page

    def _begin(self) -> None:
        self.finish()
        self._leaf = Leaf(self.width, self.height)
        self._page = Page(self._leaf.pen(), POINTS_PER_MM, grey=self.printing.grey)
        self.y = self.height - MARGIN
        foot = shortened(self._foot, (self.inner - 25) * POINTS_PER_MM, 7.5)
        write(self._page, MARGIN, MARGIN, foot, 7.5, ha="left", va="bottom", color="#59646c")
        number = f"page {len(self.leaves) + 1}"
        write(self._page, self.width - MARGIN, MARGIN, number, 7.5, ha="right", va="bottom", color="#59646c")

    def finish(self) -> None:
        """Put the page to those that are done."""
        if self._leaf is not None:
            self.fills.append(1.0 - self.left_on_page / self.full_height)
            self.leaves.append(self._leaf)
        self._leaf = self._page = None

    def need(self, height: float) -> None:
        """Begin a new page unless so many mm are left."""
        if self._page is None or self.left_on_page < height:
            self._begin()

    def skip(self, height: float) -> None:
        """Leave a gap, but not at the head of a page."""
        if self._page is not None and self.y < self.height - MARGIN:
            self.y -= height * (_TIGHT_GAPS if self.tight else 1.0)

    def text(
        self, text: str, size: float = 9.5, *, bold: bool = False, colour: str = INK, indent: float = 0.0,
        mark: str = "", after: float = 1.5, keep: float = 0.0,
    ) -> None:  # fmt: skip
        """A paragraph. mark: hung in the indent before its first line. keep: mm to keep on the page after it."""
        size *= self.printing.letters if size < _LARGE_ENOUGH else 1.0
        size *= _TIGHT_LETTERS if self.tight else 1.0
        step = size * _LEADING / POINTS_PER_MM
        rows = wrap(text, (self.inner - indent) * POINTS_PER_MM, size, bold=bold)
        self.need(step * min(len(rows), 3) + keep)
        for index, row in enumerate(rows):
            self.need(step)
            page = self.page()
            self.y -= step
            write(page, MARGIN + indent, self.y, row, size, ha="left", va="baseline", color=colour, bold=bold)
            if mark and index == 0:
                write(page, MARGIN, self.y, mark, size, ha="left", va="baseline", color=colour, bold=True)
        self.y -= after

    def heading_height(self, text: str) -> float:
        """What a heading takes, mm."""
        rows = len(wrap(text, self.inner * POINTS_PER_MM, _HEADING, bold=True))
        return 5.0 + rows * _HEADING * _LEADING / POINTS_PER_MM + 1.2 + 2.5

    def heading(self, text: str, keep: float = 25.0) -> None:
        """A section's title with a rule under it, kept with what follows."""
        self.skip(5.0)
        self.text(text, _HEADING, bold=True, after=1.2, keep=keep)
        stroke(self.page(), LineString([(MARGIN, self.y), (self.width - MARGIN, self.y)]), INK, 1.0)
        self.y -= 2.5

    def points(self, texts: Sequence[str], size: float = 9.5) -> None:
        """A list."""
        for text in texts:
            self.text(text, size, indent=4.0, mark="–")

    def table_start(self, table: Table, size: float = 8.0) -> float:
        """Height of a table's head and of its first rows, mm: what its title is kept with."""
        size *= self.printing.letters * (_TIGHT_LETTERS if self.tight else 1.0)
        widths = self._widths(table)
        rows = [_cells(row, widths, size) for row in table.rows[:2]]
        head = _cells(table.columns, widths, size - 0.6, bold=True)
        return _row_height(head, size - 0.6) + sum(_row_height(cells, size) for cells in rows)

    def _widths(self, table: Table) -> list[float]:
        unit = self.inner / sum(table.weights)
        return [weight * unit for weight in table.weights]

    def table(self, table: Table, size: float = 8.0) -> None:
        """A table; its head is repeated on each page, and no row stands alone before or after a break."""
        size *= self.printing.letters * (_TIGHT_LETTERS if self.tight else 1.0)
        widths = self._widths(table)
        head = _cells(table.columns, widths, size - 0.6, bold=True)
        rows = [_cells(row, widths, size) for row in table.rows]
        heights = [_row_height(cells, size) for cells in rows]
        head_height = _row_height(head, size - 0.6)
        first = 0
        while first < len(rows) or not rows:
            room = self.left_on_page - head_height if self._page is not None else 0.0
            count = _rows_that_fit(heights[first:], room)
            if count == 0 or (count == 1 and len(rows) - first > 1):
                self._begin()
                count = max(1, _rows_that_fit(heights[first:], self.full_height - head_height))
            self._row(head, widths, size - 0.6, bold=True)
            for cells in rows[first : first + count]:
                self._row(cells, widths, size)
            first += count
            if not rows:
                break
        self.y -= 2.0

    def _row(
        self, cells: list[list[str]], widths: Sequence[float], size: float, *, bold: bool = False
    ) -> None:
        height = _row_height(cells, size)
        self.need(height)
        page, step = self.page(), size * _LEADING / POINTS_PER_MM
        x = MARGIN
        for column, (rows, width) in enumerate(zip(cells, widths, strict=True)):
            for index, text in enumerate(rows):
                y = self.y - 1.2 - (index + 0.78) * step
                write(page, x, y, text, size, ha="left", va="baseline", bold=bold or column == 0)
            x += width
        self.y -= height
        rule = LineString([(MARGIN, self.y), (self.width - MARGIN, self.y)])
        stroke(page, rule, INK if bold else "#c9c4b8", 0.9 if bold else 0.4)

    def picture(self, width: float, height: float) -> Field:
        """A field of exactly so many mm under the cursor, in the middle of the page."""
        self.need(height)
        self.page()
        assert self._leaf is not None
        self.y -= height
        return self._leaf.field((self.width - width) / 2, self.y, width, height)


def _rows_that_fit(heights: Sequence[float], room: float) -> int:
    """How many rows to set before the next page: all that have room, but two rather than one are left for it."""
    count, used = 0, 0.0
    for height in heights:
        if used + height > room:
            break
        used += height
        count += 1
    return count - 1 if count == len(heights) - 1 and count > 2 else count


def _cells(
    row: Sequence[str], widths: Sequence[float], size: float, *, bold: bool = False
) -> list[list[str]]:
    return [
        wrap(cell, (width - 2.0) * POINTS_PER_MM, size, bold=bold or column == 0)
        for column, (cell, width) in enumerate(zip(row, widths, strict=True))
    ]


def _row_height(cells: Sequence[Sequence[str]], size: float) -> float:
    return max(len(rows) for rows in cells) * size * _LEADING / POINTS_PER_MM + 2.4

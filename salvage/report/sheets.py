"""The fit report as a PDF for the cutting table: vector plans to a true scale, tables that break over pages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from shapely.geometry import LineString

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer
from salvage.photo.photo import Photo
from salvage.project.project import Project
from salvage.report.content import Content, Table, content
from salvage.report.draw import Page, quiet_glyphs, shortened, stroke, text_width, wrap, write
from salvage.report.figures import PlanFigure, common_scale, photo_figures, plan_figures
from salvage.report.palette import INK, VERDICT_COLOUR
from salvage.report.picture import OnPhoto, draw_ground, draw_layout, ground_of
from salvage.report.plan import beside_piece, draw_plan, sheet_for
from salvage.report.words import MARK
from salvage.trade.paper import PAPER as PAPER_SIZES
from salvage.units import MM_PER_INCH, Unit

_MARGIN = 15.0  # mm
_FOOT = 9.0  # mm kept for the page number
_POINTS_PER_MM = 72 / MM_PER_INCH
_LEADING = 1.32  # line to line, in sizes of the letters
_PHOTO_PX = 1100  # longer side of a photograph: 180 mm at 155 dots an inch


class Sheets:
    """Pages of one paper size, filled from the top; a cursor, and a new page where the old one is full.

    width, height: of the paper, mm. Page coordinates are mm, y up.
    """

    def __init__(self, pages: PdfPages, size: tuple[float, float], foot: str) -> None:
        self.width, self.height = size
        self._pages = pages
        self._foot = foot
        self._count = 0
        self._figure: Figure | None = None
        self._page: Page | None = None
        self.y = 0.0

    @property
    def inner(self) -> float:
        """Width between the margins, mm."""
        return self.width - 2 * _MARGIN

    @property
    def left_on_page(self) -> float:
        """Height left above the foot, mm."""
        return self.y - _MARGIN - _FOOT if self._page is not None else 0.0

    @property
    def full_height(self) -> float:
        """Height of an empty page between head and foot, mm."""
        return self.height - 2 * _MARGIN - _FOOT

    def page(self) -> Page:
        """The page under the cursor; begins one if there is none."""
        if self._page is None:
            self._begin()
        assert self._page is not None
        return self._page

    def _begin(self) -> None:
        self.finish()
        self._count += 1
        self._figure = Figure(
            figsize=(self.width / MM_PER_INCH, self.height / MM_PER_INCH), facecolor="white"
        )
        axes = self._figure.add_axes((0, 0, 1, 1))
        axes.set_xlim(0, self.width)
        axes.set_ylim(0, self.height)
        axes.set_axis_off()
        self._page = Page(axes, _POINTS_PER_MM)
        self.y = self.height - _MARGIN
        foot = shortened(self._foot, (self.inner - 25) * _POINTS_PER_MM, 7.5)
        write(self._page, _MARGIN, _MARGIN, foot, 7.5, ha="left", va="bottom", color="#59646c")
        number = f"page {self._count}"
        write(
            self._page, self.width - _MARGIN, _MARGIN, number, 7.5, ha="right", va="bottom", color="#59646c"
        )

    def finish(self) -> None:
        """Write the page out."""
        if self._figure is not None:
            with quiet_glyphs():
                self._pages.savefig(self._figure)
        self._figure = self._page = None

    def need(self, height: float) -> None:
        """Begin a new page unless so many mm are left."""
        if self._page is None or self.left_on_page < height:
            self._begin()

    def skip(self, height: float) -> None:
        """Leave a gap, but not at the head of a page."""
        if self._page is not None and self.y < self.height - _MARGIN:
            self.y -= height

    def text(
        self, text: str, size: float = 9.5, *, bold: bool = False, colour: str = INK, indent: float = 0.0,
        mark: str = "", after: float = 1.5, keep: float = 0.0,
    ) -> None:  # fmt: skip
        """A paragraph. mark: hung in the indent before its first line. keep: mm to keep on the page after it."""
        step = size * _LEADING / _POINTS_PER_MM
        rows = wrap(text, (self.inner - indent) * _POINTS_PER_MM, size, bold=bold)
        self.need(step * min(len(rows), 3) + keep)
        for index, row in enumerate(rows):
            self.need(step)
            page = self.page()
            self.y -= step
            weight = "bold" if bold else "normal"
            write(
                page,
                _MARGIN + indent,
                self.y,
                row,
                size,
                ha="left",
                va="baseline",
                color=colour,
                weight=weight,
            )
            if mark and index == 0:
                write(
                    page, _MARGIN, self.y, mark, size, ha="left", va="baseline", color=colour, weight="bold"
                )
        self.y -= after

    def heading(self, text: str, keep: float = 25.0) -> None:
        """A section's title with a rule under it, kept with what follows."""
        self.skip(5.0)
        self.text(text, 13.5, bold=True, after=1.2, keep=keep)
        stroke(self.page(), LineString([(_MARGIN, self.y), (self.width - _MARGIN, self.y)]), INK, 1.0)
        self.y -= 2.5

    def points(self, texts: Sequence[str], size: float = 9.5) -> None:
        """A list."""
        for text in texts:
            self.text(text, size, indent=4.0, mark="–")

    def table(self, table: Table, size: float = 8.0) -> None:
        """A table; its head is repeated on each page."""
        unit = self.inner / sum(table.weights)
        widths = [weight * unit for weight in table.weights]
        head = _cells(table.columns, widths, size - 0.6, bold=True)
        self._row(head, widths, size - 0.6, bold=True)
        for row in table.rows:
            cells = _cells(row, widths, size)
            if self.left_on_page < _row_height(cells, size):
                self._begin()
                self._row(head, widths, size - 0.6, bold=True)
            self._row(cells, widths, size)
        self.y -= 2.0

    def _row(
        self, cells: list[list[str]], widths: Sequence[float], size: float, *, bold: bool = False
    ) -> None:
        height = _row_height(cells, size)
        self.need(height)
        page, step = self.page(), size * _LEADING / _POINTS_PER_MM
        x = _MARGIN
        for column, (rows, width) in enumerate(zip(cells, widths, strict=True)):
            weight = "bold" if bold or column == 0 else "normal"
            for index, text in enumerate(rows):
                y = self.y - 1.2 - (index + 0.78) * step
                write(page, x, y, text, size, ha="left", va="baseline", weight=weight)
            x += width
        self.y -= height
        rule = LineString([(_MARGIN, self.y), (self.width - _MARGIN, self.y)])
        stroke(page, rule, INK if bold else "#c9c4b8", 0.9 if bold else 0.4)

    def picture(self, width: float, height: float) -> Axes:
        """Axes of exactly so many mm under the cursor, in the middle of the page."""
        self.need(height)
        self.page()
        assert self._figure is not None
        left = (self.width - width) / 2
        self.y -= height
        return self._figure.add_axes(
            (left / self.width, self.y / self.height, width / self.width, height / self.height)
        )


def _cells(
    row: Sequence[str], widths: Sequence[float], size: float, *, bold: bool = False
) -> list[list[str]]:
    return [
        wrap(cell, (width - 2.0) * _POINTS_PER_MM, size, bold=bold or column == 0)
        for column, (cell, width) in enumerate(zip(row, widths, strict=True))
    ]


def _row_height(cells: Sequence[Sequence[str]], size: float) -> float:
    return max(len(rows) for rows in cells) * size * _LEADING / _POINTS_PER_MM + 2.4


def fit_report_pdf(
    answer: Answer,
    garments: Sequence[Garment],
    project: Project,
    *,
    photos: Mapping[str, Photo],
    planes: Mapping[str, OnPhoto],
    unit: Unit,
    paper: str | None = None,
) -> bytes:
    """The fit report as PDF. photos, planes: as for `page.fit_report_html`.

    paper: a name of salvage.trade.paper; Letter for people of inches and A4 for others unless told.
    """
    said = content(answer, garments, project, unit)
    size = PAPER_SIZES[paper or ("Letter" if unit is Unit.INCH else "A4")]
    stream = BytesIO()
    # no date: the same answer gives the same file. Type 3 letters are embedded ten times faster than type 42
    # and can be searched and copied as well.
    with matplotlib.rc_context({"pdf.fonttype": 3, "hatch.linewidth": 0.5}):
        pages = PdfPages(stream, metadata={"Title": f"{said.title}: {said.headline}", "CreationDate": None})
        sheets = Sheets(pages, size, f"{said.title}, {said.from_garments}")
        _top(sheets, said)
        _photographs(sheets, said, photos, planes)
        _plans(sheets, said)
        _chart(sheets, said)
        _rest(sheets, said)
        sheets.finish()
        pages.close()
    return stream.getvalue()


def _top(sheets: Sheets, said: Content) -> None:
    colour = VERDICT_COLOUR[said.answer.verdict]
    sheets.text(f"{said.title}, {said.from_garments}", 9.5, colour="#59646c", after=2.5)
    size = 25.0
    indent = (text_width(MARK[said.answer.verdict], size, bold=True) + 10) / _POINTS_PER_MM
    sheets.text(
        said.headline,
        size,
        bold=True,
        colour=colour,
        indent=indent,
        mark=MARK[said.answer.verdict],
        after=3.5,
    )
    for reason in said.reasons:
        sheets.text(reason, 11.5, indent=4.0, mark="·")
    for text in (said.spare, said.larger):
        if text:
            sheets.text(text, 10)
    sheets.skip(1.5)
    top = sheets.y
    sheets.y -= 2.0
    sheets.text(said.next_step, 10.5, bold=True, indent=4.0, after=2.0)
    bar = LineString([(_MARGIN + 0.8, top), (_MARGIN + 0.8, sheets.y)])
    stroke(sheets.page(), bar, colour, 4.0, capstyle="butt")


def _photographs(
    sheets: Sheets, said: Content, photos: Mapping[str, Photo], planes: Mapping[str, OnPhoto]
) -> None:
    figures = photo_figures(said, photos, planes)
    for index, figure in enumerate(figures):
        base = ground_of(figure.photo, figure.plane, figure.pieces, _PHOTO_PX)
        width = min(sheets.inner, (sheets.full_height - 20.0) * base.width / base.height)
        # the first picture may shrink to stay on the page of the verdict
        room = sheets.left_on_page - 24.0
        if index == 0 and 85.0 <= room < width * base.height / base.width:
            width = room * base.width / base.height
        height = width * base.height / base.width
        if index == 0:
            sheets.heading("On the photograph", keep=height + 10.0)
        axes = sheets.picture(width, height)
        draw_ground(axes, base)
        page = Page(axes, width * _POINTS_PER_MM / base.width, "#10161c")
        draw_layout(page, base, figure.plane, figure.spreads, unit=said.unit)
        sheets.y -= 1.5
        sheets.text(
            f"{figure.caption}. Solid: cut here. Dashed: stitching. Arrow: grain. Number: order.", 8.0
        )
        sheets.skip(3.0)


def _plans(sheets: Sheets, said: Content) -> None:
    figures = plan_figures(said)
    scale = common_scale(figures, sheets.inner, sheets.full_height - 40.0)
    for index, figure in enumerate(figures):
        beside = beside_piece(figure.spread.piece, figure.unplaced)
        letters = _letter_rows(sheets, figure)
        below = 12.0 + 4.0 * len(letters)
        most = sheets.full_height - below - 14.0
        sheet = sheet_for(
            figure.spread.piece, [shape for _, shape in beside], sheets.inner, most, no_larger=scale
        )
        if index == 0:
            sheets.heading("On the flat plane, to scale", keep=sheet.size[1] + below)
        sheets.need(sheet.size[1] + below)
        axes = sheets.picture(*sheet.size)
        draw_plan(axes, sheet, figure.spread, figure.usable, unit=said.unit, unplaced=beside)
        sheets.y -= 1.0
        sheets.text(
            f"{figure.caption}. Drawn 1 : {sheet.scale:g} on paper printed at full size.", 8.5, bold=True
        )
        for row in letters:
            sheets.text(row, 8.0, after=0.4)
        sheets.skip(4.0)


def _letter_rows(sheets: Sheets, figure: PlanFigure) -> list[str]:
    if not figure.marks:
        return []
    text = "; ".join(f"{letter} {words}" for letter, words in figure.marks)
    return wrap(text + ".", sheets.inner * _POINTS_PER_MM, 8.0)


def _chart(sheets: Sheets, said: Content) -> None:
    sheets.heading("Cutting chart", keep=35.0)
    sheets.text("What to cut", 10.5, bold=True)
    sheets.table(said.panels)
    if said.places.rows:
        sheets.skip(2.0)
        sheets.text("Where to cut it", 10.5, bold=True, keep=25.0)
        sheets.table(said.places)
        if said.places_left_out:
            sheets.text(f"{said.places_left_out} smaller shapes are not listed: read them off the plan.")


def _rest(sheets: Sheets, said: Content) -> None:
    for title, texts in (("Joins", said.joins), ("What would help", said.suggestions)):
        if texts:
            sheets.heading(title)
            sheets.points(texts)
    if said.left_over.rows:
        sheets.heading("What is left over")
        sheets.table(said.left_over)
    if said.order:
        sheets.heading("Order of cutting")
        for text in said.order:
            sheets.text(text)
    sheets.heading("Before you cut")
    sheets.points(said.cautions)
    sheets.heading("How it was measured")
    sheets.table(said.measured)
    sheets.text(
        "The plus-minus is the half-width of the interval that holds the true value 95 times in 100, "
        "worked out for these photographs.",
        8.5,
    )
    if said.warnings:
        sheets.text("Warnings from the photographs", 10.5, bold=True, keep=8.0)
        sheets.points(said.warnings)

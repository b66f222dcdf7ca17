"""The fit report as a PDF for the cutting table: vector plans to a true scale, tables that break over pages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shapely.geometry import LineString, Polygon

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer
from salvage.fit.bolt.plan import LayPlan
from salvage.photo.photo import Photo
from salvage.project.project import Project
from salvage.report.content import Content, content
from salvage.report.drawing.figures import (
    PhotoFigure,
    PlanFigure,
    common_scale,
    photo_figures,
    photo_key,
    plan_figures,
)
from salvage.report.drawing.ground import OnPhoto, grey_ground, ground_of
from salvage.report.drawing.panels import draw_parts, drawn_parts
from salvage.report.drawing.picture import draw_layout
from salvage.report.drawing.plan import PlanPaper, draw_apart, draw_plan, paper_for, set_apart
from salvage.report.drawing.plan_legend import draw_legend, legend_height
from salvage.report.paper.flow import MARGIN, Pages
from salvage.report.paper.lay_plans import set_plans
from salvage.report.pen.draw import PLAIN, Printing, stroke, text_width, wrap
from salvage.report.pen.fonts import lacking
from salvage.report.pen.leaf import POINTS_PER_MM
from salvage.report.pen.palette import CASING, VERDICT_COLOUR
from salvage.report.pen.pdf import pdf_of
from salvage.report.say.words import PLUS_MINUS_WORDS
from salvage.trade.paper import PAPER as PAPER_SIZES
from salvage.units import Unit

_MOST_SHRUNK = 1.6  # how much smaller a plan may be drawn to stay on the page
_APART_HIGH = 0.42  # of a page, at most, for panels without a place
_NEARLY_EMPTY = 0.2  # of a page
_PHOTO_PX = 1100  # longer side of a photograph: 180 mm at 155 dots an inch


def fit_report_pdf(
    answer: Answer,
    garments: Sequence[Garment],
    project: Project,
    *,
    photos: Mapping[str, Photo],
    planes: Mapping[str, OnPhoto],
    unit: Unit,
    paper: str | None = None,
    printing: Printing = PLAIN,
    plans: Sequence[LayPlan] = (),
) -> bytes:
    """The fit report as PDF. photos, planes, plans: as for `page.fit_report_html`.

    paper: a name of salvage.trade.paper; Letter for people of inches and A4 for others unless told.
    """
    said = content(answer, garments, project, unit, lacking, plans)
    sheets = _set(said, photos, planes, paper, printing, tight=False)
    if len(sheets.fills) > 1 and sheets.fills[-1] < _NEARLY_EMPTY:
        # a last page with next to nothing on it: set closer, if that saves the page
        closer = _set(said, photos, planes, paper, printing, tight=True)
        sheets = closer if len(closer.leaves) < len(sheets.leaves) else sheets
    return pdf_of(sheets.leaves, f"{said.title}: {said.headline}")


def _set(
    said: Content,
    photos: Mapping[str, Photo],
    planes: Mapping[str, OnPhoto],
    paper: str | None,
    printing: Printing,
    *,
    tight: bool,
) -> Pages:
    """The pages, all done."""
    unit = said.unit
    size = PAPER_SIZES[paper or ("Letter" if unit is Unit.INCH else "A4")]
    sheets = Pages(size, f"{said.title}, {said.from_garments}", printing, tight=tight)
    _top(sheets, said)
    _photographs(sheets, said, photos, planes)
    _plans(sheets, said)
    _chart(sheets, said)
    _rest(sheets, said)
    sheets.finish()
    return sheets


def _top(sheets: Pages, said: Content) -> None:
    colour = VERDICT_COLOUR[said.tone]
    sheets.text(f"{said.title}, {said.from_garments}", 9.5, colour="#59646c", after=2.5)
    size = 25.0
    indent = (text_width(said.mark, size, bold=True) + 10) / POINTS_PER_MM
    sheets.text(
        said.headline,
        size,
        bold=True,
        colour=colour,
        indent=indent,
        mark=said.mark,
        after=3.5,
    )
    for reason in (*said.unsuited, *said.reasons):
        sheets.text(reason, 11.5, indent=4.0, mark="·")
    if said.larger:
        sheets.text(said.larger, 10)
    sheets.skip(1.5)
    top = sheets.y
    sheets.y -= 2.0
    sheets.text(said.next_step, 10.5, bold=True, indent=4.0, after=2.0)
    bar = LineString([(MARGIN + 0.8, top), (MARGIN + 0.8, sheets.y)])
    stroke(sheets.page(), bar, colour, 4.0)
    sheets.points(said.grave)
    if said.notes:
        sheets.text(f"Look at the project again. {' '.join(said.notes)}", 9.5)
    if said.boxes:
        sheets.text(said.boxes, 8.5)


def _photographs(
    sheets: Pages, said: Content, photos: Mapping[str, Photo], planes: Mapping[str, OnPhoto]
) -> None:
    figures = photo_figures(said, photos, planes)
    for index, figure in enumerate(figures):
        base = ground_of(figure.photo, figure.plane, figure.pieces, _PHOTO_PX)
        below = _caption_height(sheets, figure)
        width = min(sheets.inner, (sheets.full_height - 14.0 - below) * base.width / base.height)
        # the first picture may shrink to stay on the page of the verdict
        room = sheets.left_on_page - 18.0 - below
        if index == 0 and 85.0 <= room < width * base.height / base.width:
            width = room * base.width / base.height
        height = width * base.height / base.width
        if index == 0:
            sheets.heading("On the photograph", keep=height + below)
        else:
            sheets.need(height + below)
        field = sheets.picture(width, height)
        field.lay((grey_ground(base) if sheets.printing.grey else base).pixels)
        pen = field.pen(0.0, 0.0, base.width, base.height)
        page = sheets.printing.page(pen, width * POINTS_PER_MM / base.width, CASING)
        draw_layout(page, base, figure.plane, figure.spreads, unit=said.unit)
        sheets.y -= 1.5
        sheets.text(_caption(figure), 8.0)
        sheets.skip(3.0)


def _caption(figure: PhotoFigure) -> str:
    return f"{figure.caption}. {photo_key(figure)}"


def _caption_height(sheets: Pages, figure: PhotoFigure) -> float:
    """What a photograph's caption takes below it, mm: the two stay on one page."""
    size = 8.0 * sheets.printing.letters
    rows = wrap(_caption(figure), sheets.inner * POINTS_PER_MM, size)
    return 4.0 + 1.35 * len(rows) * size / POINTS_PER_MM


def _plans(sheets: Pages, said: Content) -> None:
    figures = plan_figures(said)
    no_larger = common_scale(figures, sheets.inner, sheets.full_height - 40.0)
    title = "On the flat plane, to scale"
    laid = bool(said.spreads)
    legend = legend_height(sheets.inner, sheets.printing, laid=laid) + 2.0
    for figure in figures:
        letters = _letter_rows(sheets, figure)
        below = 12.0 + 4.0 * len(letters) * sheets.printing.letters
        below += legend if title else 0.0
        head = sheets.heading_height(title) if title else 0.0
        around = below + head
        shapes = [figure.spread.upright.outline]
        sheet = _plan_paper(sheets, shapes, sheets.full_height - around, around, no_larger)
        sheets.need(head + sheet.size[1] + below)
        if title:
            sheets.heading(title, keep=sheet.size[1])
            title = ""
            field = sheets.picture(sheets.inner, legend - 2.0)
            draw_legend(field, sheets.inner, sheets.printing, laid=laid)
            sheets.y -= 2.0
        draw_plan(
            sheets.picture(*sheet.size),
            sheet,
            figure.spread,
            figure.usable,
            unit=said.unit,
            printing=sheets.printing,
        )
        sheets.y -= 1.0
        sheets.text(
            f"{figure.caption}. Drawn 1 : {sheet.scale:g} on paper printed at full size.", 8.5, bold=True
        )
        for row in letters:
            sheets.text(row, 8.0, after=0.4)
        sheets.skip(4.0)
    if said.unplaced:
        _apart(sheets, said, no_larger)


def _apart(sheets: Pages, said: Content, no_larger: float) -> None:
    """Panels without a place: by themselves, so that the plan keeps its scale."""
    laid = set_apart(said.unplaced)
    head, below = sheets.heading_height("Without a place"), 8.0
    most = _APART_HIGH * sheets.full_height
    sheet = _plan_paper(sheets, [shape for _, shape in laid], most, head + below, no_larger)
    sheets.need(head + sheet.size[1] + below)
    sheets.heading("Without a place", keep=sheet.size[1])
    draw_apart(sheets.picture(*sheet.size), sheet, laid, said.unit, sheets.printing)
    sheets.y -= 1.0
    sheets.text(f"Drawn 1 : {sheet.scale:g}, grain up.", 8.5, bold=True)
    sheets.skip(4.0)


def _plan_paper(
    sheets: Pages, shapes: Sequence[Polygon], most: float, around: float, no_larger: float
) -> PlanPaper:
    """A plan's scale: rather a little smaller on this page than alone on the next. most: its height there, mm."""
    alone, here = (
        paper_for(shapes, sheets.inner, max(height, 30.0), no_larger=no_larger)
        for height in (most, min(most, sheets.left_on_page - around))
    )
    return here if here.scale <= _MOST_SHRUNK * alone.scale else alone


def _letter_rows(sheets: Pages, figure: PlanFigure) -> list[str]:
    if not figure.marks:
        return []
    text = "; ".join(f"{letter} {words}" for letter, words in figure.marks)
    return wrap(text + ".", sheets.inner * POINTS_PER_MM, 8.0 * sheets.printing.letters)


def _chart(sheets: Pages, said: Content) -> None:
    sheets.heading("Cutting chart", keep=12.0 + sheets.table_start(said.panels))
    sheets.text("What to cut", 10.5, bold=True)
    sheets.table(said.panels)
    sheets.text(said.allowance, 9.0)
    _parts(sheets, said)
    if said.places.rows:
        sheets.skip(2.0)
        sheets.text("Where to cut it", 10.5, bold=True, keep=2.0 + sheets.table_start(said.places))
        sheets.table(said.places)
        if said.places_left_out:
            sheets.text(f"{said.places_left_out} smaller shapes are not listed: read them off the plan.")


def _parts(sheets: Pages, said: Content) -> None:
    """How the parts' panels were worked out, and their drawings."""
    if not said.parts:
        return
    sheets.points(said.parts, 8.5)
    panels = drawn_parts(said.project)
    if not panels:
        return
    most = _APART_HIGH * sheets.full_height
    sheet = _plan_paper(sheets, [shape for _, shape in set_apart(panels)], most, 8.0, 1.0)
    sheets.need(sheet.size[1] + 8.0)
    draw_parts(sheets.picture(*sheet.size), sheet, panels, said.unit, sheets.printing)
    sheets.text(
        f"The panels 1 : {sheet.scale:g}, grain up. Dots: folds and openings. Notches with one number meet.",
        8.0,
    )


def _rest(sheets: Pages, said: Content) -> None:
    for section in said.sections:
        alone = section.table is not None and not section.points and not section.texts
        first = sheets.table_start(section.table) if alone and section.table is not None else 0.0
        sheets.heading(section.title, keep=max(section.keep, 4.0 + first))
        sheets.points(section.points)
        for text in section.texts:
            sheets.text(text)
        if section.table is not None:
            sheets.table(section.table)
    set_plans(sheets, said.plans, said.unit)
    sheets.heading("How it was measured", keep=4.0 + sheets.table_start(said.measured))
    sheets.table(said.measured)
    if said.photographed:
        sheets.text(PLUS_MINUS_WORDS, 8.5)
    if said.warnings:
        sheets.text("Warnings from the photographs", 10.5, bold=True, keep=8.0)
        sheets.points(said.warnings)

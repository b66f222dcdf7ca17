"""Lay plans on paper: as pages of the fit report, and by themselves."""

from __future__ import annotations

from collections.abc import Sequence

from salvage.fit.bolt.plan import LayPlan
from salvage.report.cutting.lay_plans import BUY_MORE, TITLE, plan_table, plan_title, plan_words
from salvage.report.drawing.bolt import bolt_sheet, draw_bolt
from salvage.report.paper.flow import Pages
from salvage.report.pen.draw import PLAIN, Printing
from salvage.report.pen.pdf import pdf_of
from salvage.trade.paper import PAPER
from salvage.units import Unit

_HIGH = 0.6  # of a page that one plan may take


def set_plans(sheets: Pages, plans: Sequence[LayPlan], unit: Unit) -> None:
    """All plans, each with its title, drawing and table on one page if it can be."""
    for index, plan in enumerate(plans):
        first = index == 0
        head = sheets.heading_height(TITLE) if first else 0.0
        if plan.length is None:
            if first:
                sheets.heading(TITLE, keep=20.0)
            sheets.text(plan_title(plan, unit), 10.5, bold=True, keep=6.0)
            sheets.text(plan_words(plan, unit), 8.5)
            continue
        sheet = bolt_sheet(plan, sheets.inner, _HIGH * sheets.full_height)
        table = 8.0 + 6.0 * len(plan.project.panels) + 6.0 * len(plan.project.strips)
        sheets.need(min(head + 24.0 + sheet.size[1] + table, sheets.full_height))
        if first:
            sheets.heading(TITLE, keep=sheet.size[1])
        sheets.text(plan_title(plan, unit), 10.5, bold=True)
        sheets.text(plan_words(plan, unit), 8.5)
        draw_bolt(sheets.picture(*sheet.size), sheet, plan, unit, sheets.printing)
        sheets.text(f"Drawn 1 : {sheet.scale:g}, warp up. The number is the order of cutting.", 8.0)
        sheets.table(plan_table(plan, unit))
        sheets.skip(3.0)
    if any(plan.length is not None for plan in plans):
        sheets.text(BUY_MORE, 8.5)


def lay_plans_pdf(
    plans: Sequence[LayPlan],
    name: str,
    unit: Unit,
    *,
    paper: str | None = None,
    printing: Printing = PLAIN,
) -> bytes:
    """The plans by themselves, as PDF. paper: as for the fit report."""
    size = PAPER[paper or ("Letter" if unit is Unit.INCH else "A4")]
    sheets = Pages(size, f"{name}: lay plan", printing)
    sheets.text(name, 17, bold=True, after=1.0)
    set_plans(sheets, plans, unit)
    sheets.finish()
    return pdf_of(sheets.leaves, f"{name}: lay plan")

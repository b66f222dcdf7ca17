"""A lay plan on plain cloth, drawn to scale: selvedges, the fold, and the panels."""

from __future__ import annotations

from shapely.geometry import LineString, Polygon, box
from shapely.ops import unary_union

from salvage.fit.bolt.plan import LayPlan
from salvage.report.cutting.lay_plans import plan_cuts
from salvage.report.drawing.cut import draw_cut
from salvage.report.drawing.plan import PLAN_PAPER, PlanPaper, paper_for, plan_page
from salvage.report.pen.draw import PLAIN, Printing, fill, stroke, text_box, text_width, write
from salvage.report.pen.labels import Labels
from salvage.report.pen.leaf import Field, Leaf
from salvage.report.pen.palette import FAINT, INK, SOUND, WASTE
from salvage.report.pen.ruler import draw_rulers
from salvage.trade.widths import SELVEDGES
from salvage.units import Unit

_HIGH = 0.5  # of a page that a plan may take
_SMALL = 6.0  # points


def cloth_shape(plan: LayPlan) -> Polygon:
    """What of the cloth is seen: of the folded part its upper layer."""
    length, half = plan.length or 0.0, plan.width / 2
    if not plan.fold:
        return box(0.0, 0.0, plan.width, length)
    if all(each.shape.bounds[3] <= plan.fold + 1e-6 for each in plan.shown):
        return box(0.0, 0.0, half, length)
    whole = unary_union([box(0.0, 0.0, half, length), box(0.0, plan.fold, plan.width, length)])
    assert isinstance(whole, Polygon)
    return whole


def bolt_sheet(plan: LayPlan, width: float, height: float) -> PlanPaper:
    return paper_for([cloth_shape(plan)], width, height)


def draw_bolt(field: Field, sheet: PlanPaper, plan: LayPlan, unit: Unit, printing: Printing = PLAIN) -> None:
    """Draw the plan into a field of exactly sheet.size."""
    page = plan_page(field, sheet, printing)
    cloth = cloth_shape(plan)
    fill(page, cloth, facecolor=SOUND, edgecolor=INK, linewidth=0.9)
    length, edge = plan.length or 0.0, SELVEDGES / 2
    cuts = plan_cuts(plan)
    labels = Labels(page, box(*sheet.bounds), [cut.shape for cut in cuts])
    for x in (0.0, plan.width - edge):
        selvedge = box(x, 0.0, x + edge, length).intersection(cloth)
        fill(page, selvedge, facecolor=WASTE, edgecolor=FAINT, linewidth=0.3)
    for cut in cuts:
        draw_cut(page, cut, 90.0, labels, one_way=plan.one_way, unit=unit)
    if plan.fold:
        top = length if cloth.bounds[2] < plan.width - 1.0 else plan.fold
        fold = LineString([(plan.width / 2, 0.0), (plan.width / 2, top)])
        stroke(page, fold, INK, 2.0, linestyle=(6, 1.5, 1.2, 1.5))
        at = plan.width / 2 - 5.0 / page.points_per_unit, top / 2
        name = text_box(page, *at, text_width("fold", _SMALL) + 2, _SMALL * 1.3, 90.0)
        if labels.free(name):
            write(page.cased("#ffffff"), *at, "fold", _SMALL, rotation=90, zorder=19)
    draw_rulers(page, sheet.bounds, sheet.start, sheet.scale, unit)


def bolt_leaf(plan: LayPlan, unit: Unit, printing: Printing = PLAIN) -> tuple[Leaf, PlanPaper]:
    """The plan as a picture of its own."""
    sheet = bolt_sheet(plan, PLAN_PAPER[0], _HIGH * PLAN_PAPER[1])
    leaf = Leaf(*sheet.size)
    draw_bolt(leaf.field(), sheet, plan, unit, printing)
    return leaf, sheet

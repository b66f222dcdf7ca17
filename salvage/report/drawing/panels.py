"""The panels that parts gave, drawn to scale with their stitching lines, folds and notches."""

from __future__ import annotations

from collections.abc import Sequence

from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from salvage.project.outlines import stitching_line
from salvage.project.project import Panel, Project
from salvage.report.cutting.chart import finished_size
from salvage.report.drawing.plan import PLAN_PAPER, PlanPaper, paper_for, plan_page, set_apart
from salvage.report.pen.draw import PLAIN, Page, Printing, stroke, write
from salvage.report.pen.labels import Labels
from salvage.report.pen.leaf import Field, Leaf
from salvage.report.pen.palette import INK
from salvage.report.say.words import listed
from salvage.units import Unit, format_exact_size

_HIGH = 0.4  # of a page that these drawings may take
_MOST = 24


def drawn_parts(project: Project) -> tuple[Panel, ...]:
    """The panels of the project's parts, which the person gave measures for and no shapes."""
    names = {name for part in project.parts for name in part.items}
    return tuple(panel for panel in project.panels if panel.name in names)[:_MOST]


def parts_sheet(panels: Sequence[Panel], width: float, height: float) -> PlanPaper:
    return paper_for([shape for _, shape in set_apart(panels)], width, height)


def parts_leaf(panels: Sequence[Panel], unit: Unit, printing: Printing = PLAIN) -> tuple[Leaf, PlanPaper]:
    """All of them as one picture."""
    sheet = parts_sheet(panels, PLAN_PAPER[0], _HIGH * PLAN_PAPER[1])
    leaf = Leaf(*sheet.size)
    draw_parts(leaf.field(), sheet, panels, unit, printing)
    return leaf, sheet


def parts_alt(panels: Sequence[Panel]) -> str:
    return (
        f"The panels to scale, with stitching lines and notches: {listed([panel.name for panel in panels])}."
    )


def draw_parts(
    field: Field, sheet: PlanPaper, panels: Sequence[Panel], unit: Unit, printing: Printing = PLAIN
) -> None:
    """Draw the panels into a field of exactly sheet.size."""
    page = plan_page(field, sheet, printing)
    low_x, low_y, high_x, high_y = sheet.bounds
    labels = Labels(page, box(low_x, low_y, high_x, high_y))
    laid = set_apart(panels)
    for panel, shape in laid:
        _draw_lines(page, panel, shape)
    for panel, shape in laid:
        finished = finished_size(panel)
        size = (f"finished {format_exact_size(finished, unit)}",) if finished is not None else ()
        times = f"cut {panel.cut}"
        choices = ((panel.name, times, *size), (panel.name, times), (panel.name,), tuple(panel.name.split()))
        labels.write(page.cased("#ffffff"), shape, choices, sizes=(8, 7, 6), outside=((panel.name,),))


def _draw_lines(page: Page, panel: Panel, shape: Polygon) -> None:
    own = Polygon(panel.outline).bounds
    dx, dy = shape.bounds[0] - own[0], shape.bounds[1] - own[1]
    stroke(page, shape, INK, 1.1)
    line = stitching_line(panel)
    if line is not None:
        stroke(page, affinity.translate(line, dx, dy), INK, 0.6, linestyle=(4, 2.5))
    for guide in panel.guides:
        stroke(page, affinity.translate(LineString(guide.points), dx, dy), INK, 0.6, linestyle=(1, 1.8))
    long = 7.0 / page.points_per_unit
    for notch in panel.notches:
        x, y = notch.at[0] + dx, notch.at[1] + dy
        out = -notch.inward[0] * long, -notch.inward[1] * long
        stroke(page, LineString([(x, y), (x - out[0] * 0.5, y - out[1] * 0.5)]), INK, 1.2)
        write(page, x + out[0] * 0.7, y + out[1] * 0.7, notch.label, 5.5)

"""One panel as it is drawn everywhere: on a plan, on plain cloth, on a photograph."""

from __future__ import annotations

import math

import numpy as np
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from salvage.report.cutting.chart import CutShape, stitching_of
from salvage.report.cutting.upright import turned
from salvage.report.pen.draw import Page, fill, fit_label, grain_ends, grain_line, stroke
from salvage.report.pen.hatching import is_dotted
from salvage.report.pen.labels import Labels
from salvage.report.pen.palette import INK, panel_filling
from salvage.units import Unit, format_exact_size

_LINES, _DOTS = (
    "#00000038",
    "#000000a8",
)  # of hatchings; in the lines' colour small dots would be lost in print
_BAND = 3.2  # points: the coloured edge of a panel on a photograph
_SIZES = (9, 8, 7, 6, 5)  # points of a panel's words
_NAMED_BESIDE = 400.0  # square points; beside a smaller shape stands its number alone


def draw_cut(
    page: Page, cut: CutShape, grain: float, labels: Labels, *, one_way: bool, unit: Unit, many: bool = False,
    shape: Polygon | None = None, seam: Polygon | None = None, direction: np.ndarray | None = None,
    turn: float = 0.0,
) -> None:  # fmt: skip
    """Draw one panel: cut line solid, seam line dashed, grain line with arrowheads, number and name.

    shape, seam, direction: in page coordinates, where these are not the plan's: on a photograph, where the panel is
    an outline only, so that what lies beneath stays to be seen. turn: of the piece on the plan.
    """
    filling = panel_filling(cut.filling)
    outline = cut.shape if shape is None else shape
    if shape is None:
        fill(page, outline, facecolor=filling.colour, alpha=0.62, zorder=5)
        edge = _DOTS if is_dotted(filling.hatch) else _LINES
        fill(page, outline, facecolor="none", hatch=filling.hatch, edgecolor=edge, zorder=5.1)
    else:
        band = outline.difference(outline.buffer(-_BAND / page.points_per_unit))
        fill(page, band, facecolor=filling.colour, alpha=0.8, zorder=5)
    stroke(page, outline, INK, 1.3, zorder=6)
    stitched: BaseGeometry | None = seam
    if seam is None and shape is None and (line := stitching_of(cut)) is not None:
        stitched = turned(line, turn)
    if stitched is not None and not stitched.is_empty:
        stroke(page, stitched, INK, 0.6, linestyle=(4, 2.5), zorder=6)
    size = format_exact_size(cut.size, unit)
    number = str(cut.number)
    full, short = f"{number}  {cut.name}", cut.placement.panel
    choices: tuple[tuple[str, ...], ...] = (
        (full, size),
        (full,),
        (number, cut.name),
        (number, *cut.name.split(", ")),
        (f"{number}  {short}",),
    )
    choices = (*choices, (number, short), (number, *short.split()), (number,))
    named = page.cased("#ffffffd0")
    area = outline.area * page.points_per_unit**2
    radians = math.radians(grain)
    along = np.array([math.cos(radians), math.sin(radians)]) if direction is None else direction
    arrowed = not many or area > 900
    if arrowed:
        choices = _leaving_room(page, outline, choices, along)
    outside = ((f"{number}  {short}",), (number,)) if area > _NAMED_BESIDE else ((number,),)
    label = labels.write(named, outline, choices, sizes=_SIZES, outside=outside)
    if arrowed:
        grain_line(page, outline, along, label, both=not one_way)


def _leaving_room(
    page: Page, shape: Polygon, choices: tuple[tuple[str, ...], ...], along: np.ndarray
) -> tuple[tuple[str, ...], ...]:
    """The choices from the fullest on beside which a grain line has room, if one of them has the name; else all."""
    for k in range(len(choices) - 1):
        label = fit_label(page, shape, choices[k:], sizes=_SIZES)
        if not label.fits or label.lines == choices[-1]:
            break
        if grain_ends(page, shape, along, label) is not None:
            return choices[k:]
    return choices

"""Rulers with ticks and figures in the person's unit, along the edges of what is drawn to scale."""

from __future__ import annotations

from shapely.geometry import MultiLineString

from salvage.report.pen.draw import Page, stroke, write
from salvage.report.pen.palette import FAINT, INK
from salvage.units import MM_PER_INCH, Unit

ROOM = 9.0  # mm of paper that a ruler and its figures take
_GAP, _LONG, _SHORT, _OFF = 1.2, 2.0, 1.1, 0.8  # mm of paper: off the drawing, ticks, figures off the ticks
_FIGURES = 5.6  # points
_FIGURES_APART = 12.0  # mm of paper


def draw_rulers(
    page: Page,
    bounds: tuple[float, float, float, float],
    start: tuple[float, float],
    scale: float,
    unit: Unit,
) -> None:
    """Rulers below and at the left of bounds, whose figures begin at start, the lower left corner of what is drawn.

    scale: mm of the plane on 1 mm of paper.
    """
    low_x, low_y, high_x, high_y = bounds
    _ruler(page, (start[0], low_y - _GAP * scale), high_x - start[0], scale, unit, across=True)
    _ruler(page, (low_x - _GAP * scale, start[1]), high_y - start[1], scale, unit, across=False)


def _ruler(
    page: Page, start: tuple[float, float], length: float, scale: float, unit: Unit, *, across: bool
) -> None:
    def at(along: float, off: float) -> tuple[float, float]:
        return (start[0] + along, start[1] - off) if across else (start[0] - off, start[1] + along)

    step, every, per = ruler_steps(scale, unit)
    lines = [(at(0.0, 0.0), at(length, 0.0))]
    for index in range(int(length / step) + 1):
        along, long = index * step, index % every == 0
        tick = (_LONG if long else _SHORT) * scale
        lines.append((at(along, 0.0), at(along, tick)))
        if not long or not (across or index):  # the two rulers begin at one figure
            continue
        text = f"{along / per:g}" + (f" {unit}" if index == 0 else "")
        turned = {"va": "top"} if across else {"ha": "right", "rotation": 90}
        write(page, *at(along, tick + _OFF * scale), text, _FIGURES, color=INK, **turned)
    # All in one: there are hundreds.
    stroke(page, MultiLineString(lines), FAINT, 0.6)


def ruler_steps(scale: float, unit: Unit) -> tuple[float, int, float]:
    """Tick distance in mm, ticks to a figure, and mm to a unit, so that figures stay apart on paper."""
    per = {Unit.MM: 1.0, Unit.CM: 10.0, Unit.INCH: MM_PER_INCH}[unit]
    choices = (
        ((MM_PER_INCH, 2), (MM_PER_INCH, 4), (2 * MM_PER_INCH, 5), (5 * MM_PER_INCH, 4))
        if unit is Unit.INCH
        else ((10.0, 5), (10.0, 10), (50.0, 4), (100.0, 5))
    )
    for step, every in choices:
        if step * every / scale >= _FIGURES_APART:
            return step, every, per
    return choices[-1][0], choices[-1][1] * 2, per

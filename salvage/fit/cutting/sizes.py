"""The whole project made bigger or smaller: finished sizes change, seam allowances stay."""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.fit.cutting.joins import ring_of
from salvage.project.project import Panel, Point, Project, Strip


def scaled(project: Project, percent: float) -> Project | None:
    """The project with every finished size at this percentage; None if a panel would vanish."""
    factor = percent / 100
    panels = []
    for panel in project.panels:
        outline = _scaled_outline(panel, factor)
        if outline is None:
            return None
        finished = panel.finished and (panel.finished[0] * factor, panel.finished[1] * factor)
        panels.append(replace(panel, outline=outline, finished=finished))
    return replace(
        project, panels=tuple(panels), strips=tuple(_scaled_strip(each, factor) for each in project.strips)
    )


def _scaled_outline(panel: Panel, factor: float) -> tuple[Point, ...] | None:
    allowance = panel.seam_allowance
    outline = Polygon(panel.outline)
    left, bottom, right, top = outline.bounds
    if shapely.equals_exact(outline.normalize(), box(*outline.bounds).normalize(), 1e-9):
        width, length = (
            factor * (size - 2 * allowance) + 2 * allowance for size in (right - left, top - bottom)
        )
        return ring_of(box(left, bottom, left + width, bottom + length))
    sewn = outline.buffer(-allowance, join_style="mitre") if allowance > 0 else outline
    if sewn.is_empty or not isinstance(sewn, Polygon):
        return None
    changed = affinity.scale(sewn, factor, factor, origin=(left, bottom))
    cut = changed.buffer(allowance, join_style="mitre") if allowance > 0 else changed
    return ring_of(cut) if isinstance(cut, Polygon) and cut.is_valid and not cut.is_empty else None


def _scaled_strip(strip: Strip, factor: float) -> Strip:
    """A strip folded from a finished width scales whole; one with only a cut width keeps its allowances."""
    ends = 2 * strip.seam_allowance if strip.length > 2 * strip.seam_allowance else 0.0
    length = factor * (strip.length - ends) + ends
    if strip.finished_width is None:
        sides = 2 * strip.seam_allowance if strip.cut_width > 2 * strip.seam_allowance else 0.0
        return replace(strip, length=length, cut_width=factor * (strip.cut_width - sides) + sides)
    return replace(
        strip, length=length, cut_width=factor * strip.cut_width, finished_width=factor * strip.finished_width
    )

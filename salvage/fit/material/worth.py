"""Which cloth is worth searching: of the fabrics asked for, and large enough for the smallest thing to be cut."""

from __future__ import annotations

import math
from collections.abc import Mapping

from shapely.geometry import Polygon

from salvage.fit.cutting.joins import breadth
from salvage.fit.material.lay import Lay, extent_of, plus_minus_of, same_fabric
from salvage.project.project import Panel, Project


def worth_searching(lay: Lay, least: Mapping[str, float]) -> tuple[Lay, float]:
    """The lay without other fabrics, and without scraps where there is more; and its widest plus-minus."""
    lay = lay.only(index for index, cloth in enumerate(lay.cloths) if cloth.fabric in least)
    pairs = zip(lay.cloths, lay.where, strict=True)
    by = [plus_minus_of(place, extent_of(cloth.polygon)) for cloth, place in pairs]
    large = lay.only(
        index
        for index, cloth in enumerate(lay.cloths)
        if cloth.polygon.buffer(by[index]).area >= least[cloth.fabric]
    )
    # Scraps that no part of the project fits on only cost time. Proofs see all cloth: see verdict.case.Case.outer.
    return large if large.cloths else lay, max(by, default=0.0)


def least_area(project: Project, fabric: str) -> float:
    """mm^2 that the smallest thing to be cut from a fabric needs at least."""
    panels = [_least_part(each) for each in project.panels if same_fabric(each.fabric) == fabric]
    # A length joined on the bias is a slanted shape: its area is that of a straight one less half a square.
    strips = [
        each.cut_width * max(0.0, min(each.shortest, each.length) - each.cut_width)
        for each in project.strips
        if same_fabric(each.fabric) == fabric
    ]
    return min([*panels, *strips], default=0.0)


def _least_part(panel: Panel) -> float:
    """mm^2 of the panel, or of the smallest part it may be pieced from; 0 where that can't be told.

    Of all convex shapes of one breadth the regular triangle is the smallest.
    Source: Pal, Ein Minimumproblem fuer Ovale, Math. Ann. 83 (1921), from memory.
    """
    outline = Polygon(panel.outline)
    if not panel.joins:
        return float(outline.area)
    if outline.convex_hull.area > outline.area * (1 + 1e-9):
        return 0.0
    return min(panel.narrowest_part, breadth(outline)) ** 2 / math.sqrt(3)

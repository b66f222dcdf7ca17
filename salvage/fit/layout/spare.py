"""How much smaller the cloth could be, and how much bigger the project: found by search, never guessed."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from salvage.fit.ask import Plan, as_laid
from salvage.fit.cutting.sizes import scaled
from salvage.fit.layout.arrange import again, arrange
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout, attempt
from salvage.fit.material.lay import Lay, extent_of, plus_minus_of
from salvage.project.project import Project

_FINE = 1.0  # mm to which a spare is worth knowing
_FINER = 0.25  # the same, where it is less than what it must be: people measure by hand then
_SURELY = 1.1  # times what it must be: tried first, since it decides
_TRIES = 9
_FIRST = 3.0  # mm first tried
_PERCENT_FINE = 1.0
_PERCENTS_UP = (106.0, 115.0, 130.0, 160.0, 220.0)
_PERCENTS_DOWN = (92.0, 80.0, 65.0, 45.0)


def clearance(layout: Layout, lay: Lay) -> float:
    """How far the cloth of the lay could shrink with just this layout on it, mm.

    The layout may have been found on the same cloth shrunk, whose stretches are fewer or more; each
    shape is looked for on the stretches of its own piece and layer.
    """
    least = float("inf")
    for each in layout.placed:
        shape = as_laid(layout.asked.items[each.shape].outline, each)
        where = layout.asked.lay.where[each.cloth]
        inside = [
            float(shapely.distance(shape, cloth.polygon.boundary))
            for cloth, place in zip(lay.cloths, lay.where, strict=True)
            if place == where and shapely.covers(cloth.polygon, shape)
        ]
        least = min(least, max(inside, default=0.0))
    return least if layout.placed else 0.0


def spare_of(found: Layout, lay: Lay, known: float, need: float, budget: Budget) -> tuple[float, Layout]:
    """The spare, by search, and the layout that has it. known: mm of spare already shown by `found`; need: mm, below
    which it is too little."""
    low, best = max(known, clearance(found, lay)), found
    high = float("inf")
    for _ in range(_TRIES):
        if budget.over() or high - low <= (_FINE if low >= need else _FINER):
            break
        if high < float("inf"):
            tried = (low + high) / 2
        else:
            tried = _SURELY * need if low < need else max(2 * low, _FIRST)
        layout = again(found, lay.shrunk(tried), budget.part(0.3, at_least=2 * found.seconds))
        if layout.complete:
            low, best = max(tried, clearance(layout, lay)), layout
        else:
            high = tried
    return low, best


def plus_minus_on(layout: Layout) -> float:
    """The plus-minus of the cloth that the layout uses, seen over the layout's own extent there, mm."""
    on_cloth: dict[int, list[shapely.Geometry]] = {}
    for each in layout.placed:
        shape = as_laid(layout.asked.items[each.shape].outline, each)
        on_cloth.setdefault(each.cloth, []).append(shape)
    where = layout.asked.lay.where
    return max(
        (plus_minus_of(where[index], _extent(shapes)) for index, shapes in on_cloth.items()), default=0.0
    )


def _extent(shapes: Sequence[shapely.Geometry]) -> float:
    return extent_of(shapely.box(*shapely.total_bounds(shapes)))


def largest_scale(lay: Lay, project: Project, budget: Budget, found: Layout | None) -> float | None:
    """The largest percentage of the whole project found to fit the lay; None if none was.

    found: a complete layout at 100 %, if there is one; then only larger sizes are tried, with its plan.
    """
    low = 100.0 if found is not None else None
    high = None if found is not None else 100.0
    for percent in _PERCENTS_UP if found is not None else _PERCENTS_DOWN:
        if budget.over():
            return low
        if _fits_at(lay, project, percent, budget, found):
            low = percent
            if found is None:
                break
        else:
            high = percent
            if found is not None:
                break
    while low is not None and high is not None and high - low > _PERCENT_FINE and not budget.over():
        middle = round((low + high) / 2)
        if middle in (low, high):
            break
        if _fits_at(lay, project, middle, budget, found):
            low = middle
        else:
            high = middle
    return low


def _fits_at(lay: Lay, project: Project, percent: float, budget: Budget, found: Layout | None) -> bool:
    changed = scaled(project, percent)
    if changed is None:
        return False
    share = budget.part(0.3, at_least=2 * found.seconds if found is not None else 0.0)
    if found is not None and found.plan.joins() == 0:
        start = found.placed if lay.where == found.asked.lay.where else ()
        return attempt(lay, changed, Plan.whole(changed), share, start=start).complete
    return arrange(lay, changed, share).complete

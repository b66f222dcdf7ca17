"""What to cut from what: awkward small pieces first, so that the largest stretch stays whole.

Cloths are taken away from the question, the largest first, as long as the rest still holds the project;
then as much as possible is cut off the end of the largest one still needed.
"""

from __future__ import annotations

from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout, attempt
from salvage.fit.material.lay import Lay
from salvage.shapes import polygons_of

_HALVINGS = 3
_LEAST_GAIN = 0.1  # share of a cloth that must be kept whole for it to be worth a rearrangement


def tidied(found: Layout, budget: Budget) -> Layout:
    """The same project with the same plan on less of the same lay, if a short search finds it."""
    best = _fewer_garments(found, budget)
    best = _fewer_cloths(best, budget)
    return _one_end_kept(best, budget)


def used_cloths(layout: Layout) -> set[int]:
    """Indices, in the layout's lay, of the cloths that something lies on."""
    return {each.cloth for each in layout.placed}


def _smaller(layout: Layout, lay: Lay, budget: Budget) -> Layout | None:
    if not lay.cloths:
        return None
    share = budget.part(0.2, at_most=0.5, at_least=1.5 * layout.seconds)
    tried = attempt(lay, layout.project, layout.plan, share)
    return tried if tried.complete else None


def _fewer_garments(layout: Layout, budget: Budget) -> Layout:
    lay = layout.asked.lay
    garments = {place.garment for place in lay.where}
    area = {garment: sum(c.polygon.area for c in lay.of_garment(garment).cloths) for garment in garments}
    for garment in sorted(garments, key=lambda each: -area[each]):
        if len({place.garment for place in layout.asked.lay.where}) < 2 or budget.over():
            break
        lay = layout.asked.lay
        kept = lay.only(i for i, place in enumerate(lay.where) if place.garment != garment)
        layout = _smaller(layout, kept, budget) or layout
    return layout


def _fewer_cloths(layout: Layout, budget: Budget) -> Layout:
    lay = layout.asked.lay
    for cloth in sorted(lay.cloths, key=lambda each: -each.polygon.area):
        lay = layout.asked.lay
        position = next((i for i, each in enumerate(lay.cloths) if each is cloth), None)
        if position is None or budget.over():
            continue
        kept = lay.only(i for i in range(len(lay.cloths)) if i != position)
        if position not in used_cloths(layout):
            continue
        layout = _smaller(layout, kept, budget) or layout
    return layout


def _one_end_kept(layout: Layout, budget: Budget) -> Layout:
    """Keep one end of the largest cloth in use whole, as much of it as a few halvings find."""
    used = used_cloths(layout)
    if not used:
        return layout
    lay = layout.asked.lay
    largest = max(used, key=lambda index: lay.cloths[index].polygon.area)
    polygon, grain = lay.cloths[largest].polygon, lay.cloths[largest].grain
    best, best_kept = layout, 0.0
    for side in range(4):
        low, high = 0.0, 1.0  # share cut off the end
        for _ in range(_HALVINGS):
            if budget.over():
                return best
            middle = (low + high) / 2
            rest = _without_end(polygon, grain, side, middle)
            kept = polygon.area - sum(each.area for each in rest)
            if kept <= max(best_kept, _LEAST_GAIN * polygon.area):
                low = middle
                continue
            clipped = lay.reshaped(
                lambda index, each, rest=rest: rest if index == largest else [each]  # type: ignore[misc]
            )
            tried = _smaller(layout, clipped, budget)
            if tried is None:
                high = middle
            else:
                low, best, best_kept = middle, tried, kept
    return best


def _without_end(polygon: Polygon, grain: float, side: int, share: float) -> list[Polygon]:
    """The polygon without that share of its extent: at the top, bottom, right or left, seen along the grain."""
    turned = affinity.rotate(polygon, 90.0 - grain, origin=(0, 0))
    left, bottom, right, top = turned.bounds
    width, length = (right - left) * share, (top - bottom) * share
    window = (
        box(left, bottom, right, top - length),
        box(left, bottom + length, right, top),
        box(left, bottom, right - width, top),
        box(left + width, bottom, right, top),
    )[side]
    back = affinity.rotate(window, grain - 90.0, origin=(0, 0))
    return polygons_of(polygon.intersection(back))

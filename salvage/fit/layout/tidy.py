"""What to cut from what: awkward small pieces first, so that the largest stretch stays whole.

Cloths are taken away from the question, the largest first, as long as the rest still holds the project.
"""

from __future__ import annotations

from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout, attempt
from salvage.fit.material.lay import Lay


def tidied(found: Layout, budget: Budget) -> Layout:
    """The same project with the same plan on less of the same lay, if a short search finds it."""
    return _fewer_cloths(_fewer_garments(found, budget), budget)


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

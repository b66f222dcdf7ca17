"""Whether a panel or a strip, were it alone, has a place at all: the first thing that a change must give it."""

from __future__ import annotations

from shapely.geometry import Polygon, box

from salvage.fit.cutting.cover import Coverer
from salvage.fit.cutting.joins import ring_of
from salvage.fit.geometry.task import turns_to_try
from salvage.fit.help.items import Item
from salvage.fit.layout.budget import Budget
from salvage.fit.material.lay import Lay
from salvage.fit.proof.refuse import panel_shape
from salvage.fit.question import angle_of_turn, takes
from salvage.fit.search.place import Outline, Stretch, fits
from salvage.project.project import Join, Panel, Project, Strip

_MOST_SECONDS = 0.5  # for one panel with joins


def has_place(lay: Lay, project: Project, item: Item, budget: Budget) -> bool:
    """Whether one copy was found to lie on the lay with nothing else on it; of a strip that may be joined, one length."""
    if isinstance(item, Strip):
        long = item.length if item.join is Join.NONE else min(item.shortest, item.length)
        outline = Outline(box(0.0, 0.0, item.cut_width, long))
        return _fits_one(outline, _stretches(lay, _as_panel(item)), budget)
    stretches = _stretches(lay, item)
    outline = Outline(Polygon(item.outline))
    if _fits_one(outline, stretches, budget):
        return True
    part = budget.part(0.3, at_most=_MOST_SECONDS)
    coverer = Coverer(item, project.cutting_gap, over=part.over, spend=part.spend)
    return any(coverer.covers(stretches, joins) is not None for joins in range(1, item.joins + 1))


def _fits_one(outline: Outline, stretches: list[Stretch], budget: Budget) -> bool:
    return any(fits(outline, each, over=budget.over, spend=budget.spend) for each in stretches)


def _as_panel(strip: Strip) -> Panel:
    outline = ring_of(box(0.0, 0.0, strip.cut_width, strip.length))
    return Panel(strip.name, outline, strip.fabric, grain=strip.grain, pieces=strip.pieces)


def _stretches(lay: Lay, panel: Panel) -> list[Stretch]:
    shape = panel_shape(panel)
    return [
        Stretch(
            index, cloth.polygon, tuple(angle_of_turn(turn, cloth) for turn in turns_to_try(shape, cloth))
        )
        for index, cloth in enumerate(lay.cloths)
        if takes(cloth, shape)
    ]

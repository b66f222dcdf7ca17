"""Several garments: which of them suffice alone, and which to use."""

from __future__ import annotations

from dataclasses import dataclass

from salvage.fit.layout.arrange import arrange
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout
from salvage.fit.material.lay import Lay
from salvage.project.project import Project


@dataclass(frozen=True, slots=True)
class Choice:
    """suffices: garments that hold the project alone; best: a layout on the one of them to use."""

    suffices: tuple[int, ...]
    best: Layout | None


def choose(lay: Lay, project: Project, budget: Budget) -> Choice:
    """Try each garment of the lay alone.

    The best single use is the one with fewest joins, and among those the garment with least cloth, so
    that the larger ones stay whole for another project.
    """
    garments = sorted({place.garment for place in lay.where}, key=lambda each: _area(lay, each))
    found: dict[int, Layout] = {}
    for position, garment in enumerate(garments):
        if budget.over():
            break
        share = 1 / (len(garments) - position)
        layout = arrange(lay.of_garment(garment), project, budget.part(share))
        if layout.complete:
            found[garment] = layout
    best = min(found, key=lambda each: (found[each].plan.joins(), _area(lay, each)), default=None)
    return Choice(tuple(sorted(found)), None if best is None else found[best])


def _area(lay: Lay, garment: int) -> float:
    return sum(each.polygon.area for each in lay.of_garment(garment).cloths)

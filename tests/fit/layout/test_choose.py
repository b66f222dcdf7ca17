"""Several garments: the small one that suffices is used, so that the large one stays whole."""

from __future__ import annotations

import pytest
from rail_garments import cloth, rectangle
from shapely.geometry import box

from salvage.fit.layout.budget import Budget
from salvage.fit.layout.choose import choose
from salvage.fit.material.lay import lay_of
from salvage.project.project import Project

SMALL, LARGE, TINY = (cloth(f"{side}", box(0, 0, side, side)) for side in (220, 600, 60))


def chosen(*order: int, side: float = 100.0, cut: int = 2) -> tuple[tuple[int, ...], int | None]:
    """Which suffice and which is used, of SMALL, LARGE and TINY in that order."""
    garments = [(SMALL, LARGE, TINY)[k] for k in order]
    project = Project("bag", (rectangle("body", side, side, cut=cut),))
    choice = choose(lay_of(garments), project, Budget.start(60.0, steps=100))
    if choice.best is None:
        return choice.suffices, None
    used = {each.garment for each in choice.best.placements()}
    assert len(used) == 1
    return choice.suffices, used.pop()


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 2, 0)])
def test_the_smallest_that_suffices_is_used(order: tuple[int, ...]) -> None:
    suffices, used = chosen(*order)
    assert suffices == tuple(sorted((order.index(0), order.index(1))))
    assert used == order.index(0)


def test_only_the_large_one_takes_what_is_large() -> None:
    assert chosen(0, 1, 2, side=250.0) == ((1,), 1)


def test_where_none_suffices_none_is_used() -> None:
    assert chosen(0, 1, 2, side=500.0) == ((), None)

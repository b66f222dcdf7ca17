"""What is cut from what: where small cloth is enough, the largest stays whole."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.layout.arrange import arrange
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout
from salvage.fit.layout.tidy import tidied, used_cloths
from salvage.fit.material.lay import lay_of
from salvage.fit.question import Placed
from salvage.project.project import Panel, Project


def garment(name: str, *sides: float) -> Garment:
    pieces = [
        Piece(f"{name} {n}", box(0, 0, side, side), usable=MultiPolygon([box(0, 0, side, side)]))
        for n, side in enumerate(sides)
    ]
    return Garment(name, tuple(pieces))


def laid(garments: list[Garment], count: int) -> Layout:
    """So many squares of 100."""
    panel = Panel("a", ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)), cut=count)
    found = arrange(lay_of(garments), Project("p", (panel,), cutting_gap=2.0), Budget.start(1.0))
    assert found.complete
    return found


def pieces_used(layout: Layout) -> set[str]:
    return {layout.asked.lay.where[index].piece for index in used_cloths(layout)}


def test_cloths_that_something_lies_on() -> None:
    whole = laid([garment("coat", 110.0, 110.0, 90.0)], 2)
    assert used_cloths(whole) == {0, 1}


@pytest.mark.parametrize(
    ("count", "wanted"),
    [(1, {"shirt 0"}), (4, {"coat 0"}), (2, {"coat 0"})],
)
@pytest.mark.parametrize("first", ["coat", "shirt"])
def test_the_largest_garment_that_can_be_spared_is(count: int, wanted: set[str], first: str) -> None:
    """A coat of 500 and a shirt of 110: one square is cut from the shirt, two need the coat, which is enough for four.

    Whichever of them is named first."""
    garments = sorted([garment("coat", 500.0), garment("shirt", 110.0)], key=lambda each: each.name != first)
    found = tidied(laid(garments, count), Budget.start(2.0))
    assert found.complete
    assert len(found.placed) == count
    assert pieces_used(found) == wanted


@pytest.mark.parametrize("sides", [(300.0, 110.0, 105.0), (105.0, 110.0, 300.0)])
def test_the_largest_piece_that_can_be_spared_is(sides: tuple[float, ...]) -> None:
    """Of pieces of 300, 110 and 105, two squares are cut from the two small ones, in whatever order they are named."""
    found = tidied(laid([garment("coat", *sides)], 2), Budget.start(2.0))
    assert pieces_used(found) == {f"coat {number}" for number, side in enumerate(sides) if side < 300}
    assert found.complete


def test_nothing_changes_where_nothing_can_be_spared() -> None:
    whole = laid([garment("coat", 110.0, 110.0)], 2)
    assert pieces_used(tidied(whole, Budget.start(1.0))) == {"coat 0", "coat 1"}


def test_the_largest_is_spared_before_the_small_ones_that_are_used_too() -> None:
    """Squares on 105 and on 300: were 105 taken away first, both would end on 300."""
    coat = garment("coat", 105.0, 110.0, 300.0)
    whole = laid([coat], 2)
    at = {where.piece: n for n, where in enumerate(whole.asked.lay.where)}
    placed = tuple(Placed(0, at[f"coat {n}"], 0.0, False, 2.0, 2.0) for n in (0, 2))
    found = tidied(replace(whole, placed=placed), Budget.start(2.0))
    assert found.complete
    assert pieces_used(found) == {"coat 0", "coat 1"}

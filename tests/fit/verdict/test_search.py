"""Which cloth is searched: smaller by the plus-minus where that does, else as measured; one garment where one does."""

from __future__ import annotations

import pytest
from shapely.geometry import box
from small_cases import case, garment, square

from salvage.fit.verdict.search import as_much_as_fits, at_once, search


@pytest.mark.parametrize(("side", "safe"), [(190.0, True), (196.0, False)])
def test_the_safe_cloth_first_then_all_there_is(side: float, safe: bool) -> None:
    """Edges good to 4 mm: of 200 there are 192 for sure."""
    about = case(garment("coat", (200, 200), edge=4.0), items=(square("a", side),))
    found = search(about, about.budget())
    assert found.layout.complete
    (placed,) = found.layout.placements()
    assert box(0, 0, 200, 200).covers(placed.shape)
    assert (box(0, 0, 200, 200).exterior.distance(placed.shape) >= 4.0 - 1e-6) == safe
    early = at_once(about, about.budget())
    assert early is not None
    assert early.complete == safe


def test_what_does_not_fit_is_found_in_part() -> None:
    about = case(garment("coat", (200, 200)), items=(square("a", 150.0), square("b", 120.0)))
    found = search(about, about.budget()).layout
    assert not found.complete
    assert len(found.placed) + len(found.unplaced) == 2


def test_a_garment_that_suffices_alone_is_told() -> None:
    garments = [garment("coat", (200, 200)), garment("vest", (50, 50)), garment("shirt", (210, 210))]
    about = case(*garments, items=(square("a", 100.0, cut=4),))
    assert about.several
    assert at_once(about, about.budget()) is None
    found = search(about, about.budget())
    assert set(found.suffices) == {0, 2}
    where = found.layout.asked.lay.where
    assert len({where[each.cloth].garment for each in found.layout.placed}) == 1


def test_open_numbers_are_as_large_as_the_safe_cloth_gives() -> None:
    """209 less 2 x 4 hold two squares of 100 each way; 206 hold one."""
    for size, count in ((209.0, 4), (206.0, 1)):
        about = case(garment("coat", (size, size), edge=4.0), items=(square("a", 100.0, many=True),))
        found = as_much_as_fits(about, about.budget())
        assert found is not None
        assert found.project.panels[0].cut == count
    about = case(garment("coat", (90, 90)), items=(square("a", 100.0, many=True),))
    assert as_much_as_fits(about, about.budget()) is None

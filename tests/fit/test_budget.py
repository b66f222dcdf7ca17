"""A limit in steps: what is counted ends the work, and the same seed gives the same answer."""

from __future__ import annotations

import pytest
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.ask import Plan
from salvage.fit.fit import fit_project
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.fill import filled
from salvage.fit.layout.found import nothing_laid
from salvage.fit.material.lay import lay_of
from salvage.project.project import Join, Panel, Project, Strip

# Nine narrow stretches, a few mm too short for what is asked: many ways to piece it, and none that goes.
STRETCHES = Garment(
    "coat",
    tuple(
        Piece(f"yoke {n}", cloth, usable=MultiPolygon([cloth]))
        for n, cloth in enumerate(box(0, 0, 83 + 3 * n, 190 + n) for n in range(9))
    ),
)
PIECED = Project("bag", (Panel("body", ((0, 0), (610, 0), (610, 185), (0, 185)), joins=5),))


def test_work_is_shared_by_the_parts_and_ends_them() -> None:
    budget = Budget.start(1.0, steps=10)
    whole = budget.work_left()
    part = budget.part(0.5)
    assert part.work_left() == pytest.approx(whole / 2)
    assert budget.part(0.5, at_most=0.1).work_left() == pytest.approx(0.1)
    part.spend(1000 * whole / 2)
    assert part.over()
    assert not budget.over()
    assert budget.work_left() == pytest.approx(whole / 2)
    budget.spend(1000 * whole)
    assert budget.over()
    assert Budget.start(1.0).work_left() == float("inf")


@pytest.mark.parametrize("share", [0.01, 0.1])
def test_piecing_ends_with_the_work_there_may_be(share: float) -> None:
    """There are thousands of sequences of stretches to try, and one panel may take half of what there is."""
    base = nothing_laid(lay_of([STRETCHES]), PIECED, Plan.whole(PIECED))
    budget = Budget.start(1.0, steps=1).part(share)
    assert not filled(base, budget).complete
    assert budget.work is not None
    assert 0.4 * budget.until_work < budget.work.done < 0.8 * budget.until_work


def test_the_longest_strip_by_steps_is_the_same_each_time() -> None:
    coat = Garment("coat", STRETCHES.pieces[:3])
    strip = Strip("tie", 40, 100, join=Join.STRAIGHT, shortest=100, seam_allowance=10, longest=True)
    project = Project("tie", (), (strip,))
    first = fit_project([coat], project, steps=20, seed=3)
    again = fit_project([coat], project, steps=20, seed=3)
    assert first.longest["tie"] > 3 * 190  # two lengths beside each other on each, less the joins
    assert (again.verdict, again.longest, again.placements) == (
        first.verdict,
        first.longest,
        first.placements,
    )

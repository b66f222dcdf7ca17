"""A limit in steps: what is counted ends the work, and the same seed gives the same answer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.ask import Plan, ask
from salvage.fit.fit import fit_project
from salvage.fit.geometry.tables import make_tables
from salvage.fit.geometry.task import make_tasks
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.fill import filled
from salvage.fit.layout.found import nothing_laid
from salvage.fit.material.lay import lay_of
from salvage.project.project import Grain, Join, Panel, Project, Strip

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


def curved(count: int) -> Project:
    """So many panels that are round here and hollow there, at any angle, no two alike."""
    around = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    panels = []
    for n in range(count):
        reach = (30 + n) * (1 + 0.25 * np.sin((2 + n % 3) * around + n))
        corners = np.column_stack([reach * np.cos(around), 1.5 * reach * np.sin(around)])
        panels.append(Panel(f"p{n}", tuple((float(x), float(y)) for x, y in corners), grain=Grain.ANY))
    return Project("curved", tuple(panels))


def test_many_curved_panels_at_any_angle_have_to_do_with_smaller_tables() -> None:
    cloth = Garment("g", (Piece("a", box(0, 0, 900, 900)),))
    project = curved(12)
    question = ask(lay_of([cloth]), project, Plan.whole(project)).question
    (task,) = make_tasks(question)
    (one,) = make_tasks(replace(question, shapes=question.shapes[:1]))
    assert 0 < task.size <= 6_000_000
    assert all(len(ways) >= 3 for kind in task.kinds for ways in kind.orientations)
    assert len(task.orientations) < 12 * len(one.orientations)
    assert make_tables(one).packed.f.size >= 5 * one.size / 2  # edges of one direction fall together


def test_tables_and_moves_are_counted_as_work() -> None:
    project = curved(3)
    cloth = lay_of([Garment("g", (Piece("a", box(0, 0, 120, 125)),))])
    question = ask(cloth, project, Plan.whole(project)).question
    few, many = (Budget.start(1.0, steps=steps) for steps in (5, 50))
    for budget in (few, many):
        assert not budget.decide(question).complete
    assert few.work is not None
    assert many.work is not None
    (task,) = make_tasks(question)
    assert few.work.done > 1e-4 * task.size
    assert many.work.done > few.work.done + 45 * 0.1

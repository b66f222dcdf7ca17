"""Fitting edge to edge: whatever it does, shapely finds nothing wrong, and what it calls best is."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon, box
from small_tasks import Small, small

from salvage.fit.kernels.calls import put
from salvage.fit.search.fitting import Fitting, Layout

TRIANGLE = Polygon([(0, 0), (60, 0), (0, 90)])


def fitting(asked: Small, seed: int = 1) -> Fitting:
    return Fitting(asked.task, asked.tables, asked.state, np.random.default_rng(seed))


def faults(asked: Small, layout: Layout) -> list[str]:
    for i, (x, y, o, g) in enumerate(zip(*layout, strict=True)):
        put(asked.t, asked.s, i, int(g), int(o), float(x), float(y))
    return asked.faults()


def missing(asked: Small, layout: Layout) -> float:
    return float(asked.state.area[layout[3] < 0].sum())


CROWDED = [box(0, 0, 70, 50), box(0, 0, 40, 90), TRIANGLE]


@pytest.mark.parametrize("gap", [0.0, 2.0])
def test_every_round_leaves_a_right_layout_and_the_best_is_kept(gap: float) -> None:
    """More than the two cloths hold, so that it forces in and takes up; twenty rounds of it."""
    asked = small([box(0, 0, 150, 120), box(0, 0, 90, 100)], CROWDED, gap, counts=[4, 4, 3])
    work = fitting(asked)
    least = float("inf")
    while work.rounds < 20:
        _, ended = work.advance(5)
        if not ended:
            continue
        assert work.best is not None
        assert faults(asked, work.layout()) == []
        least = min(least, missing(asked, work.best[1]))
        assert work.best[0] == pytest.approx(missing(asked, work.best[1]))
        assert work.best[0] == pytest.approx(least)
        assert faults(asked, work.best[1]) == []
        assert work.best[0] <= missing(asked, work.layout()) + 1e-6
        assert not work.solved
    assert least > 0


def test_no_more_is_laid_than_it_is_asked_for() -> None:
    asked = small([box(0, 0, 300, 300)], [box(0, 0, 40, 40)], counts=[7])
    work = fitting(asked)
    assert work.advance(3) == (3, False)
    assert int((work.state.ground >= 0).sum()) == 3
    assert work.advance(100) == (4, True)
    assert work.solved
    assert faults(asked, work.layout()) == []


def test_a_cloth_without_waste_is_filled() -> None:
    """A sheet of 120 x 90 cut into four rectangles, which go back together."""
    pieces = [box(0, 0, 60, 90), box(0, 0, 60, 40), box(0, 0, 25, 50), box(0, 0, 35, 50)]
    asked = small([box(0, 0, 120, 90)], pieces)
    work = fitting(asked)
    while not work.solved and work.rounds < 60:
        work.advance(50)
    assert work.solved
    assert work.best is not None
    assert work.best[0] == 0.0
    assert faults(asked, work.layout()) == []


def test_the_seed_alone_decides() -> None:
    found = []
    for moves in (1, 7):
        work = fitting(small([box(0, 0, 150, 120)], CROWDED, counts=[2, 2, 2]), seed=5)
        while work.rounds < 12:
            work.advance(moves)
        found.append([each.tolist() for each in work.layout()])
    assert found[0] == found[1]

"""One run of the search: its layouts are right by shapely, and its path doesn't depend on how often it is asked."""

from __future__ import annotations

import pytest
from shapely import affinity
from shapely.geometry import Polygon, box
from small_tasks import Small, small

from salvage.fit.question import Placed
from salvage.fit.search.run import Run

SHAPES = [box(0, 0, 70, 50), box(0, 0, 40, 90), Polygon([(0, 0), (60, 0), (0, 90)])]
ROOMY = small([box(0, 0, 220, 160), box(0, 0, 90, 100)], SHAPES, 2.0, counts=[2, 2, 2])
CROWDED = small([box(0, 0, 150, 120)], SHAPES, 0.0, counts=[3, 3, 3])


def run(asked: Small, worker: int = 0, start: tuple[Placed, ...] = ()) -> Run:
    return Run(asked.task, asked.tables, worker, (3, worker), start)


def assert_right(asked: Small, placed: tuple[Placed, ...]) -> float:
    """No two nearer than the gap, all on their cloth; returns their area."""
    lying = []
    for each in placed:
        outline = affinity.rotate(asked.task.outlines[each.shape], each.angle, origin=(0, 0))
        lying.append((each.cloth, affinity.translate(outline, each.x, each.y)))
    for n, (cloth, shape) in enumerate(lying):
        assert asked.task.grounds[cloth].polygon.buffer(1e-6).covers(shape)
        for other_cloth, other in lying[:n]:
            if other_cloth == cloth:
                assert shape.intersection(other).area < 1e-6
                assert shape.distance(other) > asked.task.gap - 1e-6
    return sum(shape.area for _, shape in lying)


@pytest.mark.parametrize("worker", [0, 1])
def test_what_fits_is_laid_whole(worker: int) -> None:
    made = run(ROOMY, worker)
    made.advance(3000)
    assert made.solved is not None
    assert len(made.placed()) == 6
    assert sorted(each.shape for each in made.placed()) == [0, 0, 1, 1, 2, 2]
    assert assert_right(ROOMY, made.placed()) == pytest.approx(2 * (70 * 50 + 40 * 90 + 30 * 90))


@pytest.mark.parametrize("worker", [0, 1])
def test_of_what_does_not_fit_the_best_part_is_kept(worker: int) -> None:
    """9 shapes of 29 400 mm^2 on 18 000: never solved, and what is kept only grows."""
    made = run(CROWDED, worker)
    before = 0.0
    for _ in range(6):
        made.advance(60)
        assert made.solved is None
        area = made.partial_area()
        assert area >= before
        assert assert_right(CROWDED, made.placed()) == pytest.approx(area)
        before = area
    assert 10_000 < before <= 18_000


@pytest.mark.parametrize("worker", [0, 1])
def test_the_path_is_the_same_in_one_go_or_step_by_step(worker: int) -> None:
    whole, bits = run(CROWDED, worker), run(CROWDED, worker)
    whole.advance(400)
    while bits.steps < whole.steps:
        bits.advance(min(9, whole.steps - bits.steps))
    assert bits.steps == whole.steps
    assert bits.state.x.tolist() == whole.state.x.tolist()
    assert bits.state.ground.tolist() == whole.state.ground.tolist()
    assert bits.placed() == whole.placed()


def test_it_goes_on_from_a_layout_that_is_there() -> None:
    first = run(ROOMY)
    first.advance(3000)
    again = run(ROOMY, start=first.placed())
    assert (again.state.ground >= 0).all()
    again.advance(1)
    assert again.solved is not None
    assert {(p.shape, p.cloth, round(p.x, 6), round(p.y, 6)) for p in again.placed()} == {
        (p.shape, p.cloth, round(p.x, 6), round(p.y, 6)) for p in first.placed()
    }


def test_what_no_cloth_takes_is_left_out_and_said() -> None:
    asked = small([box(0, 0, 100, 100)], [box(0, 0, 50, 50), box(0, 0, 120, 10)])
    made = run(asked)
    assert not made.all_possible
    made.advance(50)
    assert [each.shape for each in made.placed()] == [0]
    assert run(ROOMY).all_possible


def test_the_large_are_laid_before_the_small() -> None:
    """However they are named: which of two a run takes first is left to chance only where they are nearly alike."""
    sides = (20, 60, 30, 90, 40)
    asked = small([box(0, 0, 200, 200)], [box(0, 0, side, side) for side in sides])
    for seed in range(5):
        queued = Run(asked.task, asked.tables, 0, (seed,)).queue
        assert [sides[asked.task.kinds[asked.task.kind_of[i]].shape] for i in queued] == [90, 60, 40, 30, 20]


def test_of_what_overlaps_the_larger_is_kept() -> None:
    """A square of 80 lies over two of 20 that are clear of one another: the one is more cloth than the two."""
    asked = small([box(0, 0, 100, 100)], [box(0, 0, 20, 20), box(0, 0, 80, 80)], counts=[2, 1])
    at = [
        Placed(0, 0, 0.0, False, 15.0, 15.0),
        Placed(0, 0, 0.0, False, 60.0, 60.0),
        Placed(1, 0, 0.0, False, 10.0, 10.0),
    ]
    made = run(asked, start=tuple(at))
    assert made.partial_area() == pytest.approx(80 * 80)
    assert [each.shape for each in made.placed()] == [1]

"""The search on questions whose answer is known by construction."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable, Sequence

import pytest
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from salvage.fit.geometry import task as search_task
from salvage.fit.layout.decide import decide
from salvage.fit.question import Cloth, Placed, Question, Shape, allowed_turns
from salvage.fit.search import rounds as search_module
from salvage.fit.search.rings import make_rings
from salvage.fit.search.rounds import Clock, Hunt, Hunted
from salvage.project.project import Grain


def search(
    question: Question,
    *,
    seconds: float | None = None,
    steps: int | None = None,
    seed: int = 0,
    progress: Callable[[float], None] | None = None,
    start: Sequence[Placed] = (),
) -> Hunted:
    """One hunt to its end: seconds, or item moves on each fabric, after which the answer depends on the seed alone."""
    hunt = Hunt(question, seed=seed, workers=2, steps=steps, start=start)
    ends = Clock(seconds, None, progress)
    with hunt:
        hunt.work(ends.ended)
    return hunt.found()


def rect(w: float, h: float) -> tuple[tuple[float, float], ...]:
    return ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h))


def polygon_of(question: Question, placed: Placed) -> Polygon:
    polygon = Polygon(question.shapes[placed.shape].outline)
    if placed.flipped:
        polygon = affinity.scale(polygon, -1, 1, origin=(0, 0))
    return affinity.translate(affinity.rotate(polygon, placed.angle, origin=(0, 0)), placed.x, placed.y)


def assert_good(question: Question, placed: tuple[Placed, ...]) -> None:
    """In the cloth, apart, turned and flipped as allowed, no copy too many."""
    polygons = [polygon_of(question, p) for p in placed]
    for p, polygon in zip(placed, polygons, strict=True):
        shape, cloth = question.shapes[p.shape], question.cloths[p.cloth]
        assert shape.fabric == cloth.fabric
        assert cloth.polygon.buffer(1e-6).covers(polygon)
        turns = allowed_turns(shape, cloth)
        off = 0.0 if shape.angles is not None else shape.off_grain
        turn = p.angle + 90 - cloth.grain
        assert turns is None or any(abs((turn - t + 180) % 360 - 180) <= off + 1e-6 for t in turns)
        assert not p.flipped or shape.may_flip or shape.mirrored_pair
    for n, a in enumerate(polygons):
        for m in range(n):
            if placed[n].cloth == placed[m].cloth:
                if question.gap:
                    assert a.distance(polygons[m]) > question.gap - 1e-6
                else:
                    assert a.intersection(polygons[m]).area < 1e-4
    there = Counter(p.shape for p in placed)
    assert all(there[s] <= shape.count for s, shape in enumerate(question.shapes))


EASY = Question(
    (Cloth("a", Polygon(rect(400, 500), [rect(40, 40)]).difference(box(-1, -1, 41, 41)), grain=90.0),
     Cloth("b", affinity.rotate(box(0, 0, 300, 260), 20, origin=(0, 0)), grain=110.0)),
    (Shape("body", rect(180, 240), count=2), Shape("tab", rect(60, 90), count=5, grain=Grain.ACROSS),
     Shape("round", tuple(Point(0, 0).buffer(60, quad_segs=6).exterior.coords)[:-1], grain=Grain.ANY)),
    3.0,
)  # fmt: skip

# cut from a sheet of 300 x 200 by straight cuts, no waste at all
FULL = Question(
    (Cloth("sheet", box(10, 20, 310, 220)),),
    tuple(Shape(f"p{n}", rect(w, h)) for n, (w, h) in enumerate(
        [(120, 200), (180, 70), (100, 130), (80, 50), (80, 80)])),
)  # fmt: skip

TOO_MUCH = Question((Cloth("sheet", box(0, 0, 300, 200)),), (Shape("a", rect(160, 110), count=3),))


def test_easy_question_is_laid_out_whole() -> None:
    found = search(EASY, steps=3000)
    assert found.complete
    assert_good(EASY, found.placed)


def test_sheet_without_waste_is_put_together_again() -> None:
    found = search(FULL, steps=20000)
    assert found.complete
    assert_good(FULL, found.placed)


def test_shape_as_large_as_the_cloth_fits() -> None:
    question = Question((Cloth("c", box(5, 5, 105, 205)),), (Shape("s", rect(100, 200)),))
    decision = decide(question, steps=50)
    assert decision.complete
    assert decision.proof is None


def test_same_seed_same_answer_however_the_work_is_divided(monkeypatch: pytest.MonkeyPatch) -> None:
    hard = Question(FULL.cloths, FULL.shapes, gap=0.5)  # no room for a gap: never done early
    answers = []
    for turn in (0.03, 0.001, 0.2):
        monkeypatch.setattr(search_module, "_TURN", turn)
        answers.append(search(hard, steps=400, seed=3))
    assert answers[0] == answers[1] == answers[2]
    assert search(EASY, steps=3000, seed=5) == search(EASY, steps=3000, seed=5)


def test_stopped_search_gives_the_best_so_far() -> None:
    asked = 0

    def stop() -> bool:
        nonlocal asked
        asked += 1
        return asked > 30

    decision = decide(Question(TOO_MUCH.cloths, (*TOO_MUCH.shapes,)), seconds=60, stop=stop)
    assert not decision.complete
    assert decision.seconds < 60
    assert_good(TOO_MUCH, decision.placed)
    assert len(decision.placed) + len(decision.unplaced) == 3


def test_search_goes_on_from_an_earlier_layout() -> None:
    first = search(EASY, steps=3000)
    again = search(EASY, steps=20, start=first.placed)
    assert again.complete
    assert set(again.placed) == set(first.placed)


def test_mirrored_pair_is_cut_half_and_half() -> None:
    outline = ((0.0, 0.0), (120.0, 0.0), (40.0, 200.0), (0.0, 200.0))
    question = Question(
        (Cloth("c", box(0, 0, 300, 420)),), (Shape("front", outline, count=4, mirrored_pair=True),)
    )
    found = search(question, steps=2000)
    assert found.complete
    assert sum(p.flipped for p in found.placed) == 2
    assert_good(question, found.placed)


def test_fabrics_are_kept_apart_and_one_way_cloth_up() -> None:
    cloths = (
        Cloth("w", box(0, 0, 200, 300), "wool", 90.0, True),
        Cloth("l", box(0, 0, 200, 300), "lining", 0.0),
    )
    outline = ((0.0, 0.0), (90.0, 0.0), (60.0, 140.0), (30.0, 140.0))
    shapes = (Shape("a", outline, "wool", 3), Shape("b", outline, "lining", 3))
    found = search(Question(cloths, shapes), steps=2000)
    assert found.complete
    assert_good(Question(cloths, shapes), found.placed)
    assert [p.angle for p in found.placed if p.shape == 0] == [0.0, 0.0, 0.0]


def test_tolerance_off_the_grain_is_used() -> None:
    """A strip fits a leaning cloth only if it may lean as well."""
    cloth = Cloth("c", affinity.rotate(box(0, 0, 50, 400), 4, origin=(0, 0)))
    strict = Question((cloth,), (Shape("s", rect(45, 380)),))
    loose = Question((cloth,), (Shape("s", rect(45, 380), off_grain=4.0),))
    assert decide(strict, steps=60).proof is not None
    found = decide(loose, steps=60)
    assert found.complete
    assert_good(loose, found.placed)


def test_progress_runs_from_nothing_to_one() -> None:
    seen: list[float] = []
    search(TOO_MUCH, seconds=0.2, progress=seen.append)
    assert seen == sorted(seen)
    assert 0 <= seen[0] < 1
    assert math.isclose(seen[-1], 1.0)


def test_fabric_without_cloth_is_a_proved_no() -> None:
    question = Question((Cloth("c", box(0, 0, 90, 90)),), (Shape("s", rect(10, 10), "felt"),))
    decision = decide(question, steps=10)
    assert decision.proof is not None
    assert decision.unplaced == (0,)


def test_far_too_many_ways_are_thinned_out_and_a_part_is_laid(monkeypatch: pytest.MonkeyPatch) -> None:
    """With room for four orientations of six kinds, the four largest are laid, each one way only."""
    monkeypatch.setattr(search_task, "_FAR_TOO_MANY", 4)
    shapes = tuple(
        Shape(f"s{n}", ((0.0, 0.0), (40.0 + 10 * n, 0.0), (20.0, 50.0)), grain=Grain.EITHER) for n in range(6)
    )
    question = Question((Cloth("cloth", box(0, 0, 600, 600)),), shapes)
    (task,) = search_task.make_tasks(question)
    assert len(task.orientations) == 4
    assert [sum(map(len, kind.orientations)) for kind in task.kinds] == [0, 0, 1, 1, 1, 1]
    found = search(question, steps=50)
    assert not found.complete
    assert sorted(p.shape for p in found.placed) == [2, 3, 4, 5]
    assert_good(question, found.placed)


def test_an_edge_along_which_little_could_lie_is_rare() -> None:
    """A wedge's slope, which the cloth's own slope alone matches, is rare; its upright sides are not; a
    slope that nothing matches isn't called rare, as there is nothing to look for."""
    cloth = Cloth("cloth", Polygon([(0, 0), (500, 0), (500, 400), (300, 500), (0, 500)]))
    wedge = Shape("wedge", ((0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 200.0)), grain=Grain.ALONG)
    odd = Shape("odd", ((0.0, 0.0), (90.0, 0.0), (90.0, 31.0)), grain=Grain.ALONG)
    (task,) = search_task.make_tasks(
        Question((cloth,), (wedge, odd, Shape("block", rect(100, 100), count=12)))
    )
    rings = make_rings(task)
    seen = 0
    for o, orientation in enumerate(task.orientations):
        edges = range(rings.first[o], rings.first[o + 1])
        slanting = [e for e in edges if min(abs(rings.ux[e]), abs(rings.uy[e])) > 0.1]
        straight = [e for e in edges if e not in slanting]
        assert [rings.rarity[e] >= 0.5 for e in straight] == [False] * len(straight)
        upright = orientation.turn == 0
        seen += len(slanting)
        assert all((rings.rarity[e] > 0.5) == (orientation.shape == 0 and upright) for e in slanting)
    assert seen >= 3


def test_the_other_worker_searches_on_after_a_first_look() -> None:
    # 8 x 8 squares of 11 can't lie on 80 x 80, so nothing ends the search but the clock.
    full = Question((Cloth("cloth", box(0, 0, 80, 80)),), (Shape("square", rect(11, 11), count=64),), 0.0)
    hunt = Hunt(full, seed=0, workers=2)
    with hunt:
        until = time.monotonic() + 0.1
        hunt.work(lambda: time.monotonic() > until, for_now=True)
        time.sleep(0.5)  # a turn that was under way is over by now
        done = hunt.runs[0][1].steps
        until = time.monotonic() + 20.0
        while hunt.runs[0][1].steps == done and time.monotonic() < until:
            time.sleep(0.01)
        assert hunt.runs[0][1].steps > done

"""Rarity as its definition has it, worked out edge by edge."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from salvage.fit.geometry.task import Task, make_tasks
from salvage.fit.question import Cloth, Question, Shape
from salvage.fit.search.rarity import rarity_of
from salvage.project.project import Grain

PARALLEL = 1.2  # degrees
SCARCE = 5.0  # times its length on offer make an edge half rare

Edge = tuple[int, tuple[float, float], float]  # which outline it is of, its direction, mm


def edges_of(task: Task) -> list[Edge]:
    """Of orientations, then of grounds."""
    found = []
    groups = [[o.ring] for o in task.orientations] + [list(ground.rings) for ground in task.grounds]
    for n, rings in enumerate(groups):
        for ring in rings:
            for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
                long = float(np.hypot(*(b - a)))
                found.append((n, (float(b[0] - a[0]) / long, float(b[1] - a[1]) / long), long))
    return found


def on_offer(task: Task, edges: list[Edge]) -> list[float]:
    """In lengths of each edge what could lie along it: cloth's edges its way, other items' the opposite way, by the
    chance of each."""
    number = len(task.orientations)
    chance = np.zeros(number)
    own = np.zeros(number)
    for kind in task.kinds:
        mine = {o for ways in kind.orientations for o in ways}
        for o in mine:
            chance[o] += kind.count / len(mine)
            own[o] += 1 / len(mine)
    found = []
    for n, way, long in edges:
        if n >= number:
            continue
        offer = 0.0
        for m, other, other_long in edges:
            sign = 1.0 if m >= number else -1.0
            cos = sign * (way[0] * other[0] + way[1] * other[1])
            if np.degrees(np.arccos(np.clip(cos, -1.0, 1.0))) > PARALLEL:
                continue
            share = 1.0 if m >= number else chance[m]
            if m < number and task.orientations[m].shape == task.orientations[n].shape:
                share -= own[m]
            offer += share * other_long
        found.append(offer / long)
    return found


@settings(max_examples=6)
@given(st.integers(0, 10**6))
def test_rarity_is_what_is_on_offer_along_an_edge(seed: int) -> None:
    rng = np.random.default_rng(seed)
    slant = Polygon([(0, 0), (400, 0), (400, 300), (float(rng.integers(50, 350)), 420), (0, 300)])
    # with an up and a down, so that not every edge is there both ways round
    cloths = tuple(
        Cloth(name, cloth, one_way=True)
        for name, cloth in (("a", slant.difference(box(100, 100, 130, 140))), ("b", box(0, 0, 200, 90)))
    )
    shapes = []
    for n in range(3):
        w, h, cut = (float(each) for each in rng.integers(30, 120, 3))
        outline = ((0.0, 0.0), (w, 0.0), (w, h), (min(cut, w - 5), h + 20), (0.0, h))
        grain = (Grain.ALONG, Grain.EITHER)[int(rng.integers(2))]
        shapes.append(Shape(f"s{n}", outline, count=int(rng.integers(1, 5)), grain=grain))
    (task,) = make_tasks(Question(cloths, tuple(shapes)))
    edges = edges_of(task)
    owner = np.array([n for n, _, _ in edges])
    unit, length = np.array([way for _, way, _ in edges]), np.array([long for _, _, long in edges])
    told = rarity_of(task, owner, unit, length, PARALLEL)
    for rarity, offer in zip(told.tolist(), on_offer(task, edges), strict=True):
        enough = offer > 0.5 - 1e-6  # just half is enough, whatever rounding makes of it
        assert rarity == pytest.approx(1 / (1 + offer / SCARCE) if enough else 0.0, abs=1e-6)


def test_by_hand() -> None:
    """A square of 50 alone on a cloth of 100 x 200: along each side lies one of the cloth, 2 or 4 times as long."""
    (task,) = make_tasks(
        Question(
            (Cloth("a", box(0, 0, 100, 200)),),
            (Shape("s", ((0.0, 0.0), (50.0, 0.0), (50.0, 50.0), (0.0, 50.0))),),
        )
    )
    edges = edges_of(task)
    owner = np.array([n for n, _, _ in edges])
    unit, length = np.array([way for _, way, _ in edges]), np.array([long for _, _, long in edges])
    told = rarity_of(task, owner, unit, length, PARALLEL)
    flat = [abs(way[0]) > 0.5 for n, way, _ in edges if n < len(task.orientations)]
    assert told.tolist() == pytest.approx(
        [1 / (1 + 100 / 250) if each else 1 / (1 + 200 / 250) for each in flat]
    )


def test_the_slants_of_two_alike_lie_along_one_another() -> None:
    """Of two triangles, each laid either way up, one offers the other just half its slant: of any size."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        w, h = (float(each) for each in rng.uniform(30, 90, 2))
        corners = ((0.0, 0.0), (w, 0.0), (0.0, h))
        (task,) = make_tasks(
            Question((Cloth("a", box(0, 0, 400, 500)),), (Shape("s", corners, count=2, grain=Grain.ALONG),))
        )
        edges = edges_of(task)
        owner = np.array([n for n, _, _ in edges])
        unit, length = np.array([way for _, way, _ in edges]), np.array([long for _, _, long in edges])
        slants = [min(map(abs, way)) > 0.1 for n, way, _ in edges if n < len(task.orientations)]
        assert sum(slants) == 2
        told = rarity_of(task, owner, unit, length, PARALLEL)[slants]
        assert told.tolist() == pytest.approx([1 / (1 + 0.5 / SCARCE)] * 2)

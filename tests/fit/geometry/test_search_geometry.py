"""Convex parts, no-fit polygons and overlap depths against shapely, which works them out another way."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box

from salvage.fit.geometry.convex import convex_parts
from salvage.fit.geometry.plainer import simpler
from salvage.fit.geometry.tables import make_tables
from salvage.fit.geometry.task import make_tasks
from salvage.fit.geometry.turning import turned
from salvage.fit.kernels.calls import outside_of, overlap_of
from salvage.fit.question import Cloth, Question, Shape, angle_of_turn
from salvage.project.project import Grain

seeds = st.integers(0, 10**6)


def star(seed: int, corners: int, size: float) -> Polygon:
    """A simple polygon, as a rule not convex."""
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.random(corners)) * 2 * np.pi + np.arange(corners) * 1e-3
    radius = size * rng.uniform(0.25, 1.0, corners)
    return Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])).buffer(0)


@settings(deadline=None, max_examples=60)
@given(seeds, st.integers(3, 14))
def test_convex_parts_are_convex_and_cover_the_polygon_exactly(seed: int, corners: int) -> None:
    polygon = star(seed, corners, 100.0)
    if not isinstance(polygon, Polygon) or polygon.area < 1:
        return
    parts = [Polygon(ring) for ring in convex_parts(polygon)]
    assert max(part.convex_hull.area - part.area for part in parts) < 1e-6
    assert sum(part.area for part in parts) == pytest.approx(polygon.area, abs=1e-6)
    assert shapely.union_all(parts).symmetric_difference(polygon).area < 1e-6


@settings(deadline=None, max_examples=40)
@given(seeds)
def test_simpler_outlines_err_to_the_safe_side(seed: int) -> None:
    polygon = star(seed, 9, 100.0).buffer(8.0, quad_segs=30)
    assert simpler(polygon, 30, grow=True).covers(polygon)
    assert polygon.covers(simpler(polygon, 30, grow=False))


def question(one: Polygon, two: Polygon, cloth: Polygon, gap: float) -> Question:
    outlines = [tuple(map(tuple, shapely.get_coordinates(p)[:-1])) for p in (one, two)]
    shapes = tuple(Shape(f"s{n}", o, grain=Grain.EITHER) for n, o in enumerate(outlines))
    return Question((Cloth("cloth", cloth, grain=70.0),), shapes, gap)


@settings(deadline=None, max_examples=40)
@given(seeds, st.sampled_from([0.0, 3.0]))
def test_overlap_is_nothing_exactly_where_shapely_finds_the_gap(seed: int, gap: float) -> None:
    one, two = star(seed, 7, 60.0), star(seed + 1, 8, 50.0)
    if any(isinstance(p, MultiPolygon) or p.area < 50 for p in (one, two)):
        return
    (task,) = make_tasks(question(one, two, box(-300, -300, 300, 300), gap))
    tables = make_tables(task)
    rng = np.random.default_rng(seed)
    polygons = [turned(task.outlines[o.shape], o.turn) for o in task.orientations]
    polygons = [affinity.translate(p, -o.middle[0], -o.middle[1])
                for p, o in zip(polygons, task.orientations, strict=True)]  # fmt: skip
    for _ in range(30):
        a, b = rng.integers(len(polygons), size=2)
        x, y = rng.uniform(-130, 130, 2)
        moved = affinity.translate(polygons[b], x, y)
        depth = overlap_of(tables.packed, a, b, x, y)
        if gap == 0 or polygons[a].intersects(moved):
            area = polygons[a].intersection(moved).area
            assert (depth > 0) == (area > 1e-9) or area < 1e-5
        else:
            short = gap - polygons[a].distance(moved)
            assert (depth > 0) == (short > 0) or abs(short) < 1e-6


@settings(deadline=None, max_examples=30)
@given(seeds)
def test_outside_is_nothing_exactly_within_the_cloth(seed: int) -> None:
    cloth = star(seed, 11, 300.0)
    if isinstance(cloth, MultiPolygon) or cloth.area < 2e4:
        return
    hole = cloth.representative_point().buffer(12, quad_segs=2)
    cloth = cloth.difference(hole)
    if not isinstance(cloth, Polygon):
        return
    piece = star(seed + 5, 6, 30.0)
    if isinstance(piece, MultiPolygon) or piece.area < 20:
        return
    (task,) = make_tasks(question(piece, piece, cloth, 0.0))
    tables = make_tables(task)
    rng = np.random.default_rng(seed)
    for _ in range(30):
        o = int(rng.integers(len(task.orientations)))
        x, y = rng.uniform(-250, 250, 2)
        placed = task.placed(0, o, x, y)
        assert placed.angle == pytest.approx(
            angle_of_turn(task.orientations[o].turn, Cloth("c", cloth, grain=70.0))
        )
        polygon = affinity.translate(turned(piece, placed.angle), placed.x, placed.y)
        out = polygon.difference(cloth).area
        assert (outside_of(tables.packed, 0, o, x, y) > 0) == (out > 1e-9) or out < 1e-4

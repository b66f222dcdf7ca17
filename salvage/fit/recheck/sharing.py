"""Counts of copies: lattice points on cloths, and that no sharing out keeps all limits."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from salvage.fit.claim import Copies, Lattice
from salvage.fit.question import Cloth, Question
from salvage.fit.recheck.doubt import SLACK, Doubt, Limit
from salvage.fit.recheck.exact import area, area_at_most
from salvage.fit.recheck.ways import arcs, lying, takes

_PITCH_LESS = 0.02  # mm by which the lattice's pitch is less than the rectangle
_INSIDE_LESS = 0.01  # mm by which the rectangle looked for in a shape is less than the one claimed
_HUNDREDTHS = 100  # areas become whole numbers of hundredths of mm^2


def lattice_points(cloth: Cloth, lattice: Lattice, x: float, y: float, gap: float, limit: Limit) -> int:
    """How many points of the lattice through (x, y) lie on the cloth, grain up, drawn out by the gap's share.

    A rectangle drawn out to the right and up by d = gap / sqrt(2) covers a point p just if p less some
    vector of [0, d] x [0, d] lies in the rectangle; so p counts if the square [p - d, p] meets the cloth.
    """
    out = gap / math.sqrt(2) + SLACK if gap > 0 else 0.0
    pitch = [side + gap / math.sqrt(2) - _PITCH_LESS for side in lattice.rectangle]
    upright = affinity.rotate(cloth.polygon, 90.0 - cloth.grain, origin=(0, 0))
    if cloth.grain == 90.0:
        upright = cloth.polygon
    shapely.prepare(upright)
    left, bottom, right, top = upright.bounds
    columns = np.arange(math.floor((left - x) / pitch[0]) - 1, math.ceil((right + out - x) / pitch[0]) + 2)
    rows = np.arange(math.floor((bottom - y) / pitch[1]) - 1, math.ceil((top + out - y) / pitch[1]) + 2)
    limit.spend(4 * len(columns) * len(rows))
    px, py = (each.ravel() for each in np.meshgrid(x + pitch[0] * columns, y + pitch[1] * rows))
    squares = shapely.box(px - out - SLACK, py - out - SLACK, px + SLACK, py + SLACK)
    return int(shapely.intersects(upright, squares).sum())


def holds_rectangle(question: Question, copies: Copies, lattice: Lattice) -> None:
    """Raises Doubt unless the rectangle lies in the copies' outline each way they may lie, where it is said to."""
    shape = question.shapes[copies.shape]
    width, height = (side - _INSIDE_LESS for side in lattice.rectangle)
    middles = {
        (each.shape, round(each.turn % 180, 6), each.flipped): (each.x, each.y) for each in lattice.inside
    }
    outline = Polygon(shape.outline)
    for cloth in question.cloths:
        if not takes(cloth, shape):
            continue
        for angle, half in arcs(shape, cloth):
            if half > 0:
                raise Doubt("a shape that may lie off the grain was counted by its rectangle")
            turn = round((angle - cloth.grain + 90.0) % 180, 6) % 180
            for flipped in copies.flips:
                middle = middles.get((copies.shape, turn, flipped))
                if middle is None:
                    raise Doubt("where a rectangle lies in a shape was not said for each way it may lie")
                x, y = middle
                rectangle = shapely.box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
                if not lying(outline, turn, flipped).covers(rectangle):
                    raise Doubt("the rectangle counted does not lie in each shape")


def most_of(question: Question, lattice: Lattice, limit: Limit) -> dict[int, int]:
    """By cloth, at most how many of the lattice's copies lie on it."""
    return {
        each.cloth: lattice_points(question.cloths[each.cloth], lattice, each.x, each.y, question.gap, limit)
        for each in lattice.counted
    }


def cant_be_shared(
    question: Question,
    copies: Sequence[Copies],
    cloths: Sequence[int],
    alone: Iterable[tuple[int, int]],
    apart: Iterable[tuple[int, int, int]],
    limits: Sequence[tuple[Sequence[int], Mapping[int, int]]],
) -> bool:
    """Whether no sharing out of the copies among the cloths keeps all limits.

    Whole numbers throughout: areas of copies rounded down, of cloths up. limits: copies, and by cloth how
    many of them it takes at most.
    """
    from ortools.sat.python import cp_model

    size = [math.floor(area(Polygon(question.shapes[each.shape].outline)) * _HUNDREDTHS) for each in copies]
    barred, pairs = set(alone), list(apart)
    model = cp_model.CpModel()
    laid = [
        {g: model.new_int_var(0, 0 if (k, g) in barred else each.count, f"laid_{k}_{g}") for g in cloths}
        for k, each in enumerate(copies)
    ]
    for k, each in enumerate(copies):
        model.add(sum(laid[k].values()) == each.count)
    for g in cloths:
        room = math.ceil(area_at_most(question.cloths[g].polygon, 0.0) * _HUNDREDTHS)
        model.add(sum(size[k] * laid[k][g] for k in range(len(copies))) <= room)
    for k, m, g in pairs:
        if k == m:
            model.add(laid[k][g] <= 1)
        else:
            either = model.new_bool_var(f"first_{k}_{m}_{g}")
            model.add(laid[m][g] == 0).only_enforce_if(either)
            model.add(laid[k][g] == 0).only_enforce_if(~either)
    for group, most in limits:
        for g in cloths:
            if g in most:
                model.add(sum(laid[k][g] for k in group) <= most[g])
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = 4.0
    solver.parameters.catch_sigint_signal = False
    return bool(solver.solve(model) == cp_model.INFEASIBLE)

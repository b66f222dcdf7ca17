"""That shapes don't lie on the cloths together, because on a grid of squares they don't.

What a shape holds of squares of one side, side by side, is enough: they are found in each shape once, turned by
counting, and put on a grid as large as the cloth's bounding box. README.md has why no place off the grid matters.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely import affinity
from shapely.geometry import Polygon

from salvage.fit.claim import Copies, OnAGrid
from salvage.fit.question import Cloth, Question
from salvage.fit.recheck.doubt import SLACK, Doubt, Limit
from salvage.fit.recheck.ways import arcs, takes

# Let a square miss what it should be by LESS at most, and the grid begin anywhere in BEFORE mm before the cloth:
# each of the copies, of which there are MOST at most, spoils 6 LESS of that for either direction.
_LESS, _BEFORE, _MOST = 1e-6, 0.02, 1000
_MOST_SQUARES, _MOST_WAYS = 2_000, 40_000
_EFFORT = 8.0  # about seconds

Square = tuple[int, int]


def cant_lie_together(question: Question, claim: OnAGrid, limit: Limit) -> bool:
    """Whether the copies have no place together on the cloths of the fabric. Raises Doubt where it can't be told."""
    if claim.side <= 100 * _LESS or sum(each.count for each in claim.copies) > _MOST:
        raise Doubt("there are too many squares to look at")
    cloths = [g for g, each in enumerate(question.cloths) if each.fabric == claim.fabric]
    sizes = {g: _grid_of(question.cloths[g], claim.side) for g in cloths}
    if sum(columns * rows for columns, rows in sizes.values()) > _MOST_SQUARES:
        raise Doubt("there are too many squares to look at")
    choices: list[list[frozenset[tuple[int, int, int]]]] = []
    for each in claim.copies:
        limit.spend(1000)
        drawn = _squares_in(Polygon(question.shapes[each.shape].outline), claim.side)
        mine: set[frozenset[tuple[int, int, int]]] = set()
        for g in cloths:
            for squares in _lying(question, each, question.cloths[g], drawn):
                columns, rows = sizes[g]
                width, height = (max(values) + 1 for values in zip(*squares, strict=True))
                mine |= {
                    frozenset((g, i + a, j + b) for i, j in squares)
                    for a in range(columns - width + 1)
                    for b in range(rows - height + 1)
                }
        choices.append(sorted(mine, key=sorted))
    if sum(map(len, choices)) > _MOST_WAYS:
        raise Doubt("there are too many places to look at")
    return _none(claim.copies, choices)


def _grid_of(cloth: Cloth, side: float) -> Square:
    """Columns and rows: no rectangle as large as the cloth's bounding box, grain up, needs more."""
    upright = affinity.rotate(cloth.polygon, 90.0 - cloth.grain, origin=(0, 0))
    left, bottom, right, top = upright.bounds
    more = _BEFORE + 2 * SLACK
    return math.floor((right - left + more) / side), math.floor((top - bottom + more) / side)


def _squares_in(outline: Polygon, side: float) -> list[Square]:
    """Squares of the grid through the lower left of its bounds that lie in the outline, but for LESS."""
    left, bottom, right, top = outline.bounds
    columns, rows = (math.floor((far + _LESS) / side) for far in (right - left, top - bottom))
    if columns * rows > _MOST_SQUARES:
        raise Doubt("there are too many squares to look at")
    found = [
        (i, j)
        for i in range(columns)
        for j in range(rows)
        if outline.covers(
            shapely.box(
                left + i * side + _LESS,
                bottom + j * side + _LESS,
                left + (i + 1) * side - _LESS,
                bottom + (j + 1) * side - _LESS,
            )
        )
    ]
    if not found:
        raise Doubt("a shape holds none of the squares")
    return found


def _lying(
    question: Question, copies: Copies, cloth: Cloth, drawn: Sequence[Square]
) -> set[frozenset[Square]]:
    """The squares of the shape each way it may lie on the cloth, moved to begin at column and row 0."""
    shape = question.shapes[copies.shape]
    if not takes(cloth, shape):
        return set()
    found = set()
    for angle, half in arcs(shape, cloth):
        turn = round((angle - cloth.grain + 90.0) % 360, 9) % 360
        if half > 0 or shape.angles is not None or turn % 90:
            raise Doubt("a shape that may lie off the grid was counted by its squares")
        for flipped in copies.flips:
            squares = [(-i, j) if flipped else (i, j) for i, j in drawn]
            for _ in range(int(turn // 90)):
                squares = [(-j, i) for i, j in squares]
            first, low = min(i for i, _ in squares), min(j for _, j in squares)
            found.add(frozenset((i - first, j - low) for i, j in squares))
    return found


def _none(copies: Sequence[Copies], choices: Sequence[Sequence[frozenset[tuple[int, int, int]]]]) -> bool:
    """Whether no choice of places, as many as there are copies, leaves every square to one of them at most."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    on: dict[tuple[int, int, int], list[object]] = {}
    for k, (each, places) in enumerate(zip(copies, choices, strict=True)):
        chosen = [model.new_bool_var(f"{k}_{n}") for n in range(len(places))]
        model.add(sum(chosen) >= each.count)
        for variable, squares in zip(chosen, places, strict=True):
            for square in squares:
                on.setdefault(square, []).append(variable)
    for variables in on.values():
        model.add(sum(variables) <= 1)  # type: ignore[arg-type]
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = _EFFORT
    solver.parameters.catch_sigint_signal = False
    return bool(solver.solve(model) == cp_model.INFEASIBLE)

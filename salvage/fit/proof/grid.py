"""Proof that shapes made of equal squares don't lie on the cloth together, wherever off the grid they may lie.

Rounded down to a grid of the squares' side, shapes that don't overlap still don't: see README.md. So if no
way to put them on the grid is found by a search through all of them, there is none at all.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from salvage.fit.claim import Copies, OnAGrid, Proof
from salvage.fit.geometry.turning import turned
from salvage.fit.question import Cloth, Question, Shape, allowed_turns, takes

_PER_MM = 1000  # lengths are compared in whole micrometres
_LEAST_SIDE = 5.0  # mm
_ROOM = 0.05  # mm by which the grid may begin before the cloth does, and what rounding may come to
_HAIR = 1e-7  # mm by which a square may stick out of its shape
_MOST_SQUARES, _MOST_WAYS = 400, 8_000
_TIGHT = 0.85  # of the squares asked for; with more to spare there is a way
_EFFORT = 2.0  # about seconds, but the same on any machine

Squares = NDArray[np.int64]  # (n, 2), columns and rows


def none_on_a_grid(question: Question, fabric: str, ended: Callable[[], bool]) -> Proof | None:
    """The proof for the shapes of a fabric that are made of squares and lie along or across the grain."""
    cloths = [g for g, each in enumerate(question.cloths) if each.fabric == fabric]
    able = [s for s, each in enumerate(question.shapes) if each.fabric == fabric and _may(question, each)]
    side = _side_of([question.shapes[s] for s in able])
    if side is None or ended():
        return None
    copies = tuple(each for s in able for each in _copies(question.shapes[s], s))
    sizes = {g: _size(question.cloths[g], side) for g in cloths}
    there = sum(columns * rows for columns, rows in sizes.values())
    asked = sum(each.count * Polygon(question.shapes[each.shape].outline).area for each in copies) / side**2
    if there > _MOST_SQUARES or not _TIGHT * there <= asked:
        return None
    ways = [
        (k, g, squares)
        for k, each in enumerate(copies)
        for g in cloths
        for squares in _ways(question.shapes[each.shape], each, question.cloths[g], sizes[g], side)
    ]
    if len(ways) > _MOST_WAYS or ended() or not _is_impossible(copies, ways):
        return None
    return Proof(OnAGrid(fabric, copies, side), question)


def _may(question: Question, shape: Shape) -> bool:
    """Whether it lies along or across the grain only, and its edges too."""
    if shape.angles is not None or shape.off_grain:
        return False
    turns = [allowed_turns(shape, cloth) for cloth in question.cloths if takes(cloth, shape)]
    ring = np.array(shape.outline)
    edges = np.abs(np.roll(ring, -1, axis=0) - ring).min(axis=1)
    return all(each is not None and all(turn % 90 == 0 for turn in each) for each in turns) and bool(
        (edges < _HAIR).all()
    )


def _side_of(shapes: list[Shape]) -> float | None:
    """Side of the largest squares that all of them are made of, mm; None if there are none worth it."""
    side = 0
    for shape in shapes:
        ring = np.array(shape.outline)
        for step in np.abs(np.roll(ring, -1, axis=0) - ring).ravel():
            side = math.gcd(side, round(float(step) * _PER_MM))
    return side / _PER_MM if side >= _LEAST_SIDE * _PER_MM else None


def _copies(shape: Shape, index: int) -> Iterator[Copies]:
    if not shape.mirrored_pair or shape.may_flip:
        yield Copies(index, (False, True) if shape.may_flip else (False,), shape.count)
        return
    yield Copies(index, (False,), shape.count - shape.count // 2)
    yield Copies(index, (True,), shape.count // 2)


def _size(cloth: Cloth, side: float) -> tuple[int, int]:
    """Columns and rows of squares that the cloth's bounding box, grain up, has room for."""
    left, bottom, right, top = turned(cloth.polygon, 90.0 - cloth.grain).bounds
    return math.floor((right - left + _ROOM) / side), math.floor((top - bottom + _ROOM) / side)


def _squares(outline: Polygon, side: float) -> Squares:
    """The squares of the grid through its lower left corner that lie in it."""
    left, bottom, right, top = outline.bounds
    columns, rows = round((right - left) / side), round((top - bottom) / side)
    i, j = (each.ravel() for each in np.meshgrid(np.arange(columns), np.arange(rows)))
    boxes = shapely.box(
        left + i * side + _HAIR,
        bottom + j * side + _HAIR,
        left + (i + 1) * side - _HAIR,
        bottom + (j + 1) * side - _HAIR,
    )
    inside = shapely.covers(outline, boxes)
    return np.stack([i[inside], j[inside]], axis=-1)


def _ways(
    shape: Shape, copies: Copies, cloth: Cloth, size: tuple[int, int], side: float
) -> Iterator[list[int]]:
    """Numbers of the squares of the cloth's grid that each way to lie covers."""
    if not takes(cloth, shape):
        return
    seen: set[bytes] = set()
    for flipped in copies.flips:
        for turn in allowed_turns(shape, cloth) or ():
            squares = _squares(turned(Polygon(shape.outline), turn, flipped), side)
            if not len(squares) or squares.tobytes() in seen:
                continue
            seen.add(squares.tobytes())
            reach = squares.max(axis=0) + 1
            for i in range(size[0] - reach[0] + 1):
                for j in range(size[1] - reach[1] + 1):
                    yield [int((a + i) * size[1] + b + j) for a, b in squares]


def _is_impossible(copies: tuple[Copies, ...], ways: list[tuple[int, int, list[int]]]) -> bool:
    """Whether a solver finds that no choice of ways has all the copies and no square twice."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    taken = [model.new_bool_var(f"w{n}") for n in range(len(ways))]
    over: dict[tuple[int, int], list[int]] = {}
    for n, (_, g, squares) in enumerate(ways):
        for square in squares:
            over.setdefault((g, square), []).append(n)
    for k, each in enumerate(copies):
        model.add(sum(taken[n] for n, way in enumerate(ways) if way[0] == k) == each.count)
    for together in over.values():
        model.add_at_most_one(taken[n] for n in together)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = _EFFORT
    solver.parameters.catch_sigint_signal = False  # Ctrl-C is the caller's
    return bool(solver.solve(model) == cp_model.INFEASIBLE)

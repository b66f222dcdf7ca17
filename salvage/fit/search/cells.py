"""Shapes made of equal squares on cloth that holds not many more of them: an exact cover, by a solver.

What has hardly any room to move is found by chance only; here every way to lie on the grid is listed, and
a solver picks those that cover no square twice. It says nothing of layouts off the grid.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from salvage.fit.geometry.turning import trig, turned
from salvage.fit.question import Cloth, Placed, Question, Shape, allowed_turns, takes

_PER_MM = 1000  # lengths are compared in whole micrometres
_MOST_CELLS, _MOST_WAYS = 600, 20_000
_TIGHT = 0.85  # of the cloth asked for
_LEAST_CELL = 2.0  # mm
_HAIR = 1e-6  # mm
_QUARTERS = (0.0, 90.0, 180.0, 270.0)

Cells = frozenset[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to lie: which copies it is one of (shape, flipped), where, and the squares of the cloth it covers."""

    kind: tuple[int, bool]
    placed: Placed
    covers: tuple[tuple[int, int, int], ...]


def on_a_grid(question: Question, *, seconds: float | None) -> list[Placed] | None:
    """A layout of all copies on a grid of squares; None if the shapes aren't made of such, or none was found.

    seconds: at most so many; None for a limit that is the same on any machine.
    """
    cell = _cell_of(question)
    if cell is None or question.gap > 0 or not _is_tight(question):
        return None
    ways: list[_Way] = []
    for index, cloth in enumerate(question.cloths):
        upright = turned(cloth.polygon, 90.0 - cloth.grain)
        left, bottom, right, top = upright.bounds
        if (right - left) * (top - bottom) > _MOST_CELLS * cell**2:
            return None
        free = _free(upright, cell)
        for s, shape in enumerate(question.shapes):
            if takes(cloth, shape):
                ways += _ways(s, shape, index, cloth, free, (left, bottom), cell)
        if len(ways) > _MOST_WAYS:
            return None
    return _chosen(question, ways, seconds) if ways else None


def _is_tight(question: Question) -> bool:
    """Whether hardly any cloth is to spare; where there is more the search does as well."""
    asked = sum(shape.count * Polygon(shape.outline).area for shape in question.shapes)
    return asked >= _TIGHT * sum(cloth.polygon.area for cloth in question.cloths)


def _cell_of(question: Question) -> float | None:
    """Side of the largest squares that all shapes are made of, mm; None if there are none."""
    side = 0
    for shape in question.shapes:
        ring = np.array(shape.outline)
        steps = np.abs(np.roll(ring, -1, axis=0) - ring) * _PER_MM
        if (steps.min(axis=1) > 1).any():
            return None
        for step in np.round(steps).astype(int).ravel():
            side = math.gcd(side, int(step))
    return side / _PER_MM if side >= _LEAST_CELL * _PER_MM else None


def _free(upright: Polygon, cell: float) -> Cells:
    """Columns and rows of the squares that lie on the cloth, counted from its lower left corner."""
    left, bottom, right, top = upright.bounds
    columns, rows = int((right - left) / cell + _HAIR), int((top - bottom) / cell + _HAIR)
    shapely.prepare(upright)
    found = set()
    for i in range(columns):
        for j in range(rows):
            x, y = left + i * cell, bottom + j * cell
            if upright.covers(shapely.box(x + _HAIR, y + _HAIR, x + cell - _HAIR, y + cell - _HAIR)):
                found.add((i, j))
    return frozenset(found)


def _ways(
    s: int, shape: Shape, index: int, cloth: Cloth, free: Cells, corner: tuple[float, float], cell: float
) -> list[_Way]:
    turns = allowed_turns(shape, cloth)
    flips = (False, True) if shape.may_flip or shape.mirrored_pair else (False,)
    cos, sin = trig(cloth.grain - 90.0)
    found: list[_Way] = []
    known: set[tuple[Cells, bool]] = set()
    for flipped in flips:
        for turn in _QUARTERS if turns is None else [each for each in turns if each % 90 == 0]:
            outline = turned(Polygon(shape.outline), turn, flipped)
            cells = _free(outline, cell)
            side = flipped and shape.mirrored_pair  # of a pair, the mirrored ones count by themselves
            if abs(len(cells) * cell**2 - outline.area) > 1e-3 * cell**2 or (cells, side) in known:
                continue
            known.add((cells, side))
            for i, j in free:
                covered = [(i + a, j + b) for a, b in cells]
                if not free.issuperset(covered):
                    continue
                x = corner[0] + i * cell - outline.bounds[0]
                y = corner[1] + j * cell - outline.bounds[1]
                angle = (turn + cloth.grain - 90.0) % 360
                placed = Placed(s, index, angle, flipped, cos * x - sin * y, sin * x + cos * y)
                found.append(_Way((s, side), placed, tuple((index, a, b) for a, b in covered)))
    return found


def _chosen(question: Question, ways: list[_Way], seconds: float | None) -> list[Placed] | None:
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    taken = [model.new_bool_var(f"w{n}") for n in range(len(ways))]
    of_kind: dict[tuple[int, bool], list[int]] = {}
    of_cell: dict[tuple[int, int, int], list[int]] = {}
    for n, way in enumerate(ways):
        of_kind.setdefault(way.kind, []).append(n)
        for each in way.covers:
            of_cell.setdefault(each, []).append(n)
    for s, shape in enumerate(question.shapes):
        mirrored = shape.count // 2 if shape.mirrored_pair else 0
        for kind, count in (((s, False), shape.count - mirrored), ((s, True), mirrored)):
            model.add(sum(taken[n] for n in of_kind.get(kind, [])) == count)
    for together in of_cell.values():
        model.add_at_most_one(taken[n] for n in together)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = 4.0
    solver.parameters.catch_sigint_signal = False  # Ctrl-C is the caller's
    if seconds is not None:
        solver.parameters.max_time_in_seconds = max(0.05, seconds)
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return [way.placed for n, way in enumerate(ways) if solver.value(taken[n])]

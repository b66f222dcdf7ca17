"""Which garment for which project, so that most is made: each garment once, a small integer program (OR-Tools CP-SAT)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

_FINE = 1000  # a value is worth knowing to a thousandth
_SECONDS = 20.0  # for one program; such an assignment takes milliseconds

Pair = tuple[int, int]  # index of the garment, index of the project


@dataclass(frozen=True, slots=True)
class Assignment:
    """pairs: in the order of the garments. worth: of all that is made."""

    pairs: tuple[Pair, ...]
    worth: float


def assign(
    pairs: Sequence[Pair],
    *,
    worth: Sequence[float],
    wanted: Sequence[int | None],
    cost: Mapping[Pair, int] | None = None,
) -> Assignment:
    """The assignment that is worth most; among those the one that costs least.

    worth: of each project made once; wanted: how many of each, None for as many as can be. cost: of a pair, whole
    numbers, 0 where it isn't told. Raises ValueError for a worth below 0.
    """
    if min(worth, default=0.0) < 0:
        raise ValueError("a project can't be worth less than nothing")
    useful = [pair for pair in pairs if round(worth[pair[1]] * _FINE) > 0 and wanted[pair[1]] != 0]
    if not useful:
        return Assignment((), 0.0)
    model = cp_model.CpModel()
    taken = {pair: model.new_bool_var(f"{pair}") for pair in useful}
    for garment in {pair[0] for pair in useful}:
        model.add_at_most_one(var for pair, var in taken.items() if pair[0] == garment)
    for project, most in enumerate(wanted):
        if most is not None:
            model.add(sum(var for pair, var in taken.items() if pair[1] == project) <= most)
    value = sum(round(worth[pair[1]] * _FINE) * var for pair, var in taken.items())
    model.maximize(value)
    chosen, best = _solved(model, taken)
    if cost:
        model.add(value >= sum(round(worth[pair[1]] * _FINE) for pair in chosen))
        model.clear_objective()
        model.minimize(sum(cost.get(pair, 0) * var for pair, var in taken.items()))
        for pair, var in taken.items():
            model.add_hint(var, int(pair in chosen))
        chosen, _ = _solved(model, taken)
    return Assignment(tuple(sorted(chosen)), best / _FINE)


def _solved(model: cp_model.CpModel, taken: Mapping[Pair, cp_model.IntVar]) -> tuple[set[Pair], float]:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1  # the same answer every time
    solver.parameters.max_time_in_seconds = _SECONDS
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return set(), 0.0
    return {pair for pair, var in taken.items() if solver.value(var)}, solver.objective_value

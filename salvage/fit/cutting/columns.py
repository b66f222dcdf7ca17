"""Tracks that go well together: of hundreds that touch each other, the few worth putting before a solver.

A millimetre of each width gets a price. At these prices the best columns of a bit of cloth, side by side, are found
exactly, from right to left; then a width of which too little came out gets dearer, one of which there is plenty
cheaper. What comes out again and again, with the prices shaken a little each time, is what a layout is made of.
Source: column generation by Lagrangian prices, as in Gilmore and Gomory, A linear programming approach to the
cutting-stock problem, Operations Research 9 (1961), from memory.
"""

from __future__ import annotations

import random
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from salvage.fit.cutting.strips import cost_of_join
from salvage.fit.cutting.tracks import Track
from salvage.project.project import Strip

_SHAKEN = 0.03  # share by which prices of single tracks differ
_STEEPEST = 2.0  # times a price may change at once
_TOUCHING = 1e-9  # mm
_DIGITS = 5  # of a left side, mm: tracks that begin there are one column


@dataclass(frozen=True, slots=True)
class _Column:
    """Tracks one above the other. after: number of the first column of its bit that may lie to its right."""

    tracks: tuple[int, ...]
    after: int


def drawn(
    strips: Sequence[Strip], tracks: Sequence[Track], gap: float, rng: random.Random
) -> Iterator[set[int]]:
    """Without end: numbers of tracks that can all be cut, and together may be enough for all these strips."""
    bits = _columns(tracks, gap)
    cost, need = _by_width(strips)
    price = {width: width for width in need}
    worth = [max(0.0, each.length - cost[each.width]) for each in tracks]
    while True:
        value = [
            price[track.width] * worth[n] * max(0.0, 1.0 + rng.gauss(0.0, _SHAKEN))
            for n, track in enumerate(tracks)
        ]
        chosen: set[int] = set()
        for angles in bits:
            chosen.update(max((_best(columns, value) for columns in angles), key=lambda best: best[0])[1])
        yield chosen
        for width, asked in need.items():
            there = sum(worth[n] for n in chosen if tracks[n].width == width)
            change = asked / there if there > 0 else _STEEPEST
            price[width] *= min(_STEEPEST, max(1 / _STEEPEST, change)) ** 0.5


def _by_width(strips: Iterable[Strip]) -> tuple[Mapping[float, float], Mapping[float, float]]:
    """What a join costs at least, and how much length is needed beyond those: mm, by width."""
    cost: dict[float, float] = {}
    need: dict[float, float] = {}
    for strip in strips:
        width, joined = strip.cut_width, cost_of_join(strip)
        cost[width] = min(joined, cost.get(width, joined))
        need[width] = need.get(width, 0.0) + max(1.0, strip.length - joined)
    return cost, need


def _columns(tracks: Sequence[Track], gap: float) -> list[list[list[_Column]]]:
    """Columns by bit of cloth, by the angle at which they lie there, from left to right."""
    found: dict[int, dict[float, dict[tuple[float, float], list[int]]]] = {}
    for n, track in enumerate(tracks):
        columns = found.setdefault(track.bit, {}).setdefault(track.angle, {})
        columns.setdefault((round(track.left, _DIGITS), track.width), []).append(n)
    return [
        [_in_order(tracks, columns.values(), gap) for columns in angles.values()] for angles in found.values()
    ]


def _in_order(tracks: Sequence[Track], columns: Iterable[list[int]], gap: float) -> list[_Column]:
    ordered = sorted(columns, key=lambda column: tracks[column[0]].left)
    lefts = [tracks[column[0]].left for column in ordered]
    return [
        _Column(tuple(column), bisect_left(lefts, left + tracks[column[0]].width + gap - _TOUCHING, n + 1))
        for n, (column, left) in enumerate(zip(ordered, lefts, strict=True))
    ]


def _best(columns: Sequence[_Column], value: Sequence[float]) -> tuple[float, list[int]]:
    """The most that columns side by side are worth, and the tracks in them."""
    most = [0.0] * (len(columns) + 1)
    taken = [False] * len(columns)
    for n in range(len(columns) - 1, -1, -1):
        column = columns[n]
        here = sum(value[track] for track in column.tracks) + most[column.after]
        taken[n] = here > most[n + 1]
        most[n] = here if taken[n] else most[n + 1]
    chosen: list[int] = []
    n = 0
    while n < len(columns):
        if taken[n]:
            chosen.extend(columns[n].tracks)
        n = columns[n].after if taken[n] else n + 1
    return most[0], chosen

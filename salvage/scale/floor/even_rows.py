"""Lines at equal distances: rows of boards of one width, of tiles of one size."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from salvage.scale.floor.lines import Even, FloorLines

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_CLOSEST, _FARTHEST = 40.0, 1300.0  # mm
_TOLERANCE = 2.5  # mm, while the camera is still rough
_FEWEST = 4  # numbers of a row that must be there
_FULL = 0.5  # share of the numbers between the first and the last that must be there
_MOST = 0.5  # share of the family's length that must lie on the row
_SURE = 10.0  # logarithm of how much likelier the row is than chance
_BOARDS_DIFFER = 0.02  # distances along and across that differ by more are no square tiles
_ANCHORS = 4  # rows are laid through so many of the longest lines
_TRIED = 5  # distances looked at closely
_CURVES = np.arange(-4, 5) * 2e-6  # 1/mm: what a slant off by half a degree does to even distances


def even_rows(lines: FloorLines, place: Floats) -> tuple[Even, ...]:
    """Up to one row for each way, where so many lines lie on it that chance can't explain it.

    place: (m,) of every line along its family's normal, mm.
    """
    length = lines.line_lengths_px
    rows = []
    for way in (0, 1):
        group = np.flatnonzero(lines.way == way)
        row = _best_row(way, group, place[group], lines.side[group], length[group])
        if row is not None:
            rows.append(row)
    if len(rows) == 2 and abs(math.log(rows[1].distance / rows[0].distance)) > _BOARDS_DIFFER:
        return tuple(rows[:1])  # boards: only their widths are even, the ends are staggered
    return tuple(row for row in rows if row.way == 0 or len(rows) == 2)


def _best_row(way: int, group: Ints, place: Floats, side: Ints, length: Floats) -> Even | None:
    if len(group) < _FEWEST:
        return None
    best, best_gain = None, _SURE
    for curve in _CURVES:
        straight = place + curve * place**2
        for distance in _likeliest(_distances(straight, side, length), straight, side, length):
            row, gain = _row(way, group, straight, side, length, float(distance))
            if row is not None and gain > best_gain:
                best, best_gain = row, gain
    return best


def _likeliest(distances: Floats, place: Floats, side: Ints, length: Floats) -> Floats:
    """The few of these distances on whose rows most length lies, against chance."""
    if len(distances) == 0:
        return distances
    score = np.zeros(len(distances))
    for s in (0, 1):
        mine = np.flatnonzero(side == s)
        if len(mine) > 0:
            anchors = mine[np.argsort(-length[mine])[:_ANCHORS]]
            off = _off_row(place[anchors][:, None] - place[mine], distances[:, None, None])
            score += ((off < _TOLERANCE) @ length[mine]).max(axis=1)
    score *= np.log(distances / (2.0 * _TOLERANCE))
    return distances[np.argsort(-score)[:_TRIED]]


def _off_row(gap: Floats, distance: Floats | float) -> Floats:
    """How far gaps are from the nearest whole number of distances, mm."""
    return np.asarray(np.abs(gap - distance * np.round(gap / distance)))


def _distances(place: Floats, side: Ints, length: Floats) -> Floats:
    """Distances worth trying: between the longest lines of one side, and whole fractions of them."""
    tries = []
    for s in (0, 1):
        mine = np.flatnonzero(side == s)
        mine = mine[np.argsort(-length[mine])[:12]]
        gaps = np.abs(place[mine][:, None] - place[mine][None, :])[np.triu_indices(len(mine), 1)]
        tries += [gaps / k for k in range(1, 7)]
    all_tries = np.concatenate(tries)
    all_tries = all_tries[(all_tries > _CLOSEST) & (all_tries < _FARTHEST)]
    return np.unique(np.round(all_tries, 1))


def _row(
    way: int, group: Ints, place: Floats, side: Ints, length: Floats, distance: float
) -> tuple[Even | None, float]:
    """The lines on a row of this distance, and the logarithm of how much likelier that is than chance."""
    on, number = _matched(place, side, length, distance)
    distance = _fitted(place, side, on, number, distance)
    on, number = _matched(place, side, length, distance)
    there = np.unique(number[on & (side == 0)]), np.unique(number[on & (side == 1)])
    fullest = max(there, key=len)
    if len(fullest) < _FEWEST or len(fullest) < _FULL * (fullest[-1] - fullest[0] + 1):
        return None, 0.0
    if length[on].sum() < _MOST * length.sum():
        return None, 0.0
    chance = math.log(distance / (2.0 * _TOLERANCE))
    found = sum(len(t) - 2 for t in there if len(t) > 2)  # two of every side fix distance and phase
    gain = found * chance * float(length[on].sum() / length.sum())
    return Even(way, group[on], number[on], distance), gain


def _matched(place: Floats, side: Ints, length: Floats, distance: float) -> tuple[NDArray[np.bool_], Ints]:
    """Which lines lie on the row of this distance that most length lies on, and their numbers."""
    on = np.zeros(len(place), dtype=bool)
    number = np.zeros(len(place), dtype=np.int64)
    for s in (0, 1):
        mine = np.flatnonzero(side == s)
        if len(mine) == 0:
            continue
        off = _off_row(place[mine][:, None] - place[mine], distance)
        near = (off < _TOLERANCE) * length[mine][:, None]
        anchor = int(np.argmax(near.sum(axis=0)))
        on[mine] = off[:, anchor] < _TOLERANCE
        number[mine] = np.round((place[mine] - place[mine][anchor]) / distance).astype(np.int64)
    return on, number


def _fitted(place: Floats, side: Ints, on: NDArray[np.bool_], number: Ints, distance: float) -> float:
    """The distance that these numbers fit best; every side has its own place."""
    up, down = 0.0, 0.0
    for s in (0, 1):
        mine = on & (side == s)
        if np.any(mine):
            n = number[mine] - number[mine].mean()
            up += float(n @ place[mine])
            down += float(n @ n)
    return up / down if down > 0 else distance

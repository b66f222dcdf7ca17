"""Compiled measures of overlap, exact to rounding, and the random numbers of the search.

Overlap of two items is the sum over their convex parts of the depth to which the moving middle lies in
the no-fit polygon, grown by the gap; it is 0 exactly where they keep the gap. An item leaves the cloth by
how far it sticks out of the hull plus how deep it lies in the obstacles.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from salvage.fit.geometry.tables import INLINE, JIT, Floats, Ints

CLEAR = 1e-9  # mm; less overlap than this is rounding


class State(NamedTuple):
    """A layout in work, n items. ground is -1 where an item is not placed.

    weight (n, n), edge_weight (n): how much overlaps count, raised where they persist.
    overlap (n, n), outside (n): what they are now.
    order (n), cursor (1): items in the order of this pass, and how many of them had their turn.
    best (2): least overlap since the weights were last forgotten, and passes since it was found.
    random: (1,) uint64.
    """

    kind: Ints
    area: Floats
    x: Floats
    y: Floats
    orientation: Ints
    ground: Ints
    weight: Floats
    edge_weight: Floats
    overlap: Floats
    outside: Floats
    order: Ints
    cursor: Ints
    best: Floats
    random: np.ndarray


@njit(**INLINE)
def uniform(random):  # type: ignore[no-untyped-def]
    """A number in [0, 1); xorshift64* (Vigna 2016, from memory)."""
    s = random[0]
    s ^= s >> np.uint64(12)
    s ^= s << np.uint64(25)
    s ^= s >> np.uint64(27)
    random[0] = s
    return float((s * np.uint64(2685821657736338717)) >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@njit(**INLINE)
def depth_in(t, k, dx, dy, gap):  # type: ignore[no-untyped-def]
    """How deep (dx, dy) lies in entry k grown by the gap; 0 outside."""
    b = t.ent_box
    if dx <= b[k, 0] or dx >= b[k, 2] or dy <= b[k, 1] or dy >= b[k, 3]:
        return 0.0
    first, last = t.ent_first[k], t.ent_first[k + 1]
    s = -np.inf
    for i in range(first, last):
        v = t.nx[i] * dx + t.ny[i] * dy - t.c[i]
        if v > s:
            s = v
            if s >= gap - CLEAR:
                return 0.0
    if s <= 0.0:
        return gap - s
    return max(0.0, gap - _distance(t, first, last, dx, dy))


@njit(**INLINE)
def _distance(t, first, last, dx, dy):  # type: ignore[no-untyped-def]
    """Distance of a point outside a convex entry from it."""
    best = np.inf
    for i in range(first, last):
        if t.nx[i] * dx + t.ny[i] * dy - t.c[i] <= 0.0:
            continue
        j = i + 1 if i + 1 < last else first
        ux, uy = t.ex[j] - t.ex[i], t.ey[j] - t.ey[i]
        s = ((dx - t.ex[i]) * ux + (dy - t.ey[i]) * uy) / (ux * ux + uy * uy)
        s = min(1.0, max(0.0, s))
        best = min(best, np.hypot(dx - t.ex[i] - s * ux, dy - t.ey[i] - s * uy))
    return best


@njit(**INLINE)
def overlap_of(t, a, b, dx, dy):  # type: ignore[no-untyped-def]
    """Overlap of orientation b whose middle lies at (dx, dy) from that of orientation a."""
    if abs(dx) >= t.half[a, 0] + t.half[b, 0] + t.gap or abs(dy) >= t.half[a, 1] + t.half[b, 1] + t.gap:
        return 0.0
    total = 0.0
    p = a * t.n_or + b
    for k in range(t.pair_first[p], t.pair_first[p + 1]):
        total += depth_in(t, k, dx, dy, t.gap)
    return total if total > CLEAR else 0.0


@njit(**INLINE)
def outside_of(t, g, o, x, y):  # type: ignore[no-untyped-def]
    """How far orientation o with its middle at (x, y) leaves ground g."""
    total = 0.0
    p = o * t.n_gr + g
    for i in range(t.hull_first[p], t.hull_first[p + 1]):
        v = t.hull_nx[i] * x + t.hull_ny[i] * y - t.hull_c[i]
        if v > 0.0:
            total += v
    for k in range(t.ob_first[p], t.ob_first[p + 1]):
        total += depth_in(t, k, x, y, 0.0)
    return total if total > CLEAR else 0.0


@njit(**INLINE)
def cost(t, s, i, g, o, x, y, stop):  # type: ignore[no-untyped-def]
    """Weighted overlap of item i if it lay there; gives up where it grows past stop."""
    total = s.edge_weight[i] * outside_of(t, g, o, x, y)
    if total > stop:
        return total
    for j in range(len(s.x)):
        if s.ground[j] == g and j != i:
            v = overlap_of(t, s.orientation[j], o, x - s.x[j], y - s.y[j])
            if v > 0.0:
                total += s.weight[i, j] * v
                if total > stop:
                    return total
    return total


@njit(**JIT)
def put(t, s, i, g, o, x, y):  # type: ignore[no-untyped-def]
    """Lay item i there and bring its row of overlaps up to date."""
    s.ground[i], s.orientation[i], s.x[i], s.y[i] = g, o, x, y
    s.outside[i] = outside_of(t, g, o, x, y) if g >= 0 else 0.0
    for j in range(len(s.x)):
        v = 0.0
        if g >= 0 and s.ground[j] == g and j != i:
            v = overlap_of(t, s.orientation[j], o, x - s.x[j], y - s.y[j])
        s.overlap[i, j] = v
        s.overlap[j, i] = v


@njit(**JIT)
def row(s, i):  # type: ignore[no-untyped-def]
    """Unweighted overlap of item i with all else."""
    total = s.outside[i]
    for j in range(len(s.x)):
        total += s.overlap[i, j]
    return total


@njit(**JIT)
def total_overlap(s):  # type: ignore[no-untyped-def]
    total = 0.0
    for i in range(len(s.x)):
        total += s.outside[i]
        for j in range(i):
            total += s.overlap[i, j]
    return total


def new_state(kind: Ints, area: Floats, seed: int) -> State:
    """A state with nothing placed."""
    n = len(kind)
    return State(
        kind, area, np.zeros(n), np.zeros(n), np.zeros(n, np.int64), np.full(n, -1, np.int64),
        np.ones((n, n)), np.ones(n), np.zeros((n, n)), np.zeros(n), np.arange(n), np.array([n]),
        np.array([np.inf, 0.0]), np.array([seed], np.uint64),
    )  # fmt: skip

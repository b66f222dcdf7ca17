"""Compiled measures of overlap, exact to rounding, and the random numbers of the search.

Overlap of two items is the sum over their convex parts of the depth to which the moving middle lies in
the no-fit polygon, grown by the gap; it is 0 exactly where they keep the gap. An item leaves the cloth by
how far it sticks out of the hull plus how deep it lies in the obstacles.
"""

from __future__ import annotations

import numpy as np

from salvage.fit.kernels.kinds import FLOAT, INT, NONE, RANDOM, STATE, TABLES, inner

CLEAR = 1e-9  # mm; less overlap than this is rounding


@inner(FLOAT(RANDOM))
def uniform(random):  # type: ignore[no-untyped-def]
    """A number in [0, 1); xorshift64* (Vigna 2016, from memory)."""
    s = random[0]
    s ^= s >> np.uint64(12)
    s ^= s << np.uint64(25)
    s ^= s >> np.uint64(27)
    random[0] = s
    return float((s * np.uint64(2685821657736338717)) >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@inner(FLOAT(TABLES, INT, INT, FLOAT, FLOAT))
def _distance(t, first, last, dx, dy):  # type: ignore[no-untyped-def]
    """Distance of a point outside a convex entry from it."""
    best = np.inf
    for i in range(first, last):
        if t.f[t.nx + i] * dx + t.f[t.ny + i] * dy - t.f[t.c + i] <= 0.0:
            continue
        j = i + 1 if i + 1 < last else first
        ux, uy = t.f[t.ex + j] - t.f[t.ex + i], t.f[t.ey + j] - t.f[t.ey + i]
        s = ((dx - t.f[t.ex + i]) * ux + (dy - t.f[t.ey + i]) * uy) / (ux * ux + uy * uy)
        s = min(1.0, max(0.0, s))
        best = min(best, np.hypot(dx - t.f[t.ex + i] - s * ux, dy - t.f[t.ey + i] - s * uy))
    return best


@inner(FLOAT(TABLES, INT, FLOAT, FLOAT, FLOAT))
def depth_in(t, k, dx, dy, gap):  # type: ignore[no-untyped-def]
    """How deep (dx, dy) lies in entry k grown by the gap; 0 outside."""
    b = t.ent_box + 4 * k
    if dx <= t.f[b] or dx >= t.f[b + 2] or dy <= t.f[b + 1] or dy >= t.f[b + 3]:
        return 0.0
    first, last = t.i[t.ent_first + k], t.i[t.ent_first + k + 1]
    s = -np.inf
    for i in range(first, last):
        v = t.f[t.nx + i] * dx + t.f[t.ny + i] * dy - t.f[t.c + i]
        if v > s:
            s = v
            if s >= gap - CLEAR:
                return 0.0
    if s <= 0.0:
        return gap - s
    return max(0.0, gap - _distance(t, first, last, dx, dy))


@inner(FLOAT(TABLES, INT, INT, FLOAT, FLOAT))
def overlap_of(t, a, b, dx, dy):  # type: ignore[no-untyped-def]
    """Overlap of orientation b whose middle lies at (dx, dy) from that of orientation a."""
    if (
        abs(dx) >= t.f[t.half + 2 * a] + t.f[t.half + 2 * b] + t.gap
        or abs(dy) >= t.f[t.half + 2 * a + 1] + t.f[t.half + 2 * b + 1] + t.gap
    ):
        return 0.0
    total = 0.0
    p = a * t.n_or + b
    for k in range(t.i[t.pair_first + p], t.i[t.pair_first + p + 1]):
        total += depth_in(t, k, dx, dy, t.gap)
    return total if total > CLEAR else 0.0


@inner(FLOAT(TABLES, INT, INT, FLOAT, FLOAT))
def outside_of(t, g, o, x, y):  # type: ignore[no-untyped-def]
    """How far orientation o with its middle at (x, y) leaves ground g."""
    total = 0.0
    p = o * t.n_gr + g
    for i in range(t.i[t.hull_first + p], t.i[t.hull_first + p + 1]):
        v = t.f[t.hull_nx + i] * x + t.f[t.hull_ny + i] * y - t.f[t.hull_c + i]
        if v > 0.0:
            total += v
    for k in range(t.i[t.ob_first + p], t.i[t.ob_first + p + 1]):
        total += depth_in(t, k, x, y, 0.0)
    return total if total > CLEAR else 0.0


@inner(FLOAT(TABLES, STATE, INT, INT, INT, FLOAT, FLOAT, FLOAT))
def cost(t, s, i, g, o, x, y, stop):  # type: ignore[no-untyped-def]
    """Weighted overlap of item i if it lay there; gives up where it grows past stop."""
    total = s.f[s.edge_weight + i] * outside_of(t, g, o, x, y)
    if total > stop:
        return total
    for j in range(s.n):
        if s.i[s.ground + j] == g and j != i:
            v = overlap_of(t, s.i[s.orientation + j], o, x - s.f[s.x + j], y - s.f[s.y + j])
            if v > 0.0:
                total += s.f[s.weight + s.n * i + j] * v
                if total > stop:
                    return total
    return total


@inner(NONE(TABLES, STATE, INT, INT, INT, FLOAT, FLOAT))
def put(t, s, i, g, o, x, y):  # type: ignore[no-untyped-def]
    """Lay item i there and bring its row of overlaps up to date."""
    s.i[s.ground + i], s.i[s.orientation + i], s.f[s.x + i], s.f[s.y + i] = g, o, x, y
    s.f[s.outside + i] = outside_of(t, g, o, x, y) if g >= 0 else 0.0
    for j in range(s.n):
        v = 0.0
        if g >= 0 and s.i[s.ground + j] == g and j != i:
            v = overlap_of(t, s.i[s.orientation + j], o, x - s.f[s.x + j], y - s.f[s.y + j])
        s.f[s.overlap + s.n * i + j] = v
        s.f[s.overlap + s.n * j + i] = v


@inner(FLOAT(STATE, INT))
def row(s, i):  # type: ignore[no-untyped-def]
    """Unweighted overlap of item i with all else."""
    total = s.f[s.outside + i]
    for j in range(s.n):
        total += s.f[s.overlap + s.n * i + j]
    return total


@inner(FLOAT(STATE))
def total_overlap(s):  # type: ignore[no-untyped-def]
    total = 0.0
    for i in range(s.n):
        total += s.f[s.outside + i]
        for j in range(i):
            total += s.f[s.overlap + s.n * i + j]
    return total

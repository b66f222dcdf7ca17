"""The search itself, compiled: laying items one by one, then moving those that overlap until none does.

Overlap minimisation with guided weights: every item that overlaps goes, in random order, where its
weighted overlap is least among sampled places; then the weights of the overlaps that persist grow.
Sources: Umetani et al. 2009 (doi 10.1111/j.1475-3995.2009.00707.x) and Gardeyn et al. 2025
(doi 10.48550/arXiv.2509.13329) for guided weights; the depth measure here is that of no-fit polygons.
"""

from __future__ import annotations

import numpy as np

from salvage.fit.kernels.entries import is_live
from salvage.fit.kernels.kinds import (
    BOOL,
    FLOAT,
    FLOATS,
    INT,
    NONE,
    PLACE,
    STATE,
    TABLES,
    inner,
    past_floats,
    past_ints,
)
from salvage.fit.kernels.overlap import CLEAR, cost, outside_of, overlap_of, put, row, total_overlap, uniform
from salvage.fit.kernels.packed import MOST_ENTRIES_BESIDE, MOST_LINES, MOST_PLACES

_KEEP = 3  # sampled places that are refined
_COARSE, _FINE = 0.5, 2e-3  # mm; all of them down to steps of the first, the best of them to the second


@inner(INT(STATE, INT, INT))
def _pick(s, first, last):  # type: ignore[no-untyped-def]
    return first + int(uniform(s.random) * (last - first))


@inner(INT(TABLES, STATE, INT))
def _random_ground(t, s, i):  # type: ignore[no-untyped-def]
    """A ground that takes item i in some orientation, -1 if there is none."""
    k = s.i[s.kind + i]
    n = 0
    chosen = -1
    for g in range(t.n_gr):
        if t.i[t.allow_first + k * t.n_gr + g + 1] > t.i[t.allow_first + k * t.n_gr + g]:
            n += 1
            if uniform(s.random) * n < 1.0:
                chosen = g
    return chosen


@inner(NONE(TABLES, STATE, INT, INT, INT, FLOATS))
def _touching(t, s, i, g, o, spot):  # type: ignore[no-untyped-def]
    """A random place where o touches something with a corner: hull, obstacle or another item."""
    p = o * t.n_gr + g
    here = 0
    for j in range(s.n):
        if s.i[s.ground + j] == g and j != i:
            here += 1
    r = uniform(s.random) * (here + 2.0)
    if r < 1.0 or (r < 2.0 and t.i[t.ob_first + p] == t.i[t.ob_first + p + 1]):
        q = _pick(s, t.i[t.spot_first + p], t.i[t.spot_first + p + 1])
        spot[0], spot[1] = t.f[t.spots + 2 * q], t.f[t.spots + 2 * q + 1]
        return
    if r < 2.0:
        k = _pick(s, t.i[t.ob_first + p], t.i[t.ob_first + p + 1])
        e = _pick(s, t.i[t.ent_first + k], t.i[t.ent_first + k + 1])
        spot[0], spot[1] = t.f[t.ex + e], t.f[t.ey + e]
        return
    n = int(r - 2.0)
    for j in range(s.n):
        if s.i[s.ground + j] == g and j != i:
            if n == 0:
                q = s.i[s.orientation + j] * t.n_or + o
                k = _pick(s, t.i[t.pair_first + q], t.i[t.pair_first + q + 1])
                e = _pick(s, t.i[t.ent_first + k], t.i[t.ent_first + k + 1])
                spot[0] = s.f[s.x + j] + t.f[t.ex + e] + t.gap * t.f[t.nx + e]
                spot[1] = s.f[s.y + j] + t.f[t.ey + e] + t.gap * t.f[t.ny + e]
                return
            n -= 1


@inner(PLACE(TABLES, STATE, INT, INT, INT, FLOAT, FLOAT, FLOAT, FLOAT, FLOAT))
def _refine(t, s, i, g, o, x, y, value, step, finest):  # type: ignore[no-untyped-def]
    """Descend from (x, y): random directions with steps that shrink from `step` to `finest`."""
    while step > finest and value > 0.0:
        r = uniform(s.random) * 4.0
        if r < 1.0:
            ux, uy = step, 0.0
        elif r < 2.0:
            ux, uy = 0.0, step
        else:
            a = uniform(s.random) * 2.0 * np.pi
            ux, uy = step * np.cos(a), step * np.sin(a)
        v = cost(t, s, i, g, o, x + ux, y + uy, value)
        if v < value:
            x, y, value = x + ux, y + uy, v
            step *= 1.1
            continue
        v = cost(t, s, i, g, o, x - ux, y - uy, value)
        if v < value:
            x, y, value = x - ux, y - uy, v
            step *= 1.1
            continue
        step *= 0.6
    return x, y, value


@inner(INT(TABLES, INT, FLOAT, FLOAT, FLOAT, FLOAT, FLOAT, FLOAT, FLOATS, INT))
def _line_of(t, k, fx, fy, x, y, gap, near, lines, m):  # type: ignore[no-untyped-def]
    if m >= MOST_LINES:
        return m
    b = t.ent_box + 4 * k
    dx, dy = x - fx, y - fy
    if dx <= t.f[b] - near or dx >= t.f[b + 2] + near or dy <= t.f[b + 1] - near or dy >= t.f[b + 3] + near:
        return m
    best, at = -np.inf, -1
    for e in range(t.i[t.ent_first + k], t.i[t.ent_first + k + 1]):
        v = t.f[t.nx + e] * dx + t.f[t.ny + e] * dy - t.f[t.c + e]
        if v > best:
            best, at = v, e
    if abs(best - gap) < near:
        lines[3 * m], lines[3 * m + 1] = t.f[t.nx + at], t.f[t.ny + at]
        lines[3 * m + 2] = t.f[t.c + at] + gap + t.f[t.nx + at] * fx + t.f[t.ny + at] * fy
        m += 1
    return m


@inner(INT(TABLES, STATE, INT, INT, INT, FLOAT, FLOAT, FLOAT, FLOATS))
def _collect(t, s, i, g, o, x, y, near, lines):  # type: ignore[no-untyped-def]
    """Lines (nx, ny, c) of entries within `near` of touching (x, y): n . p >= c keeps clear."""
    m = 0
    p = o * t.n_gr + g
    for e in range(t.i[t.hull_first + p], t.i[t.hull_first + p + 1]):
        if m < MOST_LINES and abs(t.f[t.hull_nx + e] * x + t.f[t.hull_ny + e] * y - t.f[t.hull_c + e]) < near:
            lines[3 * m], lines[3 * m + 1], lines[3 * m + 2] = (
                -t.f[t.hull_nx + e],
                -t.f[t.hull_ny + e],
                -t.f[t.hull_c + e],
            )
            m += 1
    for k in range(t.i[t.ob_first + p], t.i[t.ob_first + p + 1]):
        m = _line_of(t, k, 0.0, 0.0, x, y, 0.0, near, lines, m)
    for j in range(s.n):
        if s.i[s.ground + j] != g or j == i:
            continue
        q = s.i[s.orientation + j]
        if (
            abs(x - s.f[s.x + j]) >= t.f[t.half + 2 * q] + t.f[t.half + 2 * o] + t.gap + near
            or abs(y - s.f[s.y + j]) >= t.f[t.half + 2 * q + 1] + t.f[t.half + 2 * o + 1] + t.gap + near
        ):
            continue
        q = q * t.n_or + o
        for k in range(t.i[t.pair_first + q], t.i[t.pair_first + q + 1]):
            m = _line_of(t, k, s.f[s.x + j], s.f[s.y + j], x, y, t.gap, near, lines, m)
    return m


@inner(PLACE(TABLES, STATE, INT, INT, INT, FLOAT, FLOAT, FLOAT, FLOAT, FLOATS))
def _snap(t, s, i, g, o, x, y, value, near, lines):  # type: ignore[no-untyped-def]
    """Push (x, y) exactly onto one touching line, or where two cross, if that overlaps less."""
    for _ in range(3):
        m = _collect(t, s, i, g, o, x, y, near, lines)
        bx, by, best = x, y, value
        for a in range(m):
            d = lines[3 * a + 2] - lines[3 * a] * x - lines[3 * a + 1] * y
            if d > 0.0:
                qx, qy = x + d * lines[3 * a], y + d * lines[3 * a + 1]
                v = cost(t, s, i, g, o, qx, qy, best)
                if v < best:
                    bx, by, best = qx, qy, v
            for b in range(a):
                det = lines[3 * a] * lines[3 * b + 1] - lines[3 * a + 1] * lines[3 * b]
                if abs(det) < 0.05:
                    continue
                qx = (lines[3 * a + 2] * lines[3 * b + 1] - lines[3 * b + 2] * lines[3 * a + 1]) / det
                qy = (lines[3 * a] * lines[3 * b + 2] - lines[3 * b] * lines[3 * a + 2]) / det
                if abs(qx - x) > 3 * near or abs(qy - y) > 3 * near:
                    continue
                v = cost(t, s, i, g, o, qx, qy, best)
                if v < best:
                    bx, by, best = qx, qy, v
        if best >= value:
            break
        x, y, value = bx, by, best
        if value <= 0.0:
            break
    return x, y, value


@inner(NONE(TABLES, STATE, INT, INT, INT, FLOAT))
def move(t, s, i, samples, near_samples, reach):  # type: ignore[no-untyped-def]
    """Lay item i where its weighted overlap is least among sampled places."""
    g0, o0 = s.i[s.ground + i], s.i[s.orientation + i]
    best_g, best_o, best_x, best_y = g0, o0, s.f[s.x + i], s.f[s.y + i]
    best = np.inf
    if g0 >= 0:
        best = cost(t, s, i, g0, o0, best_x, best_y, np.inf)
    lines = past_floats(s.f, s.scratch)
    kept = past_floats(lines, 3 * MOST_LINES)  # rows of value, ground, orientation, x, y
    spot = past_floats(kept, 5 * _KEEP)
    spot[0] = spot[1] = 0.0
    for n in range(5 * _KEEP):
        kept[n] = np.inf
    k = s.i[s.kind + i]
    for n in range(samples + near_samples):
        if n >= samples and g0 >= 0:
            g = g0
        else:
            g = _random_ground(t, s, i)
            if g < 0:
                return
        first, last = t.i[t.allow_first + k * t.n_gr + g], t.i[t.allow_first + k * t.n_gr + g + 1]
        o = t.i[t.allow + _pick(s, first, last)]
        p = o * t.n_gr + g
        if n >= samples and g0 >= 0:
            if uniform(s.random) < 0.5:
                o = o0
                p = o * t.n_gr + g
            x = s.f[s.x + i] + (2.0 * uniform(s.random) - 1.0) * reach
            y = s.f[s.y + i] + (2.0 * uniform(s.random) - 1.0) * reach
            x = min(t.f[t.room + 4 * p + 2], max(t.f[t.room + 4 * p], x))
            y = min(t.f[t.room + 4 * p + 3], max(t.f[t.room + 4 * p + 1], y))
        elif n % 2 == 0:
            x = t.f[t.room + 4 * p] + uniform(s.random) * (t.f[t.room + 4 * p + 2] - t.f[t.room + 4 * p])
            y = t.f[t.room + 4 * p + 1] + uniform(s.random) * (
                t.f[t.room + 4 * p + 3] - t.f[t.room + 4 * p + 1]
            )
        else:
            _touching(t, s, i, g, o, spot)
            x, y = spot[0], spot[1]
        v = cost(t, s, i, g, o, x, y, kept[5 * (_KEEP - 1)])
        if v < kept[5 * (_KEEP - 1)]:
            m = _KEEP - 1
            while m > 0 and kept[5 * (m - 1)] > v:
                for n_of in range(5):
                    kept[5 * m + n_of] = kept[5 * (m - 1) + n_of]
                m -= 1
            kept[5 * m], kept[5 * m + 1], kept[5 * m + 2], kept[5 * m + 3], kept[5 * m + 4] = v, g, o, x, y
            if v <= 0.0:
                break
    chosen = -1
    for m in range(_KEEP):
        if kept[5 * m] == np.inf:
            continue
        g, o = int(kept[5 * m + 1]), int(kept[5 * m + 2])
        step = 0.25 * min(t.f[t.half + 2 * o], t.f[t.half + 2 * o + 1])
        x, y, v = _refine(t, s, i, g, o, kept[5 * m + 3], kept[5 * m + 4], kept[5 * m], step, _COARSE)
        kept[5 * m], kept[5 * m + 3], kept[5 * m + 4] = v, x, y
        if chosen < 0 or v < kept[5 * chosen]:
            chosen = m
        if v <= 0.0:
            break
    if chosen >= 0:
        v, x, y = kept[5 * chosen], kept[5 * chosen + 3], kept[5 * chosen + 4]
        g, o = int(kept[5 * chosen + 1]), int(kept[5 * chosen + 2])
        x, y, v = _refine(t, s, i, g, o, x, y, v, _COARSE, _FINE)
        if v > 0.0 and v < 1.5 * best:
            x, y, v = _snap(t, s, i, g, o, x, y, v, 1.0, lines)
        if v < best:
            best_g, best_o, best_x, best_y = g, o, x, y
    put(t, s, i, best_g, best_o, best_x, best_y)


@inner(NONE(STATE))
def _shuffle(s):  # type: ignore[no-untyped-def]
    for a in range(s.n - 1, 0, -1):
        b = int(uniform(s.random) * (a + 1))
        s.i[s.order + a], s.i[s.order + b] = s.i[s.order + b], s.i[s.order + a]
    s.i[s.cursor] = 0


@inner(NONE(STATE))
def _weigh(s):  # type: ignore[no-untyped-def]
    n = s.n
    worst = CLEAR
    for i in range(n):
        worst = max(worst, s.f[s.outside + i])
        for j in range(i):
            worst = max(worst, s.f[s.overlap + s.n * i + j])
    for i in range(n):
        if s.f[s.outside + i] > 0.0:
            s.f[s.edge_weight + i] *= 1.2 + 0.8 * s.f[s.outside + i] / worst
        else:
            s.f[s.edge_weight + i] = max(1.0, 0.95 * s.f[s.edge_weight + i])
        for j in range(i):
            if s.f[s.overlap + s.n * i + j] > 0.0:
                w = s.f[s.weight + s.n * i + j] * (1.2 + 0.8 * s.f[s.overlap + s.n * i + j] / worst)
            else:
                w = max(1.0, 0.95 * s.f[s.weight + s.n * i + j])
            s.f[s.weight + s.n * i + j] = w
            s.f[s.weight + s.n * j + i] = w


@inner(NONE(TABLES, STATE, INT, FLOAT, INT, INT, FLOAT, FLOATS))
def separate(t, s, budget, patience, samples, near_samples, reach, told):  # type: ignore[no-untyped-def]
    """Move items that overlap until none does, `budget` moves are made, or `patience` passes brought
    nothing better. Where it stops within a pass, the next call goes on from there.

    told (3,): gets the overlap now, the moves made, and 1 if patience ran out.
    """
    moves = 0
    told[2] = 0.0
    n = s.n
    total = total_overlap(s)
    while total > 0.0 and moves < budget:
        while s.i[s.cursor] < n and moves < budget:
            i = s.i[s.order + s.i[s.cursor]]
            s.i[s.cursor] += 1
            if row(s, i) > 0.0:
                move(t, s, i, samples, near_samples, reach)
                moves += 1
        total = total_overlap(s)
        if s.i[s.cursor] < n or total <= 0.0:
            continue
        _weigh(s)
        _shuffle(s)
        if total < 0.98 * s.f[s.best]:
            s.f[s.best], s.f[s.best + 1] = total, 0.0
        else:
            s.f[s.best + 1] += 1.0
            if s.f[s.best + 1] >= patience:
                told[2] = 1.0
                break
    told[0], told[1] = total, moves


@inner(BOOL(TABLES, INT, FLOAT, FLOAT))
def _in_room(t, p, x, y):  # type: ignore[no-untyped-def]
    return (
        t.f[t.room + 4 * p] - CLEAR <= x <= t.f[t.room + 4 * p + 2] + CLEAR
        and t.f[t.room + 4 * p + 1] - CLEAR <= y <= t.f[t.room + 4 * p + 3] + CLEAR
    )


@inner(BOOL(TABLES, STATE, INT, INT, INT, FLOAT, FLOAT))
def _clear_at(t, s, i, g, o, x, y):  # type: ignore[no-untyped-def]
    return outside_of(t, g, o, x, y) <= 0.0 and cost(t, s, i, g, o, x, y, 0.0) <= 0.0


@inner(INT(TABLES, STATE, INT, INT, INT, FLOATS))
def _places(t, s, i, g, o, spots):  # type: ignore[no-untyped-def]
    """Touching places of o: corners, and where an entry's edges cross the hull's. Not all of them are clear."""
    p = o * t.n_gr + g
    most, most_entries = MOST_PLACES, MOST_ENTRIES_BESIDE
    entries = past_ints(s.i, s.scratch_ints)
    fx = past_floats(spots, 2 * most)
    fy = past_floats(fx, most_entries)
    gaps = past_floats(fy, most_entries)
    n = 0
    for k in range(t.i[t.ob_first + p], t.i[t.ob_first + p + 1]):
        if n < most_entries:
            entries[n], fx[n], fy[n], gaps[n] = k, 0.0, 0.0, 0.0
            n += 1
    for j in range(s.n):
        if s.i[s.ground + j] == g and j != i:
            q = s.i[s.orientation + j] * t.n_or + o
            for k in range(t.i[t.pair_first + q], t.i[t.pair_first + q + 1]):
                if n < most_entries:
                    entries[n], fx[n], fy[n], gaps[n] = k, s.f[s.x + j], s.f[s.y + j], t.gap
                    n += 1
    m = 0
    for q in range(t.i[t.spot_first + p], t.i[t.spot_first + p + 1]):
        if m < most:
            spots[2 * m], spots[2 * m + 1] = t.f[t.spots + 2 * q], t.f[t.spots + 2 * q + 1]
            m += 1
    for a in range(n):
        k = entries[a]
        for e in range(t.i[t.ent_first + k], t.i[t.ent_first + k + 1]):
            if not is_live(t, k, e):
                continue
            ax = fx[a] + t.f[t.ex + e] + gaps[a] * t.f[t.nx + e]
            ay = fy[a] + t.f[t.ey + e] + gaps[a] * t.f[t.ny + e]
            if m < most and _in_room(t, p, ax, ay):
                spots[2 * m], spots[2 * m + 1] = ax, ay
                m += 1
            f = e + 1 if e + 1 < t.i[t.ent_first + k + 1] else t.i[t.ent_first + k]
            bx = fx[a] + t.f[t.ex + f] + gaps[a] * t.f[t.nx + e]
            by = fy[a] + t.f[t.ey + f] + gaps[a] * t.f[t.ny + e]
            for h in range(t.i[t.hull_first + p], t.i[t.hull_first + p + 1]):
                da = t.f[t.hull_nx + h] * ax + t.f[t.hull_ny + h] * ay - t.f[t.hull_c + h]
                db = t.f[t.hull_nx + h] * bx + t.f[t.hull_ny + h] * by - t.f[t.hull_c + h]
                if da * db < 0.0 and m < most:
                    r = da / (da - db)
                    x, y = ax + r * (bx - ax), ay + r * (by - ay)
                    if _in_room(t, p, x, y):
                        spots[2 * m], spots[2 * m + 1] = x, y
                        m += 1
    return m


@inner(BOOL(TABLES, STATE, INT, INT, FLOATS))
def lay(t, s, i, g, corner):  # type: ignore[no-untyped-def]
    """Lay item i on ground g clear of all else, as far into `corner` as touching places allow.

    corner: direction (x, y), and which edge of the item counts: -1 or 1 for its left or right, lower or
    upper. Returns False if no place was found.
    """
    k = s.i[s.kind + i]
    spots = past_floats(s.f, s.scratch)
    best = np.inf
    bo, bx, by = -1, 0.0, 0.0
    for q in range(t.i[t.allow_first + k * t.n_gr + g], t.i[t.allow_first + k * t.n_gr + g + 1]):
        o = t.i[t.allow + q]
        m = _places(t, s, i, g, o, spots)
        for n in range(m):
            x, y = spots[2 * n], spots[2 * n + 1]
            score = (x + corner[2] * t.f[t.half + 2 * o]) * corner[0] + (
                y + corner[3] * t.f[t.half + 2 * o + 1]
            ) * corner[1]
            if score < best and _clear_at(t, s, i, g, o, x, y):
                best, bo, bx, by = score, o, x, y
    if bo < 0:
        return False
    put(t, s, i, g, bo, bx, by)
    return True


@inner(BOOL(TABLES, STATE, INT, FLOATS))
def lay_anywhere(t, s, i, corner):  # type: ignore[no-untyped-def]
    """Lay item i on the first ground that takes it."""
    for g in range(t.n_gr):  # noqa: SIM110 (the compiler knows no any())
        if lay(t, s, i, g, corner):
            return True
    return False


@inner(BOOL(TABLES, STATE, INT, INT))
def force_in(t, s, i, samples):  # type: ignore[no-untyped-def]
    """Lay item i at a touching place within its ground where it covers little of others, and take those up.

    Returns False if no place was found.
    """
    spot = past_floats(s.f, s.scratch)
    spot[0] = spot[1] = 0.0
    k = s.i[s.kind + i]
    best = np.inf
    bg, bo, bx, by = -1, -1, 0.0, 0.0
    for _ in range(samples):
        g = _random_ground(t, s, i)
        if g < 0:
            return False
        o = t.i[
            t.allow + _pick(s, t.i[t.allow_first + k * t.n_gr + g], t.i[t.allow_first + k * t.n_gr + g + 1])
        ]
        _touching(t, s, i, g, o, spot)
        x, y = spot[0], spot[1]
        if outside_of(t, g, o, x, y) > 0.0:
            continue
        covered = 0.0
        for j in range(s.n):
            if (
                s.i[s.ground + j] == g
                and overlap_of(t, s.i[s.orientation + j], o, x - s.f[s.x + j], y - s.f[s.y + j]) > 0.0
            ):
                covered += s.f[s.area + j]
                if covered > best:
                    break
        if covered < best:
            best, bg, bo, bx, by = covered, g, o, x, y
    if bg < 0:
        return False
    for j in range(s.n):
        if (
            s.i[s.ground + j] == bg
            and overlap_of(t, s.i[s.orientation + j], bo, bx - s.f[s.x + j], by - s.f[s.y + j]) > 0.0
        ):
            put(t, s, j, -1, 0, 0.0, 0.0)
    put(t, s, i, bg, bo, bx, by)
    return True

"""Fitting panels edge to edge, compiled: of all touching places the one with the most contact is taken.

A *spot* is a place where an orientation touches two things at once and overlaps none. The spots of every
ground are kept and brought up to date as items are laid: those the new item covers go, those where
something touches it come. *Contact* is the length of the outline that lies along the cloth's edge or
along other items, a little room allowed. It can count for more where two edges are flush, their ends
meeting at both ends, and along an edge that little else could lie along, a slanting or a curved one.
Source of the first: the fitness of a place for a rectangle, Leung, Zhang and Sim 2011
(doi 10.1016/j.ejor.2011.06.022, from memory).
"""

from __future__ import annotations

import numpy as np

from salvage.fit.kernels.entries import is_live
from salvage.fit.kernels.kinds import (
    ENTRIES,
    FLOAT,
    FLOATS,
    INT,
    INTS,
    NONE,
    RINGS,
    SPOTS,
    STATE,
    TABLES,
    inner,
    past_floats,
    past_ints,
)
from salvage.fit.kernels.overlap import CLEAR, outside_of, overlap_of, put, uniform
from salvage.fit.kernels.packed import MOST_ENTRIES, MOST_SPOTS, PARALLEL, Entries

_ROOM = 0.35  # mm between edges in contact
_FLUSH = 0.7  # mm, beside the gap, between the ends of edges that are flush
_TOUCH = 1e-10  # mm, or of a length: as good as touching


@inner(FLOAT(RINGS, INT, FLOAT, FLOAT, INT, FLOAT, FLOAT, FLOAT, FLOAT))
def _along(r, a, ax, ay, b, bx, by, sign, gap):  # type: ignore[no-untyped-def]
    """Length, as taste has it, along which ring group a at (ax, ay) is in contact with b at (bx, by).

    sign: 1 where b is the cloth round a, -1 where b is a neighbour.
    """
    total = 0.0
    for i in range(r.i[r.first + a], r.i[r.first + a + 1]):
        x, y = r.f[r.x + i] + ax - bx, r.f[r.y + i] + ay - by
        for j in range(r.i[r.first + b], r.i[r.first + b + 1]):
            if sign * (r.f[r.ux + i] * r.f[r.ux + j] + r.f[r.uy + i] * r.f[r.uy + j]) < PARALLEL:
                continue
            dx, dy = x - r.f[r.x + j], y - r.f[r.y + j]
            # distance of the middle of edge i from the line of edge j
            half = 0.5 * r.f[r.length + i]
            off = abs(
                r.f[r.ux + j] * (dy + half * r.f[r.uy + i]) - r.f[r.uy + j] * (dx + half * r.f[r.ux + i])
            )
            if off > gap + _ROOM:
                continue
            s = dx * r.f[r.ux + j] + dy * r.f[r.uy + j]
            low = s if sign > 0 else s - r.f[r.length + i]
            both = min(low + r.f[r.length + i], r.f[r.length + j]) - max(low, 0.0)
            if both > 0.0:
                worth = 1.0 + r.f[r.taste] * r.f[r.rarity + i]
                if (
                    abs(low) < gap + _FLUSH
                    and abs(low + r.f[r.length + i] - r.f[r.length + j]) < gap + _FLUSH
                ):
                    worth += r.f[r.taste + 1]
                total += both * worth
    return total


@inner(FLOAT(TABLES, STATE, RINGS, INT, INT, FLOAT, FLOAT))
def _contact_with(t, s, r, j, o, x, y):  # type: ignore[no-untyped-def]
    q = s.i[s.orientation + j]
    near = t.gap + _ROOM
    if (
        abs(x - s.f[s.x + j]) > t.f[t.half + 2 * q] + t.f[t.half + 2 * o] + near
        or abs(y - s.f[s.y + j]) > t.f[t.half + 2 * q + 1] + t.f[t.half + 2 * o + 1] + near
    ):
        return 0.0
    return _along(r, o, x, y, q, s.f[s.x + j], s.f[s.y + j], -1.0, t.gap)


@inner(NONE(TABLES, STATE, RINGS, SPOTS, INT, INT, INT, FLOAT, FLOAT))
def _offer(t, s, r, spots, g, k, o, x, y):  # type: ignore[no-untyped-def]
    """Add a spot if it is clear and not there yet."""
    p = o * t.n_gr + g
    if (
        x < t.f[t.room + 4 * p] - CLEAR or x > t.f[t.room + 4 * p + 2] + CLEAR or y < t.f[t.room + 4 * p + 1] - CLEAR or y > t.f[t.room + 4 * p + 3] + CLEAR
    ):  # fmt: skip
        return
    n = spots.i[spots.number + g]
    if n >= MOST_SPOTS:
        return
    # the same place is often found several times in a row
    for m in range(n - 1, max(-1, n - 60), -1):
        if (
            spots.i[spots.orientation + MOST_SPOTS * g + m] != o
            or spots.i[spots.kind + MOST_SPOTS * g + m] != k
        ):
            break
        if (
            abs(spots.f[spots.x + MOST_SPOTS * g + m] - x) + abs(spots.f[spots.y + MOST_SPOTS * g + m] - y)
            < 1e-3
        ):
            return
    if outside_of(t, g, o, x, y) > 0.0:
        return
    contact = 0.0
    for j in range(s.n):
        if (
            s.i[s.ground + j] == g
            and overlap_of(t, s.i[s.orientation + j], o, x - s.f[s.x + j], y - s.f[s.y + j]) > 0.0
        ):
            return
    contact = _along(r, o, x, y, t.n_or + g, 0.0, 0.0, 1.0, 0.0)
    for j in range(s.n):
        if s.i[s.ground + j] == g:
            contact += _contact_with(t, s, r, j, o, x, y)
    (
        spots.i[spots.kind + MOST_SPOTS * g + n],
        spots.i[spots.orientation + MOST_SPOTS * g + n],
        spots.f[spots.x + MOST_SPOTS * g + n],
        spots.f[spots.y + MOST_SPOTS * g + n],
    ) = k, o, x, y
    spots.f[spots.contact + MOST_SPOTS * g + n] = contact
    spots.i[spots.number + g] = n + 1


@inner(INT(TABLES, ENTRIES, INT, FLOAT, FLOAT, FLOAT, FLOAT, FLOATS))
def _through(t, list_, b, qx, qy, vx, vy, out):  # type: ignore[no-untyped-def]
    """Which part of the segment from q to v lies within entry b of the list: from out[0] to out[1], of 1.

    Returns 0 where none does, 1 where it does, and 2 where an end lies off the entry's edges, beyond a corner
    which the gap makes round: then the part is less than said.
    """
    gap, x, y = list_.f[list_.gap + b], list_.f[list_.x + b], list_.f[list_.y + b]
    low, high = 0.0, 1.0
    at_low, at_high = -1, -1
    first, last = t.i[t.ent_first + list_.i[list_.entry + b]], t.i[t.ent_first + list_.i[list_.entry + b] + 1]
    for c in range(first, last):
        away = t.f[t.c + c] + gap + t.f[t.nx + c] * x + t.f[t.ny + c] * y
        d0 = t.f[t.nx + c] * qx + t.f[t.ny + c] * qy - away
        d1 = t.f[t.nx + c] * vx + t.f[t.ny + c] * vy - away
        if d0 >= -_TOUCH:
            if d1 >= -_TOUCH:
                return 0
            u = d0 / (d0 - d1)
            if u > low:
                low, at_low = u, c
        elif d1 > 0.0:
            u = d0 / (d0 - d1)
            if u < high:
                high, at_high = u, c
        if low > high:
            return 0
    out[0], out[1] = low, high
    if gap > 0.0:
        for end in range(2):
            c, u = (at_low, low) if end == 0 else (at_high, high)
            if c < 0:
                continue
            d = c + 1 if c + 1 < last else first
            px, py = qx + u * (vx - qx) - x - t.f[t.ex + c], qy + u * (vy - qy) - y - t.f[t.ey + c]
            wx, wy = t.f[t.ex + d] - t.f[t.ex + c], t.f[t.ey + d] - t.f[t.ey + c]
            along = px * wx + py * wy
            if along < 0.0 or along > wx * wx + wy * wy:
                return 2
    return 1


@inner(NONE(TABLES, STATE, RINGS, SPOTS, INT, INT, INT, ENTRIES, INT, INTS, INT, FLOATS, FLOATS))
def _entry_spots(t, s, r, spots, g, k, o, list_, a, others, n_others, out, parts):  # type: ignore[no-untyped-def]
    """Spots on the edges of entry a of the list: the ends of what the hull and the others leave of each.

    The others that stand before a in the list make spots; those after a only cover.
    """
    p = o * t.n_gr + g
    ax, ay, gap_a = list_.f[list_.x + a], list_.f[list_.y + a], list_.f[list_.gap + a]
    first, last = t.i[t.ent_first + list_.i[list_.entry + a]], t.i[t.ent_first + list_.i[list_.entry + a] + 1]
    for e in range(first, last):
        if not is_live(t, list_.i[list_.entry + a], e):
            continue
        f = e + 1 if e + 1 < last else first
        qx, qy = ax + t.f[t.ex + e] + gap_a * t.f[t.nx + e], ay + t.f[t.ey + e] + gap_a * t.f[t.ny + e]
        vx, vy = ax + t.f[t.ex + f] + gap_a * t.f[t.nx + e], ay + t.f[t.ey + f] + gap_a * t.f[t.ny + e]
        x0, x1, y0, y1 = min(qx, vx), max(qx, vx), min(qy, vy), max(qy, vy)
        if (
            x1 < t.f[t.room + 4 * p]
            or x0 > t.f[t.room + 4 * p + 2]
            or y1 < t.f[t.room + 4 * p + 1]
            or y0 > t.f[t.room + 4 * p + 3]
        ):
            continue
        begin, end = 0.0, 1.0
        for h in range(t.i[t.hull_first + p], t.i[t.hull_first + p + 1]):
            d0 = t.f[t.hull_nx + h] * qx + t.f[t.hull_ny + h] * qy - t.f[t.hull_c + h]
            d1 = t.f[t.hull_nx + h] * vx + t.f[t.hull_ny + h] * vy - t.f[t.hull_c + h]
            if d0 > CLEAR:
                if d1 > CLEAR:
                    begin = 2.0
                    break
                begin = max(begin, d0 / (d0 - d1))
            elif d1 > CLEAR:
                end = min(end, d0 / (d0 - d1))
        if begin > end + _TOUCH:
            continue
        parts[4 * 0], parts[4 * 0 + 1], parts[4 * 0 + 2], parts[4 * 0 + 3] = begin, 1.0, 0.0, 0.0
        parts[4 * 1], parts[4 * 1 + 1], parts[4 * 1 + 2], parts[4 * 1 + 3] = end, 1.0, 0.0, 0.0
        n = 2
        for m in range(n_others):
            b = others[m]
            if (
                x1 < list_.f[list_.x0 + b]
                or x0 > list_.f[list_.x1 + b]
                or y1 < list_.f[list_.y0 + b]
                or y0 > list_.f[list_.y1 + b]
            ):
                continue
            how = _through(t, list_, b, qx, qy, vx, vy, out)
            if how == 0:
                continue
            low, high = out[0], out[1]
            if how == 1 and low <= begin and high >= end and high - low > _TOUCH:
                n = 0
                break
            makes = 1.0 if b < a else 0.0
            parts[4 * n], parts[4 * n + 1], parts[4 * n + 2], parts[4 * n + 3] = low, makes, 0.0, 0.0
            parts[4 * (n + 1)], parts[4 * (n + 1) + 1], parts[4 * (n + 1) + 2], parts[4 * (n + 1) + 3] = (
                high,
                makes,
                0.0,
                0.0,
            )
            if how == 1:
                parts[4 * n + 2], parts[4 * n + 3] = low, high
            n += 2
        for c in range(n):
            u = parts[4 * c]
            if parts[4 * c + 1] == 0.0 or u < begin - _TOUCH or u > end + _TOUCH:
                continue
            covered = False
            for d in range(2, n, 2):
                if parts[4 * d + 2] + _TOUCH < u < parts[4 * d + 3] - _TOUCH:
                    covered = True
                    break
            if not covered:
                _offer(t, s, r, spots, g, k, o, qx + u * (vx - qx), qy + u * (vy - qy))


@inner(INT(TABLES, ENTRIES, INT, INT, INT, FLOAT, FLOAT, FLOAT))
def _add(t, list_, n, first, last, x, y, gap):  # type: ignore[no-untyped-def]
    for k in range(first, last):
        if n >= MOST_ENTRIES:
            break
        list_.i[list_.entry + n], list_.f[list_.x + n], list_.f[list_.y + n], list_.f[list_.gap + n] = (
            k,
            x,
            y,
            gap,
        )
        list_.f[list_.x0 + n], list_.f[list_.y0 + n] = (
            t.f[t.ent_box + 4 * k] + x,
            t.f[t.ent_box + 4 * k + 1] + y,
        )
        list_.f[list_.x1 + n], list_.f[list_.y1 + n] = (
            t.f[t.ent_box + 4 * k + 2] + x,
            t.f[t.ent_box + 4 * k + 3] + y,
        )
        n += 1
    return n


@inner(NONE(TABLES, STATE, RINGS, SPOTS, INT, INT, INT))
def _spots_of(t, s, r, spots, g, k, last):  # type: ignore[no-untyped-def]
    """Offer the spots of kind k on ground g: all, or if last >= 0 those where it touches item `last`."""
    most = MOST_ENTRIES
    f, others = past_floats(spots.f, spots.scratch), past_ints(spots.i, spots.scratch_ints + most)
    list_ = Entries(
        f,
        past_ints(spots.i, spots.scratch_ints),
        0,
        0,
        most,
        2 * most,
        3 * most,
        4 * most,
        5 * most,
        6 * most,
    )
    parts, out = past_floats(f, 7 * most), past_floats(f, 15 * most + 8)
    for q in range(t.i[t.allow_first + k * t.n_gr + g], t.i[t.allow_first + k * t.n_gr + g + 1]):
        o = t.i[t.allow + q]
        p = o * t.n_gr + g
        if last < 0:
            for m in range(t.i[t.spot_first + p], t.i[t.spot_first + p + 1]):
                _offer(t, s, r, spots, g, k, o, t.f[t.spots + 2 * m], t.f[t.spots + 2 * m + 1])
        n = _add(t, list_, 0, t.i[t.ob_first + p], t.i[t.ob_first + p + 1], 0.0, 0.0, 0.0)
        for i in range(s.n):
            if s.i[s.ground + i] == g and i != last:
                pair = s.i[s.orientation + i] * t.n_or + o
                n = _add(
                    t,
                    list_,
                    n,
                    t.i[t.pair_first + pair],
                    t.i[t.pair_first + pair + 1],
                    s.f[s.x + i],
                    s.f[s.y + i],
                    t.gap,
                )
        begin = 0
        if last >= 0:
            begin = n
            pair = s.i[s.orientation + last] * t.n_or + o
            n = _add(
                t,
                list_,
                n,
                t.i[t.pair_first + pair],
                t.i[t.pair_first + pair + 1],
                s.f[s.x + last],
                s.f[s.y + last],
                t.gap,
            )
        for a in range(begin, n):
            if (
                list_.f[list_.x1 + a] < t.f[t.room + 4 * p] or list_.f[list_.x0 + a] > t.f[t.room + 4 * p + 2]
                or list_.f[list_.y1 + a] < t.f[t.room + 4 * p + 1] or list_.f[list_.y0 + a] > t.f[t.room + 4 * p + 3]
            ):  # fmt: skip
                continue
            near = 0
            for b in range(n):
                if b != a and (
                    list_.f[list_.x1 + a] >= list_.f[list_.x0 + b] and list_.f[list_.x0 + a] <= list_.f[list_.x1 + b]
                    and list_.f[list_.y1 + a] >= list_.f[list_.y0 + b] and list_.f[list_.y0 + a] <= list_.f[list_.y1 + b]
                ):  # fmt: skip
                    others[near] = b
                    near += 1
            _entry_spots(t, s, r, spots, g, k, o, list_, a, others, near, out, parts)


@inner(NONE(TABLES, STATE, SPOTS))
def _kinds_left(t, s, spots):  # type: ignore[no-untyped-def]
    """Count, in spots.left, how many of each kind are still to be laid."""
    for k in range(t.n_kinds):
        spots.i[spots.left + k] = 0
    for i in range(s.n):
        if s.i[s.ground + i] < 0:
            spots.i[spots.left + s.i[s.kind + i]] += 1


@inner(NONE(TABLES, STATE, RINGS, SPOTS, INT))
def _that_fit(t, s, r, spots, g):  # type: ignore[no-untyped-def]
    """Note, in spots.fit, for each kind left whether ground g has at least as much area free as one of it needs."""
    free = r.f[r.ground_area + g] * (1.0 + 1e-9)
    for i in range(s.n):
        if s.i[s.ground + i] == g:
            free -= s.f[s.area + i]
    for k in range(t.n_kinds):
        spots.i[spots.fit + k] = 0
    for i in range(s.n):
        if spots.i[spots.left + s.i[s.kind + i]] > 0 and s.f[s.area + i] <= free:
            spots.i[spots.fit + s.i[s.kind + i]] = 1


@inner(NONE(TABLES, STATE, RINGS, SPOTS, INT))
def find_spots(t, s, r, spots, g):  # type: ignore[no-untyped-def]
    """Work out afresh all spots on ground g of the kinds that are still to be laid."""
    spots.i[spots.number + g] = 0
    _kinds_left(t, s, spots)
    _that_fit(t, s, r, spots, g)
    for k in range(t.n_kinds):
        if spots.i[spots.fit + k]:
            _spots_of(t, s, r, spots, g, k, -1)


@inner(NONE(TABLES, STATE, RINGS, SPOTS, INT, INT))
def _after(t, s, r, spots, g, j):  # type: ignore[no-untyped-def]
    """Bring the spots of ground g up to date after item j was laid there, for the kinds left."""
    n = 0
    _that_fit(t, s, r, spots, g)
    for m in range(spots.i[spots.number + g]):
        k, o, x, y = (
            spots.i[spots.kind + MOST_SPOTS * g + m],
            spots.i[spots.orientation + MOST_SPOTS * g + m],
            spots.f[spots.x + MOST_SPOTS * g + m],
            spots.f[spots.y + MOST_SPOTS * g + m],
        )
        if (
            not spots.i[spots.fit + k]
            or overlap_of(t, s.i[s.orientation + j], o, x - s.f[s.x + j], y - s.f[s.y + j]) > 0.0
        ):
            continue
        (
            spots.i[spots.kind + MOST_SPOTS * g + n],
            spots.i[spots.orientation + MOST_SPOTS * g + n],
            spots.f[spots.x + MOST_SPOTS * g + n],
            spots.f[spots.y + MOST_SPOTS * g + n],
        ) = k, o, x, y
        spots.f[spots.contact + MOST_SPOTS * g + n] = spots.f[
            spots.contact + MOST_SPOTS * g + m
        ] + _contact_with(t, s, r, j, o, x, y)
        n += 1
    spots.i[spots.number + g] = n
    for k in range(t.n_kinds):
        if spots.i[spots.fit + k]:
            _spots_of(t, s, r, spots, g, k, j)


@inner(INT(TABLES, STATE, RINGS, SPOTS, FLOAT, FLOAT, INT))
def lay_by_contact(t, s, r, spots, size_counts, noise, most):  # type: ignore[no-untyped-def]
    """Lay up to `most` items, each time where contact for its outline, and size, are greatest.

    size_counts: worth of the largest item beside full contact all round. noise: of that worth.
    Returns the number of items laid.
    """
    _kinds_left(t, s, spots)
    largest = 0.0
    for i in range(s.n):
        largest = max(largest, s.f[s.area + i])
    worth = past_floats(spots.f, spots.worth)
    for i in range(s.n):
        worth[s.i[s.kind + i]] = size_counts * np.sqrt(s.f[s.area + i] / largest)
    laid = 0
    while laid < most:
        best, bg, bm = -1.0, -1, -1
        for g in range(t.n_gr):
            for m in range(spots.i[spots.number + g]):
                k = spots.i[spots.kind + MOST_SPOTS * g + m]
                if spots.i[spots.left + k] == 0:
                    continue
                o = spots.i[spots.orientation + MOST_SPOTS * g + m]
                v = (
                    spots.f[spots.contact + MOST_SPOTS * g + m]
                    / (r.f[r.around + o] + r.f[r.taste] * r.f[r.around_rare + o])
                    + worth[k]
                    + noise * uniform(s.random)
                )
                if v > best:
                    best, bg, bm = v, g, m
        if bg < 0:
            break
        k = spots.i[spots.kind + MOST_SPOTS * bg + bm]
        for i in range(s.n):
            if s.i[s.kind + i] == k and s.i[s.ground + i] < 0:
                put(
                    t,
                    s,
                    i,
                    bg,
                    spots.i[spots.orientation + MOST_SPOTS * bg + bm],
                    spots.f[spots.x + MOST_SPOTS * bg + bm],
                    spots.f[spots.y + MOST_SPOTS * bg + bm],
                )
                spots.i[spots.left + k] -= 1
                _after(t, s, r, spots, bg, i)
                break
        laid += 1
    return laid

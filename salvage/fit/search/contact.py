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

from typing import NamedTuple

import numpy as np
from numba import njit

from salvage.fit.geometry.kernels import CLEAR, outside_of, overlap_of, put, uniform
from salvage.fit.geometry.tables import INLINE, JIT, Floats, Ints, Tables
from salvage.fit.geometry.task import Task
from salvage.fit.search.rarity import rarity_of

_MOST_SPOTS = 12000  # of one ground
_MOST_ENTRIES = 2048  # on one ground
_PARALLEL = 0.9998  # cosine of the angle between edges that can be in contact
_ROOM = 0.35  # mm between edges in contact
_FLUSH = 0.7  # mm, beside the gap, between the ends of edges that are flush
_TOUCH = 1e-10  # mm, or of a length: as good as touching


class Rings(NamedTuple):
    """Outlines with their edges: of orientations (first half of `first`), then of grounds, holes included.

    Edge e starts at (x, y), runs in the unit direction (ux, uy) for `length`; the shape or the cloth lies
    to its left. ground_area: mm^2. rarity: of each edge, 0 to 1 where little else could lie along it.
    around: length of each orientation's outline, and of that the part weighed by rarity.
    taste: how much rarity, and flush ends, add to each mm of contact.
    """

    first: Ints
    x: Floats
    y: Floats
    ux: Floats
    uy: Floats
    length: Floats
    around: Floats
    around_rare: Floats
    ground_area: Floats
    rarity: Floats
    taste: Floats


class Spots(NamedTuple):
    """number of spots on each ground (n_gr,); the others (n_gr, _MOST_SPOTS)."""

    number: Ints
    kind: Ints
    orientation: Ints
    x: Floats
    y: Floats
    contact: Floats


def make_rings(task: Task) -> Rings:
    """Rings of all orientations and grounds of a task."""
    groups = [[o.ring] for o in task.orientations] + [list(g.rings) for g in task.grounds]
    first, starts, edges = [0], [], []
    for rings in groups:
        for ring in rings:
            starts.append(ring)
            edges.append(np.roll(ring, -1, axis=0) - ring)
        first.append(first[-1] + sum(len(ring) for ring in rings))
    start, edge = np.concatenate(starts), np.concatenate(edges)
    length = np.hypot(*edge.T)
    unit = edge / length[:, None]
    owner = np.repeat(np.arange(len(groups)), np.diff(first))
    rarity = rarity_of(task, owner, unit, length, float(np.degrees(np.arccos(_PARALLEL))))
    n_or = len(task.orientations)
    return Rings(
        np.array(first, np.int64), start[:, 0].copy(), start[:, 1].copy(),
        unit[:, 0].copy(), unit[:, 1].copy(), length,
        np.add.reduceat(length, first[:-1])[:n_or], np.add.reduceat(length[: len(rarity)] * rarity, first[:n_or]),
        np.array([g.polygon.area for g in task.grounds]), rarity, np.zeros(2),
    )  # fmt: skip


def make_spots(tables: Tables) -> Spots:
    """Room for spots, none there yet."""
    shape = (tables.n_gr, _MOST_SPOTS)
    return Spots(
        np.zeros(tables.n_gr, np.int64), np.zeros(shape, np.int64), np.zeros(shape, np.int64),
        np.zeros(shape), np.zeros(shape), np.zeros(shape),
    )  # fmt: skip


@njit(**INLINE)
def _along(r, a, ax, ay, b, bx, by, sign, gap):  # type: ignore[no-untyped-def]
    """Length, as taste has it, along which ring group a at (ax, ay) is in contact with b at (bx, by).

    sign: 1 where b is the cloth round a, -1 where b is a neighbour.
    """
    total = 0.0
    for i in range(r.first[a], r.first[a + 1]):
        x, y = r.x[i] + ax - bx, r.y[i] + ay - by
        for j in range(r.first[b], r.first[b + 1]):
            if sign * (r.ux[i] * r.ux[j] + r.uy[i] * r.uy[j]) < _PARALLEL:
                continue
            dx, dy = x - r.x[j], y - r.y[j]
            # distance of the middle of edge i from the line of edge j
            half = 0.5 * r.length[i]
            off = abs(r.ux[j] * (dy + half * r.uy[i]) - r.uy[j] * (dx + half * r.ux[i]))
            if off > gap + _ROOM:
                continue
            s = dx * r.ux[j] + dy * r.uy[j]
            low = s if sign > 0 else s - r.length[i]
            both = min(low + r.length[i], r.length[j]) - max(low, 0.0)
            if both > 0.0:
                worth = 1.0 + r.taste[0] * r.rarity[i]
                if abs(low) < gap + _FLUSH and abs(low + r.length[i] - r.length[j]) < gap + _FLUSH:
                    worth += r.taste[1]
                total += both * worth
    return total


@njit(**INLINE)
def _offer(t, s, r, spots, g, k, o, x, y):  # type: ignore[no-untyped-def]
    """Add a spot if it is clear and not there yet."""
    p = o * t.n_gr + g
    if (
        x < t.room[p, 0] - CLEAR or x > t.room[p, 2] + CLEAR or y < t.room[p, 1] - CLEAR or y > t.room[p, 3] + CLEAR
    ):  # fmt: skip
        return
    n = spots.number[g]
    if n >= _MOST_SPOTS:
        return
    # the same place is often found several times in a row
    for m in range(n - 1, max(-1, n - 60), -1):
        if spots.orientation[g, m] != o or spots.kind[g, m] != k:
            break
        if abs(spots.x[g, m] - x) + abs(spots.y[g, m] - y) < 1e-3:
            return
    if outside_of(t, g, o, x, y) > 0.0:
        return
    contact = 0.0
    for j in range(len(s.x)):
        if s.ground[j] == g and overlap_of(t, s.orientation[j], o, x - s.x[j], y - s.y[j]) > 0.0:
            return
    contact = _along(r, o, x, y, t.n_or + g, 0.0, 0.0, 1.0, 0.0)
    for j in range(len(s.x)):
        if s.ground[j] == g:
            contact += _contact_with(t, s, r, j, o, x, y)
    spots.kind[g, n], spots.orientation[g, n], spots.x[g, n], spots.y[g, n] = k, o, x, y
    spots.contact[g, n] = contact
    spots.number[g] = n + 1


@njit(**INLINE)
def _contact_with(t, s, r, j, o, x, y):  # type: ignore[no-untyped-def]
    q = s.orientation[j]
    near = t.gap + _ROOM
    if (
        abs(x - s.x[j]) > t.half[q, 0] + t.half[o, 0] + near
        or abs(y - s.y[j]) > t.half[q, 1] + t.half[o, 1] + near
    ):
        return 0.0
    return _along(r, o, x, y, q, s.x[j], s.y[j], -1.0, t.gap)


@njit(**INLINE)
def _through(t, list_, b, qx, qy, vx, vy, out):  # type: ignore[no-untyped-def]
    """Which part of the segment from q to v lies within entry b of the list: from out[0] to out[1], of 1.

    Returns 0 where none does, 1 where it does, and 2 where an end lies off the entry's edges, beyond a corner
    which the gap makes round: then the part is less than said.
    """
    gap, x, y = list_.gap[b], list_.x[b], list_.y[b]
    low, high = 0.0, 1.0
    at_low, at_high = -1, -1
    first, last = t.ent_first[list_.entry[b]], t.ent_first[list_.entry[b] + 1]
    for c in range(first, last):
        away = t.c[c] + gap + t.nx[c] * x + t.ny[c] * y
        d0 = t.nx[c] * qx + t.ny[c] * qy - away
        d1 = t.nx[c] * vx + t.ny[c] * vy - away
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
        for c, u in ((at_low, low), (at_high, high)):
            if c < 0:
                continue
            d = c + 1 if c + 1 < last else first
            px, py = qx + u * (vx - qx) - x - t.ex[c], qy + u * (vy - qy) - y - t.ey[c]
            wx, wy = t.ex[d] - t.ex[c], t.ey[d] - t.ey[c]
            along = px * wx + py * wy
            if along < 0.0 or along > wx * wx + wy * wy:
                return 2
    return 1


@njit(**INLINE)
def _entry_spots(t, s, r, spots, g, k, o, list_, a, others, n_others, out, parts):  # type: ignore[no-untyped-def]
    """Spots on the edges of entry a of the list: the ends of what the hull and the others leave of each.

    The others that stand before a in the list make spots; those after a only cover.
    """
    p = o * t.n_gr + g
    ax, ay, gap_a = list_.x[a], list_.y[a], list_.gap[a]
    first, last = t.ent_first[list_.entry[a]], t.ent_first[list_.entry[a] + 1]
    for e in range(first, last):
        if not t.live[e]:
            continue
        f = e + 1 if e + 1 < last else first
        qx, qy = ax + t.ex[e] + gap_a * t.nx[e], ay + t.ey[e] + gap_a * t.ny[e]
        vx, vy = ax + t.ex[f] + gap_a * t.nx[e], ay + t.ey[f] + gap_a * t.ny[e]
        x0, x1, y0, y1 = min(qx, vx), max(qx, vx), min(qy, vy), max(qy, vy)
        if x1 < t.room[p, 0] or x0 > t.room[p, 2] or y1 < t.room[p, 1] or y0 > t.room[p, 3]:
            continue
        begin, end = 0.0, 1.0
        for h in range(t.hull_first[p], t.hull_first[p + 1]):
            d0 = t.hull_nx[h] * qx + t.hull_ny[h] * qy - t.hull_c[h]
            d1 = t.hull_nx[h] * vx + t.hull_ny[h] * vy - t.hull_c[h]
            if d0 > CLEAR:
                if d1 > CLEAR:
                    begin = 2.0
                    break
                begin = max(begin, d0 / (d0 - d1))
            elif d1 > CLEAR:
                end = min(end, d0 / (d0 - d1))
        if begin > end + _TOUCH:
            continue
        parts[0, 0], parts[0, 1], parts[0, 2], parts[0, 3] = begin, 1.0, 0.0, 0.0
        parts[1, 0], parts[1, 1], parts[1, 2], parts[1, 3] = end, 1.0, 0.0, 0.0
        n = 2
        for m in range(n_others):
            b = others[m]
            if x1 < list_.x0[b] or x0 > list_.x1[b] or y1 < list_.y0[b] or y0 > list_.y1[b]:
                continue
            how = _through(t, list_, b, qx, qy, vx, vy, out)
            if how == 0:
                continue
            low, high = out[0], out[1]
            if how == 1 and low <= begin and high >= end and high - low > _TOUCH:
                n = 0
                break
            makes = 1.0 if b < a else 0.0
            parts[n, 0], parts[n, 1], parts[n, 2], parts[n, 3] = low, makes, 0.0, 0.0
            parts[n + 1, 0], parts[n + 1, 1], parts[n + 1, 2], parts[n + 1, 3] = high, makes, 0.0, 0.0
            if how == 1:
                parts[n, 2], parts[n, 3] = low, high
            n += 2
        for c in range(n):
            u = parts[c, 0]
            if parts[c, 1] == 0.0 or u < begin - _TOUCH or u > end + _TOUCH:
                continue
            covered = False
            for d in range(2, n, 2):
                if parts[d, 2] + _TOUCH < u < parts[d, 3] - _TOUCH:
                    covered = True
                    break
            if not covered:
                _offer(t, s, r, spots, g, k, o, qx + u * (vx - qx), qy + u * (vy - qy))


class Entries(NamedTuple):
    """Entries with where the fixed item lies, the gap, and the box around them."""

    entry: Ints
    x: Floats
    y: Floats
    gap: Floats
    x0: Floats
    y0: Floats
    x1: Floats
    y1: Floats


@njit(**JIT)
def _no_entries():  # type: ignore[no-untyped-def]
    n = _MOST_ENTRIES
    return Entries(
        np.empty(n, np.int64), np.empty(n), np.empty(n), np.empty(n),
        np.empty(n), np.empty(n), np.empty(n), np.empty(n),
    )  # fmt: skip


@njit(**INLINE)
def _add(t, list_, n, first, last, x, y, gap):  # type: ignore[no-untyped-def]
    for k in range(first, last):
        if n >= _MOST_ENTRIES:
            break
        list_.entry[n], list_.x[n], list_.y[n], list_.gap[n] = k, x, y, gap
        list_.x0[n], list_.y0[n] = t.ent_box[k, 0] + x, t.ent_box[k, 1] + y
        list_.x1[n], list_.y1[n] = t.ent_box[k, 2] + x, t.ent_box[k, 3] + y
        n += 1
    return n


@njit(**JIT)
def _spots_of(t, s, r, spots, g, k, last, list_, others, out, parts):  # type: ignore[no-untyped-def]
    """Offer the spots of kind k on ground g: all, or if last >= 0 those where it touches item `last`."""
    for q in range(t.allow_first[k * t.n_gr + g], t.allow_first[k * t.n_gr + g + 1]):
        o = t.allow[q]
        p = o * t.n_gr + g
        if last < 0:
            for m in range(t.spot_first[p], t.spot_first[p + 1]):
                _offer(t, s, r, spots, g, k, o, t.spots[m, 0], t.spots[m, 1])
        n = _add(t, list_, 0, t.ob_first[p], t.ob_first[p + 1], 0.0, 0.0, 0.0)
        for i in range(len(s.x)):
            if s.ground[i] == g and i != last:
                pair = s.orientation[i] * t.n_or + o
                n = _add(t, list_, n, t.pair_first[pair], t.pair_first[pair + 1], s.x[i], s.y[i], t.gap)
        begin = 0
        if last >= 0:
            begin = n
            pair = s.orientation[last] * t.n_or + o
            n = _add(t, list_, n, t.pair_first[pair], t.pair_first[pair + 1], s.x[last], s.y[last], t.gap)
        for a in range(begin, n):
            if (
                list_.x1[a] < t.room[p, 0] or list_.x0[a] > t.room[p, 2]
                or list_.y1[a] < t.room[p, 1] or list_.y0[a] > t.room[p, 3]
            ):  # fmt: skip
                continue
            near = 0
            for b in range(n):
                if b != a and (
                    list_.x1[a] >= list_.x0[b] and list_.x0[a] <= list_.x1[b]
                    and list_.y1[a] >= list_.y0[b] and list_.y0[a] <= list_.y1[b]
                ):  # fmt: skip
                    others[near] = b
                    near += 1
            _entry_spots(t, s, r, spots, g, k, o, list_, a, others, near, out, parts)


@njit(**JIT)
def _kinds_left(t, s):  # type: ignore[no-untyped-def]
    left = np.zeros((len(t.allow_first) - 1) // t.n_gr, np.int64)
    for i in range(len(s.x)):
        if s.ground[i] < 0:
            left[s.kind[i]] += 1
    return left


@njit(**JIT)
def _that_fit(s, r, g, left):  # type: ignore[no-untyped-def]
    """Of each kind left: whether ground g has at least as much area free as one of it needs."""
    free = r.ground_area[g] * (1.0 + 1e-9)
    for i in range(len(s.x)):
        if s.ground[i] == g:
            free -= s.area[i]
    fit = np.zeros(len(left), np.bool_)
    for i in range(len(s.x)):
        if left[s.kind[i]] > 0 and s.area[i] <= free:
            fit[s.kind[i]] = True
    return fit


@njit(**JIT)
def find_spots(t, s, r, spots, g):  # type: ignore[no-untyped-def]
    """Work out afresh all spots on ground g of the kinds that are still to be laid."""
    spots.number[g] = 0
    list_, others, out = _no_entries(), np.empty(_MOST_ENTRIES, np.int64), np.zeros(2)
    parts = np.empty((2 * _MOST_ENTRIES + 2, 4))
    fit = _that_fit(s, r, g, _kinds_left(t, s))
    for k in range(len(fit)):
        if fit[k]:
            _spots_of(t, s, r, spots, g, k, -1, list_, others, out, parts)


@njit(**JIT)
def _after(t, s, r, spots, g, j, left):  # type: ignore[no-untyped-def]
    """Bring the spots of ground g up to date after item j was laid there, for the kinds left."""
    n = 0
    fit = _that_fit(s, r, g, left)
    for m in range(spots.number[g]):
        k, o, x, y = spots.kind[g, m], spots.orientation[g, m], spots.x[g, m], spots.y[g, m]
        if not fit[k] or overlap_of(t, s.orientation[j], o, x - s.x[j], y - s.y[j]) > 0.0:
            continue
        spots.kind[g, n], spots.orientation[g, n], spots.x[g, n], spots.y[g, n] = k, o, x, y
        spots.contact[g, n] = spots.contact[g, m] + _contact_with(t, s, r, j, o, x, y)
        n += 1
    spots.number[g] = n
    list_, others, out = _no_entries(), np.empty(_MOST_ENTRIES, np.int64), np.zeros(2)
    parts = np.empty((2 * _MOST_ENTRIES + 2, 4))
    for k in range(len(fit)):
        if fit[k]:
            _spots_of(t, s, r, spots, g, k, j, list_, others, out, parts)


@njit(**JIT)
def lay_by_contact(t, s, r, spots, size_counts, noise, most):  # type: ignore[no-untyped-def]
    """Lay up to `most` items, each time where contact for its outline, and size, are greatest.

    size_counts: worth of the largest item beside full contact all round. noise: of that worth.
    Returns the number of items laid.
    """
    left = _kinds_left(t, s)
    largest = np.max(s.area)
    worth = np.zeros(len(left))
    for i in range(len(s.x)):
        worth[s.kind[i]] = size_counts * np.sqrt(s.area[i] / largest)
    laid = 0
    while laid < most:
        best, bg, bm = -1.0, -1, -1
        for g in range(t.n_gr):
            for m in range(spots.number[g]):
                k = spots.kind[g, m]
                if left[k] == 0:
                    continue
                o = spots.orientation[g, m]
                v = (
                    spots.contact[g, m] / (r.around[o] + r.taste[0] * r.around_rare[o])
                    + worth[k]
                    + noise * uniform(s.random)
                )
                if v > best:
                    best, bg, bm = v, g, m
        if bg < 0:
            break
        k = spots.kind[bg, bm]
        for i in range(len(s.x)):
            if s.kind[i] == k and s.ground[i] < 0:
                put(t, s, i, bg, spots.orientation[bg, bm], spots.x[bg, bm], spots.y[bg, bm])
                left[k] -= 1
                _after(t, s, r, spots, bg, i, left)
                break
        laid += 1
    return laid

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

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numba import njit

from salvage.fit.geometry.kernels import CLEAR, outside_of, overlap_of, put, uniform
from salvage.fit.geometry.packed import INNER, JIT, PackedRings, PackedSpots, pack
from salvage.fit.geometry.tables import Floats, Ints, Tables
from salvage.fit.geometry.task import Task
from salvage.fit.search.rarity import rarity_of

_MOST_SPOTS = 12000  # of one ground
_MOST_ENTRIES = 2048  # on one ground
_PARALLEL = 0.9998  # cosine of the angle between edges that can be in contact
_ROOM = 0.35  # mm between edges in contact
_FLUSH = 0.7  # mm, beside the gap, between the ends of edges that are flush
_TOUCH = 1e-10  # mm, or of a length: as good as touching


@dataclass(frozen=True, slots=True, eq=False)
class Rings:
    """Outlines with their edges: of orientations (first half of `first`), then of grounds, holes included.

    Edge e starts at (x, y), runs in the unit direction (ux, uy) for `length`; the shape or the cloth lies
    to its left. ground_area: mm^2. rarity: of each edge, 0 to 1 where little else could lie along it.
    around: length of each orientation's outline, and of that the part weighed by rarity.
    taste: how much rarity, and flush ends, add to each mm of contact.
    All are views into `packed`, which is what the kernels read.
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
    packed: PackedRings


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
    floats = {
        "x": start[:, 0], "y": start[:, 1], "ux": unit[:, 0], "uy": unit[:, 1], "length": length,
        "around": np.add.reduceat(length, first[:-1])[:n_or],
        "around_rare": np.add.reduceat(length[: len(rarity)] * rarity, first[:n_or]),
        "ground_area": np.array([g.polygon.area for g in task.grounds]), "rarity": rarity, "taste": np.zeros(2),
    }  # fmt: skip
    packed, views = pack(PackedRings, floats, {"first": np.array(first, np.int64)})
    return Rings(packed=packed, **views)


def make_spots(tables: Tables) -> PackedSpots:
    """Room for spots, none there yet."""
    n_gr = tables.packed.n_gr
    room = n_gr * _MOST_SPOTS
    floats = {name: np.zeros(room) for name in ("x", "y", "contact")}
    ints = {"number": np.zeros(n_gr, np.int64)} | {
        name: np.zeros(room, np.int64) for name in ("kind", "orientation")
    }
    return pack(PackedSpots, floats, ints)[0]


@njit(**INNER)
def _along(r, a, ax, ay, b, bx, by, sign, gap):  # type: ignore[no-untyped-def]
    """Length, as taste has it, along which ring group a at (ax, ay) is in contact with b at (bx, by).

    sign: 1 where b is the cloth round a, -1 where b is a neighbour.
    """
    total = 0.0
    for i in range(r.i[r.first + a], r.i[r.first + a + 1]):
        x, y = r.f[r.x + i] + ax - bx, r.f[r.y + i] + ay - by
        for j in range(r.i[r.first + b], r.i[r.first + b + 1]):
            if sign * (r.f[r.ux + i] * r.f[r.ux + j] + r.f[r.uy + i] * r.f[r.uy + j]) < _PARALLEL:
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


@njit(**INNER)
def _offer(t, s, r, spots, g, k, o, x, y):  # type: ignore[no-untyped-def]
    """Add a spot if it is clear and not there yet."""
    p = o * t.n_gr + g
    if (
        x < t.f[t.room + 4 * p] - CLEAR or x > t.f[t.room + 4 * p + 2] + CLEAR or y < t.f[t.room + 4 * p + 1] - CLEAR or y > t.f[t.room + 4 * p + 3] + CLEAR
    ):  # fmt: skip
        return
    n = spots.i[spots.number + g]
    if n >= _MOST_SPOTS:
        return
    # the same place is often found several times in a row
    for m in range(n - 1, max(-1, n - 60), -1):
        if (
            spots.i[spots.orientation + _MOST_SPOTS * g + m] != o
            or spots.i[spots.kind + _MOST_SPOTS * g + m] != k
        ):
            break
        if (
            abs(spots.f[spots.x + _MOST_SPOTS * g + m] - x) + abs(spots.f[spots.y + _MOST_SPOTS * g + m] - y)
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
        spots.i[spots.kind + _MOST_SPOTS * g + n],
        spots.i[spots.orientation + _MOST_SPOTS * g + n],
        spots.f[spots.x + _MOST_SPOTS * g + n],
        spots.f[spots.y + _MOST_SPOTS * g + n],
    ) = k, o, x, y
    spots.f[spots.contact + _MOST_SPOTS * g + n] = contact
    spots.i[spots.number + g] = n + 1


@njit(**INNER)
def _contact_with(t, s, r, j, o, x, y):  # type: ignore[no-untyped-def]
    q = s.i[s.orientation + j]
    near = t.gap + _ROOM
    if (
        abs(x - s.f[s.x + j]) > t.f[t.half + 2 * q] + t.f[t.half + 2 * o] + near
        or abs(y - s.f[s.y + j]) > t.f[t.half + 2 * q + 1] + t.f[t.half + 2 * o + 1] + near
    ):
        return 0.0
    return _along(r, o, x, y, q, s.f[s.x + j], s.f[s.y + j], -1.0, t.gap)


@njit(**INNER)
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
        for c, u in ((at_low, low), (at_high, high)):
            if c < 0:
                continue
            d = c + 1 if c + 1 < last else first
            px, py = qx + u * (vx - qx) - x - t.f[t.ex + c], qy + u * (vy - qy) - y - t.f[t.ey + c]
            wx, wy = t.f[t.ex + d] - t.f[t.ex + c], t.f[t.ey + d] - t.f[t.ey + c]
            along = px * wx + py * wy
            if along < 0.0 or along > wx * wx + wy * wy:
                return 2
    return 1


@njit(**INNER)
def _entry_spots(t, s, r, spots, g, k, o, list_, a, others, n_others, out, parts):  # type: ignore[no-untyped-def]
    """Spots on the edges of entry a of the list: the ends of what the hull and the others leave of each.

    The others that stand before a in the list make spots; those after a only cover.
    """
    p = o * t.n_gr + g
    ax, ay, gap_a = list_.f[list_.x + a], list_.f[list_.y + a], list_.f[list_.gap + a]
    first, last = t.i[t.ent_first + list_.i[list_.entry + a]], t.i[t.ent_first + list_.i[list_.entry + a] + 1]
    for e in range(first, last):
        if not t.i[t.live + e]:
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
        parts[0, 0], parts[0, 1], parts[0, 2], parts[0, 3] = begin, 1.0, 0.0, 0.0
        parts[1, 0], parts[1, 1], parts[1, 2], parts[1, 3] = end, 1.0, 0.0, 0.0
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
    """Entries with where the fixed item lies, the gap, and the box around them; the others begin in f there."""

    f: Floats
    i: Ints
    entry: int
    x: int
    y: int
    gap: int
    x0: int
    y0: int
    x1: int
    y1: int


@njit(**INNER)
def _no_entries():  # type: ignore[no-untyped-def]
    n = _MOST_ENTRIES
    return Entries(np.empty(7 * n), np.empty(n, np.int64), 0, 0, n, 2 * n, 3 * n, 4 * n, 5 * n, 6 * n)


@njit(**INNER)
def _add(t, list_, n, first, last, x, y, gap):  # type: ignore[no-untyped-def]
    for k in range(first, last):
        if n >= _MOST_ENTRIES:
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


@njit(**INNER)
def _spots_of(t, s, r, spots, g, k, last, list_, others, out, parts):  # type: ignore[no-untyped-def]
    """Offer the spots of kind k on ground g: all, or if last >= 0 those where it touches item `last`."""
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


@njit(**INNER)
def _kinds_left(t, s):  # type: ignore[no-untyped-def]
    left = np.zeros(t.n_kinds, np.int64)
    for i in range(s.n):
        if s.i[s.ground + i] < 0:
            left[s.i[s.kind + i]] += 1
    return left


@njit(**INNER)
def _that_fit(s, r, g, left):  # type: ignore[no-untyped-def]
    """Of each kind left: whether ground g has at least as much area free as one of it needs."""
    free = r.f[r.ground_area + g] * (1.0 + 1e-9)
    for i in range(s.n):
        if s.i[s.ground + i] == g:
            free -= s.f[s.area + i]
    fit = np.zeros(len(left), np.bool_)
    for i in range(s.n):
        if left[s.i[s.kind + i]] > 0 and s.f[s.area + i] <= free:
            fit[s.i[s.kind + i]] = True
    return fit


@njit(**JIT)
def find_spots(t, s, r, spots, g):  # type: ignore[no-untyped-def]
    """Work out afresh all spots on ground g of the kinds that are still to be laid."""
    spots.i[spots.number + g] = 0
    list_, others, out = _no_entries(), np.empty(_MOST_ENTRIES, np.int64), np.zeros(2)
    parts = np.empty((2 * _MOST_ENTRIES + 2, 4))
    fit = _that_fit(s, r, g, _kinds_left(t, s))
    for k in range(len(fit)):
        if fit[k]:
            _spots_of(t, s, r, spots, g, k, -1, list_, others, out, parts)


@njit(**INNER)
def _after(t, s, r, spots, g, j, left):  # type: ignore[no-untyped-def]
    """Bring the spots of ground g up to date after item j was laid there, for the kinds left."""
    n = 0
    fit = _that_fit(s, r, g, left)
    for m in range(spots.i[spots.number + g]):
        k, o, x, y = (
            spots.i[spots.kind + _MOST_SPOTS * g + m],
            spots.i[spots.orientation + _MOST_SPOTS * g + m],
            spots.f[spots.x + _MOST_SPOTS * g + m],
            spots.f[spots.y + _MOST_SPOTS * g + m],
        )
        if not fit[k] or overlap_of(t, s.i[s.orientation + j], o, x - s.f[s.x + j], y - s.f[s.y + j]) > 0.0:
            continue
        (
            spots.i[spots.kind + _MOST_SPOTS * g + n],
            spots.i[spots.orientation + _MOST_SPOTS * g + n],
            spots.f[spots.x + _MOST_SPOTS * g + n],
            spots.f[spots.y + _MOST_SPOTS * g + n],
        ) = k, o, x, y
        spots.f[spots.contact + _MOST_SPOTS * g + n] = spots.f[
            spots.contact + _MOST_SPOTS * g + m
        ] + _contact_with(t, s, r, j, o, x, y)
        n += 1
    spots.i[spots.number + g] = n
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
    largest = 0.0
    for i in range(s.n):
        largest = max(largest, s.f[s.area + i])
    worth = np.zeros(len(left))
    for i in range(s.n):
        worth[s.i[s.kind + i]] = size_counts * np.sqrt(s.f[s.area + i] / largest)
    laid = 0
    while laid < most:
        best, bg, bm = -1.0, -1, -1
        for g in range(t.n_gr):
            for m in range(spots.i[spots.number + g]):
                k = spots.i[spots.kind + _MOST_SPOTS * g + m]
                if left[k] == 0:
                    continue
                o = spots.i[spots.orientation + _MOST_SPOTS * g + m]
                v = (
                    spots.f[spots.contact + _MOST_SPOTS * g + m]
                    / (r.f[r.around + o] + r.f[r.taste] * r.f[r.around_rare + o])
                    + worth[k]
                    + noise * uniform(s.random)
                )
                if v > best:
                    best, bg, bm = v, g, m
        if bg < 0:
            break
        k = spots.i[spots.kind + _MOST_SPOTS * bg + bm]
        for i in range(s.n):
            if s.i[s.kind + i] == k and s.i[s.ground + i] < 0:
                put(
                    t,
                    s,
                    i,
                    bg,
                    spots.i[spots.orientation + _MOST_SPOTS * bg + bm],
                    spots.f[spots.x + _MOST_SPOTS * bg + bm],
                    spots.f[spots.y + _MOST_SPOTS * bg + bm],
                )
                left[k] -= 1
                _after(t, s, r, spots, bg, i, left)
                break
        laid += 1
    return laid

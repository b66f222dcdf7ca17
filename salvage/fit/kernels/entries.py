"""No-fit polygons of convex parts, compiled.

An *entry* is the no-fit polygon of one convex part against another, or against an obstacle: a convex
polygon in which the moving middle, seen from the fixed middle, makes them overlap. Its edges are kept as
outward normals and offsets (nx * x + ny * y <= c inside), with the corner each edge starts from.
Source: the Minkowski sum of convex polygons by merging edges in order of angle, de Berg et al.,
Computational Geometry, 3rd ed. (2008), section 13.3 (from memory).
"""

from __future__ import annotations

import numpy as np

from salvage.fit.kernels.kinds import BOOL, FLOAT, FLOATS, INT, INTS, NONE, TABLES, inner, past_floats


@inner(INT(FLOATS, FLOATS, INT, FLOATS, FLOATS, INT, FLOATS, FLOATS))
def _minkowski(ax, ay, na, bx, by, nb, ox, oy):  # type: ignore[no-untyped-def]
    """A + (-B) of two convex counter-clockwise rings of na and nb corners into ox, oy; returns how many corners."""
    # start both at their lowest, then leftmost corner; of -B that is the highest, rightmost of B
    i0 = 0
    for i in range(1, na):
        if ay[i] < ay[i0] or (ay[i] == ay[i0] and ax[i] < ax[i0]):
            i0 = i
    j0 = 0
    for j in range(1, nb):
        if by[j] > by[j0] or (by[j] == by[j0] and bx[j] > bx[j0]):
            j0 = j
    i = j = n = 0
    while i < na or j < nb:
        ia, ja = (i0 + i) % na, (j0 + j) % nb
        ox[n] = ax[ia] - bx[ja]
        oy[n] = ay[ia] - by[ja]
        n += 1
        eax, eay = ax[(ia + 1) % na] - ax[ia], ay[(ia + 1) % na] - ay[ia]
        ebx, eby = bx[ja] - bx[(ja + 1) % nb], by[ja] - by[(ja + 1) % nb]
        if i >= na:
            j += 1
        elif j >= nb:
            i += 1
        else:
            turn = eax * eby - eay * ebx
            small = 1e-12 * (abs(eax) + abs(eay)) * (abs(ebx) + abs(eby))
            if turn > small:
                i += 1
            elif turn < -small:
                j += 1
            else:
                i += 1
                j += 1
    return n


@inner(
    NONE(
        INT,
        INT,
        INTS,
        INTS,
        INTS,
        FLOATS,
        FLOATS,
        FLOAT,
        FLOATS,
        FLOATS,
        FLOATS,
        FLOATS,
        FLOATS,
        FLOATS,
        INTS,
    )
)
def fill_entries(n_entries, fixed, part_a, part_b, first, px, py, gap, box, ex, ey, nx, ny, c, counts):  # type: ignore[no-untyped-def]
    """Work out entry k for parts part_a[k] and part_b[k]; the first `fixed` of them are against other items.

    counts (n_entries + 1): gets where the corners of each entry begin, and where the last ends.
    """
    n = 0
    counts[0] = 0
    for k in range(n_entries):
        a, b = part_a[k], part_b[k]
        m = _minkowski(
            past_floats(px, first[a]), past_floats(py, first[a]), first[a + 1] - first[a],
            past_floats(px, first[b]), past_floats(py, first[b]), first[b + 1] - first[b],
            past_floats(ex, n), past_floats(ey, n),
        )  # fmt: skip
        x0 = y0 = np.inf
        x1 = y1 = -np.inf
        for i in range(n, n + m):
            j = i + 1 if i + 1 < n + m else n
            dx, dy = ex[j] - ex[i], ey[j] - ey[i]
            length = np.hypot(dx, dy)
            nx[i], ny[i] = dy / length, -dx / length
            c[i] = nx[i] * ex[i] + ny[i] * ey[i]
            x0, y0 = min(x0, ex[i]), min(y0, ey[i])
            x1, y1 = max(x1, ex[i]), max(y1, ey[i])
        room = gap if k < fixed else 0.0
        box[4 * k], box[4 * k + 1], box[4 * k + 2], box[4 * k + 3] = (
            x0 - room,
            y0 - room,
            x1 + room,
            y1 + room,
        )
        n += m
        counts[k + 1] = n


@inner(BOOL(TABLES, INT, INT))
def is_live(t, k, e):  # type: ignore[no-untyped-def]
    """Whether edge e of entry k doesn't lie whole within another entry of its group; noted once it is known.

    Most edges of large tables are never looked at. Two threads may find it out at once, and write the same.
    """
    known = t.i[t.live + e]
    if known >= 0:
        return known == 1
    first, last = t.i[t.ent_first + k], t.i[t.ent_first + k + 1]
    f = e + 1 if e + 1 < last else first
    x0, x1 = min(t.f[t.ex + e], t.f[t.ex + f]), max(t.f[t.ex + e], t.f[t.ex + f])
    y0, y1 = min(t.f[t.ey + e], t.f[t.ey + f]), max(t.f[t.ey + e], t.f[t.ey + f])
    group = t.pair_first + t.i[t.ent_group + k]
    found = 1
    for b in range(t.i[group], t.i[group + 1]):
        box = t.ent_box + 4 * b
        if b == k or x1 >= t.f[box + 2] or x0 <= t.f[box]:
            continue
        if y1 >= t.f[box + 3] or y0 <= t.f[box + 1]:
            continue
        within = True
        for i in range(t.i[t.ent_first + b], t.i[t.ent_first + b + 1]):
            nx, ny, c = t.f[t.nx + i], t.f[t.ny + i], t.f[t.c + i]
            if (
                nx * t.f[t.ex + e] + ny * t.f[t.ey + e] > c - 1e-7
                or nx * t.f[t.ex + f] + ny * t.f[t.ey + f] > c - 1e-7
            ):
                within = False
                break
        if within:
            found = 0
            break
    t.i[t.live + e] = found
    return found == 1

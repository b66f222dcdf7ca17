"""Tables of no-fit polygons for the compiled kernels; `salvage.fit.kernels.entries` says what an entry is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from salvage.fit.geometry.task import Task
from salvage.fit.kernels.calls import fill_entries
from salvage.fit.kernels.packed import TABLES_FIELDS, Floats, Ints, Packed, pack


@dataclass(frozen=True, slots=True, eq=False)
class Tables:
    """The tables of a task: n_gr grounds, n_kinds kinds, what may lie where, and all of it for the kernels.

    allow_first, allow: orientations of kind k on ground g, [k * n_gr + g] up to the next; only those
    whose room isn't empty. Both are views into `packed`.
    """

    n_gr: int
    n_kinds: int
    allow_first: Ints
    allow: Ints
    packed: Packed


def _firsts(sizes: list[int]) -> Ints:
    """Where runs of these sizes, one after the other, begin, and where the last ends."""
    return np.concatenate([[0], np.cumsum(np.array(sizes, np.int64))])


def _spans(first: Ints) -> Ints:
    return np.column_stack([first[:-1], first[1:]])


def _all_pairs(outer: Ints, inner: Ints) -> tuple[Ints, Ints, Ints]:
    """Every part of every outer with every part of every inner; (n, 2), (m, 2): their parts, from and up to.

    Returns (n * m + 1,) where each outer's with each inner begins in the other two, the parts themselves.
    """
    numbers = np.diff(outer)[:, None] * np.diff(inner)[None, :, 0]
    first = np.concatenate([[0], np.cumsum(numbers.ravel())])
    group = np.repeat(np.arange(numbers.size), numbers.ravel())
    within = np.arange(first[-1]) - first[group]
    o, i = np.divmod(group, max(1, len(inner)))
    width = np.diff(inner)[i, 0]
    return first, outer[o, 0] + within // width, inner[i, 0] + within % width


def make_tables(task: Task) -> Tables:
    """Tables of a task; a few milliseconds for a usual question."""
    n_or, n_gr = len(task.orientations), len(task.grounds)
    rings = [part for o in task.orientations for part in o.parts]
    part_first = _firsts([len(o.parts) for o in task.orientations])
    obstacle_first = len(rings) + _firsts([len(g.obstacles) for g in task.grounds])
    rings += [part for g in task.grounds for part in g.obstacles]
    first = _firsts([len(r) for r in rings])
    points = np.concatenate(rings) if rings else np.zeros((0, 2))

    of_orientation, of_ground = _spans(part_first), _spans(obstacle_first)
    pair_first, pair_a, pair_b = _all_pairs(of_orientation, of_orientation)
    ob_first, ob_b, ob_a = _all_pairs(of_orientation, of_ground)
    fixed = int(pair_first[-1])
    ob_first += fixed
    all_a, all_b = np.concatenate([pair_a, ob_a]), np.concatenate([pair_b, ob_b])
    sizes = np.diff(first)
    most = int((sizes[all_a] + sizes[all_b]).sum())
    ex, ey, nx, ny, c = (np.zeros(most + 1) for _ in range(5))
    ent_box = np.zeros((len(all_a), 4))
    ent_first = fill_entries(
        fixed, all_a, all_b, first, points[:, 0], points[:, 1],
        task.gap, ent_box, ex, ey, nx, ny, c,
    )  # fmt: skip
    used = int(ent_first[-1])
    ex, ey, nx, ny, c = (v[:used] for v in (ex, ey, nx, ny, c))
    ent_group = np.repeat(
        np.concatenate([np.arange(len(pair_first) - 1), len(pair_first) + np.arange(len(ob_first) - 1)]),
        np.concatenate([np.diff(pair_first), np.diff(ob_first)]),
    )
    half = np.array([o.half for o in task.orientations]).reshape(-1, 2)
    floats, ints = _hulls(task)
    floats |= {"half": half, "ent_box": ent_box, "ex": ex, "ey": ey, "nx": nx, "ny": ny, "c": c}
    # ob_first right after pair_first: see ent_group
    ints = {"pair_first": pair_first, "ob_first": ob_first, "ent_first": ent_first, **ints}
    ints |= {"ent_group": ent_group, "live": np.full(used, -1)}
    floats["gap_at"] = np.array([task.gap])
    n_kinds = len(task.kinds)
    packed, views = pack(TABLES_FIELDS, floats, ints, n_or=n_or, n_gr=n_gr, n_kinds=n_kinds)
    return Tables(n_gr, n_kinds, views["allow_first"], views["allow"], packed)


def _hulls(task: Task) -> tuple[dict[str, Floats], dict[str, Ints]]:
    """The half-planes that keep each orientation within each ground's hull, and what they leave."""
    n_gr = len(task.grounds)
    firsts, normals, offsets = [0], [], []
    spot_firsts, spots = [0], []
    room = np.zeros((len(task.orientations) * n_gr, 4))
    for o, orientation in enumerate(task.orientations):
        points = np.concatenate(orientation.parts)
        for g, ground in enumerate(task.grounds):
            edge = np.roll(ground.hull, -1, axis=0) - ground.hull
            normal = np.column_stack([edge[:, 1], -edge[:, 0]]) / np.hypot(*edge.T)[:, None]
            offset = (normal * ground.hull).sum(axis=1) - (normal @ points.T).max(axis=1)
            corner = _corners(normal, offset)
            normals.append(normal)
            offsets.append(offset)
            firsts.append(firsts[-1] + len(offset))
            spots.append(corner)
            spot_firsts.append(spot_firsts[-1] + len(corner))
            if len(corner):
                room[o * n_gr + g] = (*corner.min(axis=0), *corner.max(axis=0))
            else:
                room[o * n_gr + g] = (1.0, 1.0, 0.0, 0.0)
    allow_first, allow = [0], []
    for kind in task.kinds:
        for g in range(n_gr):
            good = [o for o in kind.orientations[g] if room[o * n_gr + g, 2] >= room[o * n_gr + g, 0]]
            allow += good
            allow_first.append(len(allow))
    normal = np.concatenate(normals) if normals else np.zeros((0, 2))
    floats = {
        "hull_nx": normal[:, 0], "hull_ny": normal[:, 1],
        "hull_c": np.concatenate(offsets) if offsets else np.zeros(0),
        "spots": np.concatenate(spots) if spots else np.zeros((0, 2)), "room": room,
    }  # fmt: skip
    ints = {
        "hull_first": np.array(firsts, np.int64), "spot_first": np.array(spot_firsts, np.int64),
        "allow_first": np.array(allow_first, np.int64), "allow": np.array(allow, np.int64),
    }  # fmt: skip
    return floats, ints


def _corners(normal: Floats, offset: Floats) -> Floats:
    """(m, 2) corners of {p: normal @ p <= offset}; a shape as wide as the cloth leaves a line or a point."""
    i, j = np.triu_indices(len(offset), 1)
    det = normal[i, 0] * normal[j, 1] - normal[i, 1] * normal[j, 0]
    keep = np.abs(det) > 1e-9
    i, j, det = i[keep], j[keep], det[keep]
    x = (offset[i] * normal[j, 1] - offset[j] * normal[i, 1]) / det
    y = (normal[i, 0] * offset[j] - normal[j, 0] * offset[i]) / det
    corner = np.column_stack([x, y])
    inside = (corner @ normal.T <= offset + 1e-7).all(axis=1)
    return corner[inside]

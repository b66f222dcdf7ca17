"""What fitting edge to edge needs beside the tables: the outlines' edges, and room for the spots found."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from salvage.fit.geometry.tables import Tables
from salvage.fit.geometry.task import Task
from salvage.fit.kernels.packed import (
    FITTING_FLOATS,
    FITTING_INTS,
    MOST_SPOTS,
    PARALLEL,
    RINGS_FIELDS,
    SPOTS_FIELDS,
    Floats,
    Ints,
    Packed,
    pack,
)
from salvage.fit.search.rarity import rarity_of


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
    packed: Packed


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
    rarity = rarity_of(task, owner, unit, length, float(np.degrees(np.arccos(PARALLEL))))
    n_or = len(task.orientations)
    floats = {
        "x": start[:, 0], "y": start[:, 1], "ux": unit[:, 0], "uy": unit[:, 1], "length": length,
        "around": np.add.reduceat(length, first[:-1])[:n_or],
        "around_rare": np.add.reduceat(length[: len(rarity)] * rarity, first[:n_or]),
        "ground_area": np.array([g.polygon.area for g in task.grounds]), "rarity": rarity, "taste": np.zeros(2),
    }  # fmt: skip
    packed, views = pack(RINGS_FIELDS, floats, {"first": np.array(first, np.int64)})
    return Rings(packed=packed, **views)


def make_spots(tables: Tables) -> Packed:
    """Room for spots, none there yet."""
    n_gr, n_kinds = tables.n_gr, tables.n_kinds
    room = n_gr * MOST_SPOTS
    floats = {name: np.zeros(room) for name in ("x", "y", "contact")}
    ints = {"number": np.zeros(n_gr, np.int64)} | {
        name: np.zeros(room, np.int64) for name in ("kind", "orientation")
    }
    floats["worth"] = np.zeros(n_kinds)
    ints |= {"left": np.zeros(n_kinds, np.int64), "fit": np.zeros(n_kinds, np.int64)}
    room_for = {"scratch": FITTING_FLOATS}, {"scratch_ints": FITTING_INTS}
    return pack(SPOTS_FIELDS, floats, ints, room_for)[0]

"""A layout in work, as the kernels see it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from salvage.fit.kernels.packed import LAYING_FLOATS, LAYING_INTS, STATE_FIELDS, Floats, Ints, Packed, pack


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """A layout in work, n items. ground is -1 where an item is not placed.

    weight (n, n), edge_weight (n): how much overlaps count, raised where they persist.
    overlap (n, n), outside (n): what they are now.
    order (n), cursor (1): items in the order of this pass, and how many of them had their turn.
    best (2): least overlap since the weights were last forgotten, and passes since it was found.
    All are views into `packed`, which is what the kernels read and write.
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
    cursor: Ints
    best: Floats
    packed: Packed


def new_state(kind: Ints, area: Floats, seed: int) -> State:
    """A state with nothing placed."""
    n = len(kind)
    floats = {
        "area": area, "x": np.zeros(n), "y": np.zeros(n), "weight": np.ones((n, n)), "edge_weight": np.ones(n),
        "overlap": np.zeros((n, n)), "outside": np.zeros(n), "best": np.array([np.inf, 0.0]),
    }  # fmt: skip
    ints = {
        "kind": kind, "orientation": np.zeros(n, np.int64), "ground": np.full(n, -1, np.int64),
        "order": np.arange(n), "cursor": np.array([n]),
    }  # fmt: skip
    room = {"scratch": LAYING_FLOATS}, {"scratch_ints": LAYING_INTS}
    packed, views = pack(STATE_FIELDS, floats, ints, room, n=n, random=np.array([seed], np.uint64))
    return State(packed=packed, **{name: view for name, view in views.items() if name != "order"})

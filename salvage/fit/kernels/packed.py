"""Many arrays handed to compiled code as one address.

The arrays lie one after the other in `f` (floats) and `i` (whole numbers), and the fields named after them tell
where each begins: x of item j is f[x + j], row a of a table with four columns begins at f[table + 4 * a]. What is
handed over is the address of a list of whole numbers: the addresses of f, of i and of the random numbers, then the
fields in their order. Nothing here needs the compiler.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_SPOTS = 12000  # of one ground
MOST_ENTRIES = 2048  # on one ground
MOST_LINES = 24  # that an item touches
MOST_PLACES, MOST_ENTRIES_BESIDE = 4096, 512  # looked at in laying one item
PARALLEL = 0.9998  # cosine of the angle between edges that can be in contact
# Room that the kernels work in, so that they need no memory of their own.
LAYING_FLOATS, LAYING_INTS = 2 * MOST_PLACES + 3 * MOST_ENTRIES_BESIDE, MOST_ENTRIES_BESIDE
FITTING_FLOATS, FITTING_INTS = 15 * MOST_ENTRIES + 10, 2 * MOST_ENTRIES

# In each case the kernels' tuple has f and i before these, the state random too.
TABLES_FIELDS = (
    "gap_at", "n_or", "n_gr", "n_kinds", "half", "ent_box", "ex", "ey", "nx", "ny", "c", "hull_nx", "hull_ny",
    "hull_c", "spots", "room", "pair_first", "ob_first", "ent_first", "ent_group", "live", "hull_first", "spot_first",
    "allow_first", "allow",
)  # fmt: skip
"""Tables of a task; o, b: orientations (of n_or), g: ground (of n_gr), k: kind.

gap_at: where in f the cutting gap stands; the kernels know it as gap.
pair_first: entries of pair (b fixed, o moving) are [b * n_or + o] up to the next.
ob_first: entries of the obstacles of ground g against o, [o * n_gr + g] up to the next.
ent_group: of each entry where its pair, or ground, stands in pair_first and ob_first, which follows on it.
live: edges that don't lie whole within another entry of the same pair, or ground, -1 where that isn't known yet;
a place where two things touch lies on none of the others.
hull_first, hull_nx, hull_ny, hull_c: half-planes that keep o within the hull of g.
spot_first, spots: corners of the region those half-planes leave. room: its bounding box, with
x1 < x0 where it is empty.
allow_first, allow: orientations of kind k on ground g, [k * n_gr + g] up to the next; only those
whose room isn't empty.
half (n_or, 2), ent_box (n, 4), spots (n, 2) and room (n_or * n_gr, 4) are tables, row after row.
"""
STATE_FIELDS = (
    "n", "area", "x", "y", "weight", "edge_weight", "overlap", "outside", "best", "scratch", "kind", "orientation",
    "ground", "order", "cursor", "scratch_ints",
)  # fmt: skip
"""salvage.fit.geometry.state.State for the kernels."""
RINGS_FIELDS = (
    "x", "y", "ux", "uy", "length", "around", "around_rare", "ground_area", "rarity", "taste", "first",
)  # fmt: skip
"""salvage.fit.search.rings.Rings for the kernels."""
SPOTS_FIELDS = (
    "x", "y", "contact", "worth", "scratch", "number", "kind", "orientation", "left", "fit", "scratch_ints",
)  # fmt: skip
"""Places found: number of them on each ground, and as many rows of room for each ground in x, y, contact, kind and
orientation. left, fit, worth: of each kind, how many are still to be laid, whether one might fit, what one is worth."""


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


class Packed:
    """Arrays for the kernels, kept alive with their address."""

    __slots__ = ("_words", "address", "f", "i", "random")

    def __init__(self, f: Floats, i: Ints, random: NDArray[np.uint64] | None, fields: list[int]) -> None:
        self.f, self.i, self.random = f, i, random
        start = 0 if random is None else random.ctypes.data
        self._words = np.array([f.ctypes.data, i.ctypes.data, start, *fields], np.int64)
        self.address: int = self._words.ctypes.data


def pack(
    fields: tuple[str, ...],
    floats: Mapping[str, NDArray[Any]],
    ints: Mapping[str, NDArray[Any]],
    room: tuple[Mapping[str, int], Mapping[str, int]] = ({}, {}),
    *,
    random: NDArray[np.uint64] | None = None,
    **other: int,
) -> tuple[Packed, dict[str, NDArray[Any]]]:
    """The arrays copied one after the other, and views of them by name.

    room: of floats and of ints, how much to leave free, by name. other: fields handed on as they are.
    """
    f, f_first, f_views = _joined(floats, room[0], np.float64)
    i, i_first, i_views = _joined(ints, room[1], np.int64)
    known = {**f_first, **i_first, **other}
    return Packed(f, i, random, [known[name] for name in fields]), f_views | i_views


def _joined(
    arrays: Mapping[str, NDArray[Any]], room: Mapping[str, int], kind: type[Any]
) -> tuple[NDArray[Any], dict[str, int], dict[str, NDArray[Any]]]:
    sizes = {name: each.size for name, each in arrays.items()} | dict(room)
    ends = np.cumsum(list(sizes.values())).tolist()
    together = np.empty(ends[-1] + 1, kind)  # one more, so that none is empty
    together[-1] = 0
    first = {name: end - size for (name, size), end in zip(sizes.items(), ends, strict=True)}
    views = {}
    for name, each in arrays.items():
        views[name] = together[first[name] : first[name] + each.size].reshape(each.shape)
        views[name][...] = each
    return together, first, views

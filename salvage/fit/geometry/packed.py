"""Many arrays handed to compiled code as two.

A kernel that takes twenty arrays one by one carries a hundred and fifty numbers in every call, and most of the
time that compiling takes goes into passing them on. So the arrays lie one after the other in `f` (floats) and
`i` (whole numbers), and the fields named after them tell where each begins: x of item j is f[x + j], row a of a
table with four columns begins at f[table + 4 * a].
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

JIT: dict[str, Any] = {"cache": True, "nogil": True, "fastmath": False, "error_model": "numpy"}
# Of kernels that only other kernels call: no way in from Python is compiled.
INNER: dict[str, Any] = {**JIT, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}


class PackedTables(NamedTuple):
    """Tables of a task; o, b: orientations (of n_or), g: ground (of n_gr), k: kind.

    pair_first: entries of pair (b fixed, o moving) are [b * n_or + o] up to the next.
    ob_first: entries of the obstacles of ground g against o, [o * n_gr + g] up to the next.
    live: edges that don't lie whole within another entry of the same pair, or ground; a place where two
    things touch lies on none of the others.
    hull_first, hull_nx, hull_ny, hull_c: half-planes that keep o within the hull of g.
    spot_first, spots: corners of the region those half-planes leave. room: its bounding box, with
    x1 < x0 where it is empty.
    allow_first, allow: orientations of kind k on ground g, [k * n_gr + g] up to the next; only those
    whose room isn't empty.
    half (n_or, 2), ent_box (n, 4), spots (n, 2) and room (n_or * n_gr, 4) are tables, row after row.
    """

    f: Floats
    i: Ints
    gap: float
    n_or: int
    n_gr: int
    n_kinds: int
    half: int
    ent_box: int
    ex: int
    ey: int
    nx: int
    ny: int
    c: int
    hull_nx: int
    hull_ny: int
    hull_c: int
    spots: int
    room: int
    pair_first: int
    ob_first: int
    ent_first: int
    live: int
    hull_first: int
    spot_first: int
    allow_first: int
    allow: int


class PackedState(NamedTuple):
    """salvage.fit.geometry.kernels.State for the kernels. random: (1,), of the random numbers."""

    f: Floats
    i: Ints
    random: NDArray[np.uint64]
    n: int
    area: int
    x: int
    y: int
    weight: int
    edge_weight: int
    overlap: int
    outside: int
    best: int
    kind: int
    orientation: int
    ground: int
    order: int
    cursor: int


class PackedRings(NamedTuple):
    """salvage.fit.search.contact.Rings for the kernels."""

    f: Floats
    i: Ints
    x: int
    y: int
    ux: int
    uy: int
    length: int
    around: int
    around_rare: int
    ground_area: int
    rarity: int
    taste: int
    first: int


class PackedSpots(NamedTuple):
    """Places found: number of them on each ground, and as many rows of room for each ground in the others."""

    f: Floats
    i: Ints
    x: int
    y: int
    contact: int
    number: int
    kind: int
    orientation: int


Packed = TypeVar("Packed", PackedTables, PackedState, PackedRings, PackedSpots)


def pack(
    kind: type[Packed], floats: Mapping[str, NDArray[Any]], ints: Mapping[str, NDArray[Any]], **other: Any
) -> tuple[Packed, dict[str, NDArray[Any]]]:
    """The arrays copied one after the other, and views of them by name; other: fields handed on as they are."""
    f, f_first, f_views = _joined(floats, np.float64)
    i, i_first, i_views = _joined(ints, np.int64)
    fields: dict[str, Any] = {**f_first, **i_first, **other}
    return kind(f=f, i=i, **fields), f_views | i_views


def _joined(
    arrays: Mapping[str, NDArray[Any]], kind: type[Any]
) -> tuple[NDArray[Any], dict[str, int], dict[str, NDArray[Any]]]:
    ends = np.cumsum([each.size for each in arrays.values()]).tolist()
    together = np.empty(ends[-1] + 1, kind)  # one more, so that none is empty
    together[-1] = 0
    first, views = {}, {}
    for (name, each), end in zip(arrays.items(), ends, strict=True):
        first[name] = end - each.size
        views[name] = together[first[name] : end].reshape(each.shape)
        views[name][...] = each
    return together, first, views

"""The ways into the compiled kernels: plain C functions of addresses and numbers, as listed in `calls.DOORS`.

Only compiling imports this.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from numba import cfunc

from salvage.fit.kernels import contact, entries, moves, overlap
from salvage.fit.kernels.calls import DOORS
from salvage.fit.kernels.kinds import (
    FLOAT,
    INT,
    NONE,
    OPTIONS,
    RINGS,
    SPOTS,
    STATE,
    TABLES,
    Rings,
    Spots,
    State,
    Tables,
    floats_at,
    inner,
    ints_at,
    random_at,
)

_KINDS = {"": NONE, "f": FLOAT, "i": INT, "a": INT}  # an address is a whole number
compiled: dict[str, Any] = {}


def _door(function: Callable[..., Any]) -> Any:
    """Compile a function of this module as its entry in DOORS says."""
    gives, takes = DOORS[function.__name__]
    signature = _KINDS[gives](*(_KINDS[each] for each in takes))
    made = cfunc(signature, **OPTIONS)(function)
    compiled[function.__name__] = made
    return made


# The lists of whole numbers that salvage.fit.kernels.packed.Packed makes, as tuples.


@inner(TABLES(INT))
def _tables(address):  # type: ignore[no-untyped-def]
    w = ints_at(address)
    f = floats_at(w[0])
    return Tables(f, ints_at(w[1]), f[w[3]], w[4], w[5], w[6], w[7], w[8], w[9], w[10], w[11], w[12], w[13], w[14], w[15], w[16], w[17], w[18], w[19], w[20], w[21], w[22], w[23], w[24], w[25], w[26], w[27])  # fmt: skip


@inner(STATE(INT))
def _state(address):  # type: ignore[no-untyped-def]
    w = ints_at(address)
    return State(floats_at(w[0]), ints_at(w[1]), random_at(w[2]), w[3], w[4], w[5], w[6], w[7], w[8], w[9], w[10], w[11], w[12], w[13], w[14], w[15], w[16], w[17], w[18])  # fmt: skip


@inner(RINGS(INT))
def _rings(address):  # type: ignore[no-untyped-def]
    w = ints_at(address)
    return Rings(floats_at(w[0]), ints_at(w[1]), w[3], w[4], w[5], w[6], w[7], w[8], w[9], w[10], w[11], w[12], w[13])  # fmt: skip


@inner(SPOTS(INT))
def _spots(address):  # type: ignore[no-untyped-def]
    w = ints_at(address)
    return Spots(floats_at(w[0]), ints_at(w[1]), w[3], w[4], w[5], w[6], w[7], w[8], w[9], w[10], w[11], w[12], w[13])  # fmt: skip


@_door
def fill_entries(n, fixed, part_a, part_b, first, px, py, gap, box, ex, ey, nx, ny, c, counts):  # type: ignore[no-untyped-def]
    entries.fill_entries(
        n, fixed, ints_at(part_a), ints_at(part_b), ints_at(first), floats_at(px), floats_at(py), gap, floats_at(box),
        floats_at(ex), floats_at(ey), floats_at(nx), floats_at(ny), floats_at(c), ints_at(counts),
    )  # fmt: skip


@_door
def overlap_of(t, a, b, dx, dy):  # type: ignore[no-untyped-def]
    return overlap.overlap_of(_tables(t), a, b, dx, dy)


@_door
def outside_of(t, g, o, x, y):  # type: ignore[no-untyped-def]
    return overlap.outside_of(_tables(t), g, o, x, y)


@_door
def put(t, s, i, g, o, x, y):  # type: ignore[no-untyped-def]
    overlap.put(_tables(t), _state(s), i, g, o, x, y)


@_door
def move(t, s, i, samples, near_samples, reach):  # type: ignore[no-untyped-def]
    moves.move(_tables(t), _state(s), i, samples, near_samples, reach)


@_door
def separate(t, s, budget, patience, samples, near_samples, reach, told):  # type: ignore[no-untyped-def]
    moves.separate(_tables(t), _state(s), budget, patience, samples, near_samples, reach, floats_at(told))


@_door
def lay(t, s, i, g, corner):  # type: ignore[no-untyped-def]
    return 1 if moves.lay(_tables(t), _state(s), i, g, floats_at(corner)) else 0


@_door
def lay_anywhere(t, s, i, corner):  # type: ignore[no-untyped-def]
    return 1 if moves.lay_anywhere(_tables(t), _state(s), i, floats_at(corner)) else 0


@_door
def force_in(t, s, i, samples):  # type: ignore[no-untyped-def]
    return 1 if moves.force_in(_tables(t), _state(s), i, samples) else 0


@_door
def find_spots(t, s, r, spots, g):  # type: ignore[no-untyped-def]
    contact.find_spots(_tables(t), _state(s), _rings(r), _spots(spots), g)


@_door
def lay_by_contact(t, s, r, spots, size_counts, noise, most):  # type: ignore[no-untyped-def]
    return contact.lay_by_contact(_tables(t), _state(s), _rings(r), _spots(spots), size_counts, noise, most)

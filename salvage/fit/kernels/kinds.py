"""What the kernels take and give, in the compiler's terms. Only compiling imports this; it takes a while."""

from __future__ import annotations

import collections
from typing import Any

from llvmlite import ir
from numba import njit, types
from numba.extending import intrinsic

from salvage.fit.kernels.packed import RINGS_FIELDS, SPOTS_FIELDS, STATE_FIELDS, TABLES_FIELDS, Entries

FLOAT, INT, BOOL, NONE = types.float64, types.int64, types.boolean, types.void
FLOATS, INTS, RANDOM = types.CPointer(FLOAT), types.CPointer(INT), types.CPointer(types.uint64)
PLACE = types.UniTuple(FLOAT, 3)

_tuple: Any = collections.namedtuple
# The fields are those of salvage.fit.kernels.packed, where they are explained.
Tables = _tuple("Tables", ("f", "i", "gap", *TABLES_FIELDS[1:]))
State = _tuple("State", ("f", "i", "random", *STATE_FIELDS))
Rings = _tuple("Rings", ("f", "i", *RINGS_FIELDS))
Spots = _tuple("Spots", ("f", "i", *SPOTS_FIELDS))

TABLES = types.NamedTuple([FLOATS, INTS, FLOAT] + [INT] * (len(TABLES_FIELDS) - 1), Tables)
STATE = types.NamedTuple([FLOATS, INTS, RANDOM] + [INT] * len(STATE_FIELDS), State)
RINGS = types.NamedTuple([FLOATS, INTS] + [INT] * len(RINGS_FIELDS), Rings)
SPOTS = types.NamedTuple([FLOATS, INTS] + [INT] * len(SPOTS_FIELDS), Spots)
ENTRIES = types.NamedTuple([FLOATS, INTS] + [INT] * 8, Entries)

# Division by zero gives inf, as in numpy; nothing is counted as a reference, so that no memory is ever asked for.
OPTIONS: dict[str, Any] = {"error_model": "numpy", "fastmath": False, "_nrt": False}

_NO_WAY_IN: dict[str, Any] = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}


def inner(signature: Any) -> Any:
    """Compile a function that only other kernels call, for this signature alone."""
    return njit(signature, **OPTIONS, **_NO_WAY_IN)


def _address_as(kind: Any, of: type[ir.Type], bits: int) -> Any:
    @intrinsic
    def at(_context, _address):  # type: ignore[no-untyped-def]
        def build(_context, builder, _signature, arguments):  # type: ignore[no-untyped-def]
            return builder.inttoptr(arguments[0], _word(of, bits).as_pointer())

        return kind(INT), build

    return at


def _word(of: type[ir.Type], bits: int) -> ir.Type:
    return of(bits) if of is ir.IntType else of()


def _past(kind: Any) -> Any:
    @intrinsic
    def past(_context, _pointer, _number):  # type: ignore[no-untyped-def]
        def build(_context, builder, _signature, arguments):  # type: ignore[no-untyped-def]
            return builder.gep(arguments[0], [arguments[1]])

        return kind(kind, INT), build

    return past


floats_at = _address_as(FLOATS, ir.DoubleType, 64)
ints_at = _address_as(INTS, ir.IntType, 64)
random_at = _address_as(RANDOM, ir.IntType, 64)
past_floats, past_ints = _past(FLOATS), _past(INTS)  # the pointer so many numbers on

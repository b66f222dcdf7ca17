"""The compiled kernels as Python functions. The first call loads them, and compiles them where that wasn't done."""

from __future__ import annotations

import ctypes
import threading
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from salvage.fit.kernels.packed import Floats, Ints, Packed

# What each gives and takes: i a whole number, f a float, a an address; "" nothing.
DOORS = {
    "fill_entries": ("", "iiaaaaafaaaaaaa"),
    "overlap_of": ("f", "aiiff"),
    "outside_of": ("f", "aiiff"),
    "put": ("", "aaiiiff"),
    "move": ("", "aaiiif"),
    "separate": ("", "aaifiifa"),
    "lay": ("i", "aaiia"),
    "lay_anywhere": ("i", "aaia"),
    "force_in": ("i", "aaii"),
    "find_spots": ("", "aaaai"),
    "lay_by_contact": ("i", "aaaaffi"),
}
_C_KINDS: dict[str, Any] = {"": None, "f": ctypes.c_double, "i": ctypes.c_int64, "a": ctypes.c_int64}

_loaded: dict[str, Callable[..., Any]] = {}
_lock = threading.Lock()


def get_ready() -> None:
    """Load the kernels, if they aren't yet; compile them, if they aren't yet on this machine."""
    with _lock:
        if _loaded:
            return
        from salvage.fit.kernels.cache import addresses

        for name, address in addresses(tuple(DOORS)).items():
            gives, takes = DOORS[name]
            kind = ctypes.CFUNCTYPE(_C_KINDS[gives], *(_C_KINDS[each] for each in takes))
            _loaded[name] = kind(address)


def _call(name: str, *arguments: Any) -> Any:
    """Other threads go on meanwhile: ctypes lets go of the interpreter."""
    if not _loaded:
        get_ready()
    return _loaded[name](*arguments)


def _at(array: NDArray[Any]) -> int:
    """Address of an array that lies in one stretch; whoever calls keeps it alive."""
    assert array.flags.c_contiguous
    return array.ctypes.data


def fill_entries(
    fixed: int, part_a: Ints, part_b: Ints, first: Ints, px: Floats, py: Floats, gap: float, box: Floats,
    ex: Floats, ey: Floats, nx: Floats, ny: Floats, c: Floats,
) -> Ints:  # fmt: skip
    """Work out entry k for parts part_a[k] and part_b[k], of which part p has corners first[p] up to the next.

    fixed: so many entries are against other items, the rest against obstacles. box (n, 4) and the edges' ex to c are
    filled. Returns (n + 1,) where the corners of each entry begin.
    """
    counts = np.empty(len(part_a) + 1, np.int64)
    arrays = [np.ascontiguousarray(each, np.int64) for each in (part_a, part_b, first)]
    corners = [np.ascontiguousarray(each, np.float64) for each in (px, py)]
    _call(
        "fill_entries", len(part_a), int(fixed), *map(_at, arrays), *map(_at, corners), float(gap),
        *map(_at, (box, ex, ey, nx, ny, c)), _at(counts),
    )  # fmt: skip
    return counts


def overlap_of(t: Packed, a: int, b: int, dx: float, dy: float) -> float:
    """Overlap of orientation b whose middle lies at (dx, dy) from that of orientation a."""
    return float(_call("overlap_of", t.address, int(a), int(b), dx, dy))


def outside_of(t: Packed, g: int, o: int, x: float, y: float) -> float:
    """How far orientation o with its middle at (x, y) leaves ground g."""
    return float(_call("outside_of", t.address, int(g), int(o), x, y))


def put(t: Packed, s: Packed, i: int, g: int, o: int, x: float, y: float) -> None:
    """Lay item i there (g -1: take it up) and bring its row of overlaps up to date."""
    _call("put", t.address, s.address, int(i), int(g), int(o), x, y)


def move(t: Packed, s: Packed, i: int, samples: int, near_samples: int, reach: float) -> None:
    """Lay item i where its weighted overlap is least among sampled places."""
    _call("move", t.address, s.address, int(i), samples, near_samples, reach)


def separate(
    t: Packed, s: Packed, budget: int, patience: float, samples: int, near_samples: int, reach: float
) -> tuple[float, int, bool]:
    """Move items that overlap until none does, `budget` moves are made, or `patience` passes brought nothing better.

    Returns (overlap now, moves made, whether patience ran out).
    """
    told = np.zeros(3)
    _call("separate", t.address, s.address, int(budget), patience, samples, near_samples, reach, _at(told))
    return float(told[0]), int(told[1]), bool(told[2])


def lay(t: Packed, s: Packed, i: int, g: int, corner: Floats) -> bool:
    """Lay item i on ground g clear of all else, as far into `corner` as touching places allow.

    corner (4,): direction (x, y), and which edge of the item counts: -1 or 1 for its left or right, lower or
    upper. Returns False if no place was found.
    """
    return bool(_call("lay", t.address, s.address, int(i), int(g), _at(corner)))


def lay_anywhere(t: Packed, s: Packed, i: int, corner: Floats) -> bool:
    """Lay item i on the first ground that takes it."""
    return bool(_call("lay_anywhere", t.address, s.address, int(i), _at(corner)))


def force_in(t: Packed, s: Packed, i: int, samples: int) -> bool:
    """Lay item i at a touching place within its ground where it covers little of others, and take those up.

    Returns False if no place was found.
    """
    return bool(_call("force_in", t.address, s.address, int(i), samples))


def find_spots(t: Packed, s: Packed, r: Packed, spots: Packed, g: int) -> None:
    """Work out afresh all spots on ground g of the kinds that are still to be laid."""
    _call("find_spots", t.address, s.address, r.address, spots.address, int(g))


def lay_by_contact(
    t: Packed, s: Packed, r: Packed, spots: Packed, size_counts: float, noise: float, most: int
) -> int:
    """Lay up to `most` items, each time where contact for its outline, and size, are greatest; returns how many.

    size_counts: worth of the largest item beside full contact all round. noise: of that worth.
    """
    return int(
        _call("lay_by_contact", t.address, s.address, r.address, spots.address, size_counts, noise, int(most))
    )

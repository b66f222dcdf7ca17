"""That two shapes don't lie on one cloth together: every pair of their places is too near.

Both shapes' moves are covered by cells of one grid (see cells.py). What matters of a pair of moves is their
difference; two cells (i, j) apart have differences within a square twice as wide about (i, j) * side. If the
second shape's core for such a square, moved to its middle, overlaps the first shape or comes nearer than the
gap, then so does the shape itself at every difference of the square. Cells left in doubt are cut in four.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon

from salvage.fit.recheck.cells import Moves, core_of, side_for
from salvage.fit.recheck.doubt import SLACK, Doubt, Limit

_FINEST = 0.02  # mm, side of the smallest cell
_EVERY = 5  # of the places found, so many apart are tried together
_LARGEST_MASK = 4_000_000  # squares of the grid that differences are gathered on


def never_together(one: Polygon, two: Polygon, cloth: Polygon, gap: float, limit: Limit) -> bool:
    """Whether no places of the two, as they lie, on the cloth leave them the gap (or, without one, apart)."""
    side = min(side_for(one, cloth), side_for(two, cloth))
    a, b = Moves(one, cloth, limit, side=side), Moves(two, cloth, limit, side=side)
    inner = core_of(one, SLACK)
    if not inner:
        raise Doubt("a shape is too small to tell")
    while len(a.cells) and len(b.cells):
        limit.spend(0)
        apart = _clear(_differences(a, b), inner, two, a.side, gap, limit)
        if not len(apart):
            return True
        if a.side < _FINEST or _lie_together(a, b, inner, gap):
            raise Doubt("two shapes might just lie together")
        a.keep(_takes_part(a, b, apart))
        b.keep(_takes_part(b, a, -apart))
        a.finer()
        b.finer()
    return True


def _mask(moves: Moves) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    low, high = moves.cells.min(axis=0), moves.cells.max(axis=0)
    size = high - low + 1
    if np.prod(size) > _LARGEST_MASK:
        raise Doubt("there are too many pairs of places to look at")
    mask = np.zeros(tuple(size), bool)
    mask[tuple((moves.cells - low).T)] = True
    return mask, low


def _differences(a: Moves, b: Moves) -> NDArray[np.int64]:
    """(n, 2) all differences, in cells, from a cell of a to one of b, each once."""
    (one, low_a), (two, low_b) = _mask(a), _mask(b)
    counts = _sums(one[::-1, ::-1], two)
    return np.argwhere(counts > 0.25) + low_b - low_a - (np.array(one.shape) - 1)


def _takes_part(a: Moves, b: Moves, apart: NDArray[np.int64]) -> NDArray[np.bool_]:
    """(n,) which cells of a have a cell of b at one of these differences."""
    mask, low = _mask(b)
    first = apart.min(axis=0)
    wanted = np.zeros(tuple(apart.max(axis=0) - first + 1), bool)
    wanted[tuple((apart - first).T)] = True
    # a's cell takes part if it is a cell of b less one of the differences
    counts, start = _sums(mask, wanted[::-1, ::-1]), low - first - (np.array(wanted.shape) - 1)
    at = a.cells - start
    inside = ((at >= 0) & (at < counts.shape)).all(axis=1)
    found = np.zeros(len(a.cells), bool)
    found[inside] = counts[tuple(at[inside].T)] > 0.25
    return found


def _sums(one: NDArray[np.bool_], two: NDArray[np.bool_]) -> NDArray[np.float64]:
    """How often each sum of places in the two masks occurs, up to rounding far below a quarter."""
    size = np.array(one.shape) + two.shape - 1
    if np.prod(size) > _LARGEST_MASK:
        raise Doubt("there are too many pairs of places to look at")
    spectrum = np.fft.rfft2(one, tuple(size)) * np.fft.rfft2(two, tuple(size))
    return np.asarray(np.fft.irfft2(spectrum, tuple(size)), np.float64)


def _lie_together(a: Moves, b: Moves, inner: list[Polygon], gap: float) -> bool:
    """Whether among a few places of each there are two that leave them the gap: then they do."""
    places, others = a.places()[::_EVERY], b.places()[::_EVERY]
    if not len(places) or not len(others):
        return False
    ones = [affinity.translate(MultiPolygon(inner), *move) for move in places]
    twos = [affinity.translate(b.shape, *move) for move in others]
    distance = shapely.distance(np.array(ones)[:, None], np.array(twos)[None])
    return bool((distance > gap).any())


def _clear(
    differences: NDArray[np.int64],
    inner: list[Polygon],
    two: Polygon,
    side: float,
    gap: float,
    limit: Limit,
) -> NDArray[np.int64]:
    """Those differences at which the two are not shown to be too near."""
    cores = core_of(two, side * math.sqrt(2) + SLACK)
    left = differences
    for one in inner:
        shapely.prepare(one)
        for core in cores:
            limit.spend(8 * len(left))
            ring = shapely.get_coordinates(core.exterior)
            moved = shapely.polygons(shapely.linearrings(ring[None] + (left * side)[:, None]))
            near = (
                shapely.dwithin(one, moved, gap - SLACK)
                if gap > 2 * SLACK
                else shapely.intersects(one, moved)
            )
            left = left[~near]
            if not len(left):
                return left
    return left

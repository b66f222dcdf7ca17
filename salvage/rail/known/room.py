"""Bounds on the clear rectangles in cloth, cheap to keep and to ask, each safe to one side.

A raster of STEP mm lies along the grain of each stretch. *Least room*: a cell counts only if all of it is cloth, so a
rectangle of such cells lies on the cloth. *Most room*: a cell counts if any of it may be cloth, let out by its
plus-minus; a rectangle w x l that lies on cloth covers at least ceil(w / STEP) columns and ceil(l / STEP) rows of such
cells wherever it lies, so where there are none it lies nowhere. That makes the one a sure yes and the other a sure no.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity

from salvage.fit.question import Cloth

STEP = 10.0  # mm
_HAIR = 1e-6  # mm; more than turning the cloth can be out by

Room = tuple[int, ...]  # [k - 1]: the longest run of rows that k columns side by side are clear in


def least_room(cloths: Iterable[Cloth]) -> Room:
    """Of cloth that is surely there."""
    return _over_all(_runs(_cells(each, all_of_it=True)) for each in cloths)


def most_room(cloths: Iterable[Cloth]) -> Room:
    """Of all cloth that there may be."""
    return _over_all(_runs(_cells(each, all_of_it=False)) for each in cloths)


def has_room(least: Sequence[int], width: float, length: float) -> bool:
    """Whether a rectangle, length along the grain, surely lies on the cloth; False says nothing."""
    columns, rows = _cells_of(width), _cells_of(length)
    return columns <= len(least) and least[columns - 1] >= rows


def may_have_room(most: Sequence[int], width: float, length: float) -> bool:
    """Whether a rectangle may lie on the cloth: False is a sure no, True says nothing."""
    columns, rows = _cells_of(width), _cells_of(length)
    return columns <= len(most) and most[columns - 1] >= rows


def longest_at(most: Sequence[int], width: float) -> float:
    """mm: no clear rectangle of this width is longer."""
    columns = _cells_of(width)
    return most[columns - 1] * STEP if columns <= len(most) else 0.0


def _cells_of(extent: float) -> int:
    return max(1, math.ceil(extent / STEP - 1e-9))


def _cells(cloth: Cloth, *, all_of_it: bool) -> NDArray[np.bool_]:
    """The cells (row upward along the grain, column) that are cloth."""
    turned = affinity.rotate(cloth.polygon, 90.0 - cloth.grain, origin=(0.0, 0.0))
    out = _HAIR * (-1 if all_of_it else 1)
    turned = turned.buffer(out, join_style="mitre")
    if turned.is_empty:
        return np.zeros((0, 0), dtype=bool)
    left, bottom, right, top = turned.bounds
    columns, rows = (max(1, math.ceil(each / STEP)) for each in (right - left, top - bottom))
    x, y = np.meshgrid(left + STEP * np.arange(columns), bottom + STEP * np.arange(rows))
    boxes = shapely.box(x, y, x + STEP, y + STEP)
    shapely.prepare(turned)
    found = shapely.covers(turned, boxes) if all_of_it else shapely.intersects(turned, boxes)
    return np.asarray(found, dtype=bool)


def _runs(cells: NDArray[np.bool_]) -> list[int]:
    columns = cells.shape[1]
    sums = np.cumsum(np.pad(cells, ((0, 0), (1, 0))), axis=1, dtype=np.int32)
    found = []
    for wide in range(1, columns + 1):
        clear = (sums[:, wide:] - sums[:, :-wide]) == wide
        longest, run = 0, np.zeros(clear.shape[1], dtype=np.int32)
        for row in clear:
            run = np.where(row, run + 1, 0)
            longest = max(longest, int(run.max()))
        if longest == 0:
            break
        found.append(longest)
    return found


def _over_all(each: Iterable[list[int]]) -> Room:
    best: list[int] = []
    for found in each:
        best += [0] * (len(found) - len(best))
        for index, longest in enumerate(found):
            best[index] = max(best[index], longest)
    # What k + 1 columns are clear in, k of them are too.
    return tuple(np.maximum.accumulate(best[::-1])[::-1].tolist()) if best else ()

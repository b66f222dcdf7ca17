"""Outlines of many points made plainer for the search: shapes only grow by that and cloths only shrink."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

_FINEST = 0.05  # mm, first tolerance tried in making an outline simpler
_COARSEST = 0.8  # mm, the last; from half of that on an outline is taken with however many points it has
_HIGHEST_CUT = 0.8  # mm by which a corner may stick out or in and be cut off or filled
_FLAT = 1e-9  # mm; corners that stick out by less are none
_CUTS_TRIED = 12


def simpler(polygon: Polygon, most: int, *, grow: bool) -> Polygon:
    """With about `most` points at the most, only growing or only shrinking; by 1.6 mm at the very most."""
    if shapely.get_num_coordinates(polygon) <= most:
        return polygon
    cut = _corners_cut(polygon, most, grow=grow)
    if shapely.get_num_coordinates(cut) <= most:
        return cut
    tolerance = _FINEST
    while shapely.get_num_coordinates(polygon) > most and tolerance <= _COARSEST:
        moved = polygon.buffer(tolerance if grow else -tolerance, join_style="mitre", mitre_limit=2.0)
        slim = moved.simplify(0.99 * tolerance)
        good = slim.covers(polygon) if grow else polygon.covers(slim)
        few = shapely.get_num_coordinates(slim) <= most or tolerance > _COARSEST / 2
        if isinstance(slim, Polygon) and not slim.is_empty and good and few:
            return slim
        tolerance *= 2
    return polygon


def _corners_cut(polygon: Polygon, most: int, *, grow: bool) -> Polygon:
    """Corners that stick out cut off (those that stick in filled, if it is to grow), the flattest first.

    The others stay exactly where they are, so that what only just fits still does.
    """
    oriented = shapely.geometry.polygon.orient(polygon, 1.0)
    rings = [np.asarray(ring.coords)[:-1, :2] for ring in (oriented.exterior, *oriented.interiors)]
    too_many = sum(len(ring) for ring in rings) - (most - 2 * len(rings))
    done = []
    for n, ring in enumerate(rings):  # cloth lies to the left of every ring, holes too
        others = [each for m, each in enumerate(rings) if m != n]
        x, y = np.concatenate([ring, *others]).T.copy()  # corners of this ring first
        size = len(ring)
        height = np.array([_height(x, y, size, i, grow=grow) for i in range(size)])
        while too_many > 0 and size > 3:
            cut = next((i for i in _flattest(height) if _is_free(x, y, size, i)), None)
            if cut is None:
                break
            for each in (x, y, height):  # in place: a new array each time takes longer than all else
                each[cut:-1] = each[cut + 1 :]
            x, y, height, size = x[:-1], y[:-1], height[:-1], size - 1
            for i in ((cut - 1) % size, cut % size):
                height[i] = _height(x, y, size, i, grow=grow)
            too_many -= 1
        done.append(np.column_stack([x[:size], y[:size]]))
    slim = Polygon(done[0], done[1:])
    good = slim.is_valid and (slim.covers(polygon) if grow else polygon.covers(slim))
    return slim if good else polygon


def _height(x: NDArray[np.float64], y: NDArray[np.float64], size: int, i: int, *, grow: bool) -> float:
    """How far corner i of a ring stands off the line between its neighbours, mm; positive where it may be cut."""
    before, after = i - 1 if i else size - 1, i + 1 if i + 1 < size else 0
    x0, y0 = float(x[before]), float(y[before])
    along, up = float(x[after]) - x0, float(y[after]) - y0
    off = (up * (float(x[i]) - x0) - along * (float(y[i]) - y0)) / max(math.hypot(along, up), 1e-12)
    return -off if grow else off


def _flattest(height: NDArray[np.float64]) -> Iterator[int]:
    """The few corners that may be cut off, those that stand off least first."""
    off = np.where(height < -_FLAT, np.inf, height)
    first = int(off.argmin())
    if off[first] <= _HIGHEST_CUT:
        yield first
        yield from (int(i) for i in np.argsort(off)[:_CUTS_TRIED] if i != first and off[i] <= _HIGHEST_CUT)


def _is_free(x: NDArray[np.float64], y: NDArray[np.float64], size: int, i: int) -> bool:
    """Whether no corner lies within the triangle of corner i of the ring and its neighbours.

    x, y: of all corners there are, those of the ring first, which has so many (size).
    """
    own = [i - 1 if i else size - 1, i, (i + 1) % size]
    (ax, bx, cx), (ay, by, cy) = x[own].tolist(), y[own].tolist()
    near = np.flatnonzero(
        (x >= min(ax, bx, cx)) & (x <= max(ax, bx, cx)) & (y >= min(ay, by, cy)) & (y <= max(ay, by, cy))
    )
    for px, py in zip(x[near].tolist(), y[near].tolist(), strict=True):
        if (px, py) in ((ax, ay), (bx, by), (cx, cy)):
            continue
        sides = [
            (qx - ox) * (py - oy) - (qy - oy) * (px - ox)
            for ox, oy, qx, qy in ((ax, ay, bx, by), (bx, by, cx, cy), (cx, cy, ax, ay))
        ]
        if min(sides) >= 0 or max(sides) <= 0:
            return False
    return True

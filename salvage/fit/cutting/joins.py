"""Panels pieced from parts.

A join is a straight line across the panel (parallel to its x) or along it (parallel to its y); all
joins of one panel run the same way. Every part gets the seam allowance beyond each of its joins, so two
neighbouring parts overlap by twice the allowance in the panel's outline and make the panel when sewn.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from salvage.project.project import Panel, Point


class JoinWay(StrEnum):
    """How the join lines of a panel run."""

    ACROSS = "across"  # parallel to x, parts lie one above the other
    ALONG = "along"  # parallel to y, parts lie side by side


@dataclass(frozen=True, slots=True)
class Piecing:
    """at: where the joins are, mm from the panel's lower end (ACROSS) or left side (ALONG), rising."""

    way: JoinWay
    at: tuple[float, ...]


_FAR = 1e6
_HALF = 0.5  # of the panel, that lies towards the side where its joins are wanted
_WAY_OF = {"bottom": JoinWay.ACROSS, "top": JoinWay.ACROSS, "left": JoinWay.ALONG, "right": JoinWay.ALONG}
# Shares of the panel's extent at which to try joins, the ones away from the middle first.
_ONE = (0.33, 0.67, 0.24, 0.76, 0.5)
_MIDDLE = 0.1  # a join within this share of the extent of the middle is one to avoid
_BAND_STEPS = 24


def slab(outline: Polygon, way: JoinWay, low: float, high: float) -> Polygon | None:
    """The part of the outline from low to high (mm from its lower end or left side); None if in bits."""
    left, bottom, _, _ = outline.bounds
    if way is JoinWay.ACROSS:
        window = box(-_FAR, bottom + low, _FAR, bottom + high)
    else:
        window = box(left + low, -_FAR, left + high, _FAR)
    part = outline.intersection(window)
    return part if isinstance(part, Polygon) and not part.is_empty else None


def extent(outline: Polygon, way: JoinWay) -> float:
    """Size of the outline at right angles to the joins, mm."""
    left, bottom, right, top = outline.bounds
    return top - bottom if way is JoinWay.ACROSS else right - left


def breadth(outline: Polygon) -> float:
    """The least distance between two parallel lines that hold the outline between them, mm.

    One of the two lies along a side of its convex hull.
    Source: Houle and Toussaint, Computing the width of a set, IEEE PAMI 10 (1988), from memory.
    """
    corner = shapely.get_coordinates(outline.convex_hull)
    side = np.diff(corner, axis=0)
    length = np.hypot(*side.T)
    side, start = side[length > 0] / length[length > 0, None], corner[:-1][length > 0]
    off = side[:, None, 0] * (corner[None, :, 1] - start[:, None, 1]) - side[:, None, 1] * (
        corner[None, :, 0] - start[:, None, 0]
    )
    return float(np.abs(off).max(axis=1).min())


def marks_between(panel: Panel, way: JoinWay, size: float) -> tuple[float, float] | None:
    """From which mark to which joins may lie that run this way; None where none may."""
    if not panel.joins_where:
        return 0.0, size
    if _WAY_OF[panel.joins_where] is not way:
        return None
    return (0.0, _HALF * size) if panel.joins_where in ("bottom", "left") else (_HALF * size, size)


def parts_of(panel: Panel, piecing: Piecing) -> tuple[Polygon, ...] | None:
    """The parts to cut, first to last; None where a part would be in bits, too narrow, nothing gained, or a join not
    where the project wants it."""
    outline = Polygon(panel.outline)
    marks = (0.0, *piecing.at, extent(outline, piecing.way))
    between = marks_between(panel, piecing.way, marks[-1])
    if between is None or any(not between[0] - 1e-9 <= at <= between[1] + 1e-9 for at in piecing.at):
        return None
    narrowest = min(panel.narrowest_part, breadth(outline)) - 1e-9
    parts = []
    for low, high in pairwise(marks):
        sewn = slab(outline, piecing.way, low, high)
        if sewn is None or min(high - low, breadth(sewn)) < narrowest:
            return None
        before = panel.seam_allowance if low > 0 else 0.0
        after = panel.seam_allowance if high < marks[-1] else 0.0
        part = slab(outline, piecing.way, low - before, high + after)
        if part is None or extent(part, piecing.way) >= marks[-1] - 1e-9:
            return None
        parts.append(part)
    return tuple(parts)


def piecings(panel: Panel, runs: Iterable[tuple[JoinWay, float]] = ()) -> tuple[Piecing, ...]:
    """Ways to piece the panel with exactly one join, the better ones first.

    runs: lengths of the panel, either way, that the cloth is known to hold at full breadth; joins are
    tried where they end, so that one part is as long as the cloth allows.
    """
    outline = Polygon(panel.outline)
    found: list[Piecing] = []
    for way, length in runs:
        size = extent(outline, way)
        first = length - panel.seam_allowance
        found += [Piecing(way, (round(at, 1),)) for at in (first, size - first) if 0 < at < size]
    longer_first = sorted(JoinWay, key=lambda way: -extent(outline, way))
    found += [Piecing(way, (share * extent(outline, way),)) for share in _ONE for way in longer_first]
    unique = dict.fromkeys(each for each in found if parts_of(panel, each) is not None)
    return tuple(sorted(unique, key=lambda each: near_middle(outline, each)))


def refined(panel: Panel, piecing: Piecing) -> tuple[Piecing, ...]:
    """The same way with one more join, evenly spread and with the largest part halved."""
    outline = Polygon(panel.outline)
    size = extent(outline, piecing.way)
    count = len(piecing.at) + 1
    even = Piecing(piecing.way, tuple(size * (i + 1) / (count + 1) for i in range(count)))
    marks = (0.0, *piecing.at, size)
    gaps = [high - low for low, high in pairwise(marks)]
    widest = max(range(len(gaps)), key=gaps.__getitem__)
    halved = Piecing(piecing.way, tuple(sorted((*piecing.at, marks[widest] + gaps[widest] / 2))))
    return tuple(each for each in dict.fromkeys((even, halved)) if parts_of(panel, each) is not None)


def near_middle(outline: Polygon, piecing: Piecing) -> bool:
    """True if a join runs through the middle of the panel, where it shows most."""
    size = extent(outline, piecing.way)
    return any(abs(at / size - 0.5) < _MIDDLE for at in piecing.at)


def bands(panel: Panel, way: JoinWay) -> tuple[Polygon, ...] | None:
    """Bodies of which every piecing of the panel this way contains at least one, within some part.

    With n joins one part spans at least 1/(n + 1) of the panel and has an allowance beyond at least one
    join. Wherever it starts, it contains one of these slabs, a little shorter and starting at fixed steps.
    None if the panel has such a shape that a slab is in bits.
    """
    outline = Polygon(panel.outline)
    size = extent(outline, way)
    least = size / (panel.joins + 1) + panel.seam_allowance
    if least >= size:
        return (outline,)
    step = min(least / 8, (size - least) / 2, size / _BAND_STEPS)
    found = []
    start = 0.0
    while start < size - least + step:
        # the part [a, a + least] with a in (start - step, start] contains [start, start + least - step]
        part = slab(outline, way, start, min(start + least - step, size))
        if part is None:
            return None
        found.append(part)
        start += step
    return tuple(found)


def ring_of(polygon: Polygon) -> tuple[Point, ...]:
    """Outline as the question wants it: counter-clockwise, first point not repeated."""
    coords: Sequence[tuple[float, ...]] = list(polygon.exterior.coords)[:-1]
    points = tuple((x, y) for x, y, *_ in coords)
    return points if polygon.exterior.is_ccw else points[::-1]

"""Seams that a cut must have because of what else is seen: between two parts of the garment, and on its other half.

What is laid and why stands in salvage.trade.cuts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon

from salvage.cloth.cut.assumed import unseen
from salvage.cloth.finders.found import Seam
from salvage.cloth.finders.lines.beside import joined_lines
from salvage.cloth.flat.areas import ringed
from salvage.cloth.flat.axis import Axis
from salvage.cloth.flat.whole import PARTS, Whole
from salvage.cloth.garment import BlockedKind, FoundBy
from salvage.shapes import points_on
from salvage.trade.cuts import JOINTS, NARROW_PARTS, PAIRS, Pair

_SURE = 0.6  # mean chance of a part where it is the likeliest, from which it is there for sure
_SMALLEST = 2000.0  # mm^2 of it
_WIDE = 1.5  # grid steps to either side, within which two parts meet
# mm beyond that, within which a line is the seam between them; less where one of them is narrow, so that the line on its
# other edge is another one.
_BESIDE, _BESIDE_NARROW = 30.0, 10.0
_SMOOTH = 8.0  # mm, finer than which the border of two parts isn't known
_WANDERS = 180.0  # degrees: a border that turns by more shows no seam, but that the look doesn't know
_SEEN = 0.8  # confidence a seam must have, for its like to be laid
_ALIKE = 5.0  # degrees of doubt of the axis, at most: else the other half isn't known well enough


def sure_parts(whole: Whole) -> frozenset[str]:
    """Parts of the garment that are seen for sure, by their full names."""
    best = whole.part_map
    return frozenset(
        name
        for number, name in enumerate(PARTS)
        if name != "none"
        and (there := best == number).sum() * whole.step**2 >= _SMALLEST
        and float(whole.parts[number][there].mean()) >= _SURE
    )


def between_parts(
    whole: Whole, cloth: Polygon, kind: str, seen: Sequence[LineString], *, sharp: bool = False
) -> list[Seam]:
    """Seams where two parts meet that such a garment sews together, and where none was seen. sharp: stitches would be
    seen in the photograph."""
    sure = sure_parts(whole)
    laid: list[Seam] = []
    wide = _WIDE * whole.step
    inner = cloth.buffer(-2 * whole.step)
    for joint in JOINTS:
        if kind not in joint.kinds or (sharp and joint.coarse):
            continue
        one, other = (_area(whole, name, sure) for name in (joint.one, joint.other))
        if one.is_empty or other.is_empty:
            continue
        edge = (
            shapely.simplify(one.boundary, whole.step / 2)
            .intersection(other.buffer(wide))
            .intersection(inner)
        )
        lines = [line for line in seen if line.length > 0]
        beside = _BESIDE if NARROW_PARTS.isdisjoint((joint.one, joint.other)) else _BESIDE_NARROW
        laid += (
            replace(each, kind=BlockedKind.OTHER) if joint.over else each
            for each in unseen(edge, wide, lines, joint.name, BlockedKind.SEAM, beside=beside)
            if _turning(each.line) <= _WANDERS
        )
    return laid


def _turning(line: LineString) -> float:
    """Degrees by which a line turns along its way, one way and the other, in all."""
    way = np.diff(np.asarray(line.simplify(_SMOOTH).coords)[:, :2], axis=0)
    angles = np.degrees(np.arctan2(way[:, 1], way[:, 0]))
    return float(np.abs((np.diff(angles) + 180.0) % 360.0 - 180.0).sum())


def _area(whole: Whole, part: str, sure: frozenset[str]) -> MultiPolygon | Polygon:
    """Where a part, of either side, is the likeliest, mm."""
    best = whole.part_map
    found: list[Polygon] = []
    for number, name in enumerate(PARTS):
        if name in sure and part in (name, name.removesuffix("_left").removesuffix("_right")):
            shapes = ringed(best == number, whole.to_mm, whole.step / 2)
            found += [shape for shape, _ in shapes if shape.area >= _SMALLEST]
    return shapely.union_all(found) if found else Polygon()


def other_halves(
    seams: Sequence[Seam], whole: Whole, cloth: Polygon, axis: Axis, kind: str, seen: Sequence[LineString]
) -> list[Seam]:
    """The like on the other half of long seams that run down one half alone."""
    if not axis.is_symmetric or axis.plus_minus > _ALIKE:
        return []
    ring = axis.own(np.asarray(cloth.exterior.coords)[:, :2])
    height = float(np.ptp(ring[:, 1]))
    best = whole.part_map
    laid: list[Seam] = []
    lines = [line for line in seen if line.length > 0]
    for seam in seams:
        if (
            seam.confidence < _SEEN
            or seam.hem
            or seam.on_outline
            or seam.found_by is not FoundBy.PHOTO
            or seam.kind
        ):
            continue
        own = shapely.transform(seam.line, axis.own)
        for pair in PAIRS:
            if (
                kind in pair.kinds
                and _is_one_of(own, pair, height)
                and _lies_on(seam.line, pair, whole, best)
            ):
                for part in joined_lines(axis.like_of(seam.line).intersection(cloth)):
                    laid += unseen(part, pair.off, lines, pair.name, BlockedKind.SEAM)
    return laid


def _is_one_of(own: LineString, pair: Pair, height: float) -> bool:
    """Whether a line, in the garment's own frame, runs as such a seam does."""
    x, y = np.asarray(own.coords)[:, :2].T
    if np.ptp(y) < pair.long * height or np.abs(x).min() < pair.aside or x.min() * x.max() < 0:
        return False
    return bool(np.degrees(np.arctan2(np.ptp(x), np.ptp(y))) <= pair.steep)


def _lies_on(line: LineString, pair: Pair, whole: Whole, best: np.ndarray) -> bool:
    """Whether most of a line lies on such parts."""
    points = points_on(line, np.linspace(0, 1, 20), normalized=True)
    column, row = np.round(whole.to_grid_px(points)).astype(int).T
    height, width = best.shape
    there = best[np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)]
    names = [PARTS[number].removesuffix("_left").removesuffix("_right") for number in there]
    return bool(np.mean([name in pair.parts for name in names]) > 0.6)


def laid_between(
    seams: Sequence[Seam],
    whole: Whole,
    cloth: Polygon,
    axis: Axis,
    kind: str,
    seen: Sequence[LineString],
    *,
    sharp: bool,
) -> list[Seam]:
    """Both of these."""
    found: Iterable[Seam] = (
        *between_parts(whole, cloth, kind, seen, sharp=sharp),
        *other_halves(seams, whole, cloth, axis, kind, seen),
    )
    return list(found)

"""Lines and places that the look at the whole garment gives: seams, folds, closures, edges of parts, sewn-on things.

That look is coarse (3 to 5 mm between its points) but knows garments; the fine finders see threads where the
photograph shows them. So a line that the fine finders found stays where they found it; what only the whole
shows is laid as wide as its grid is coarse.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from shapely import union_all
from shapely.geometry import LineString, Polygon
from skimage.filters import apply_hysteresis_threshold

from salvage.cloth.finders.found import Found, Seam, Spot
from salvage.cloth.finders.lines.beside import joined_lines, not_yet
from salvage.cloth.finders.sight import Sight
from salvage.cloth.flat import lines
from salvage.cloth.flat.areas import ringed
from salvage.cloth.flat.whole import PARTS, Whole
from salvage.cloth.garment import BlockedKind

_FINER = 2  # points of the traced map for each of the grid
_LOW, _HIGH = 0.25, 0.40  # chance that a line stays above, and that it reaches
_BELIEVED = 0.40  # mean chance along a line: about as likely a line as a crease; in doubt it blocks
_FINE_SEES = 0.95  # share of seams that the fine finders find in a sharp photograph (rendered garments)
_FINE_FINDS = {BlockedKind.POCKET: 0.85, BlockedKind.CLOSURE: 0.85}  # the same of pockets and buttons
_SPUR, _SHORTEST = 25.0, 45.0  # mm
_GAP, _BEND = 60.0, 28.0  # mm and degrees over which a line goes on
_EDGE = 1.2  # grid steps from the outline, within which a line is the outline
_PART_SMALLEST = 1500.0  # mm^2
_PART_CLEAR = 0.45  # by which a part is likelier than the one beside it, 2 grid steps off
_EDGE_SHOWS = 0.15  # mean chance of a line along the edge of two parts: an edge that shows nothing is a guess
_STRAIGHT = 0.8  # share of its hull that a pocket fills at least: it is sewn on with straight sides
_SAME_AS_BOUNDARY = 16.0  # mm
Map = NDArray[np.float32]


def find(sight: Sight, found: Found) -> Found:
    """Lines that only the look at the whole garment shows."""
    known = [*found.seam_lines, *found.middles]
    new = whole_lines(sight.whole, sight.cloth, known, sharp=sight.sharp)
    return replace(found, seams=(*found.seams, *new))


def believe(sight: Sight, found: Found) -> Found:
    """Without the fine finders' lines that aren't to be believed."""
    return replace(found, seams=tuple(borne_out(found.seams, sight.whole, sharp=sight.sharp)))


def find_spots(sight: Sight, found: Found) -> Found:
    """Places that only the look at the whole garment shows."""
    new = not_over(whole_spots(sight.whole, sight.cloth, sharp=sight.sharp), found.fittings)
    return replace(found, fittings=(*found.fittings, *new))


def whole_lines(whole: Whole, cloth: Polygon, known: list[LineString], *, sharp: bool) -> list[Seam]:
    """Seams, hems, closures and folds of the whole look that aren't among the known lines (mm).

    sharp: the photograph shows stitches, so that a line that the fine finders didn't see is likely none.
    """
    inner = cloth.buffer(-_EDGE * whole.step)
    if inner.is_empty:
        return []
    found = not_yet(list(_traced(whole, inner)), known)
    near = _near_a_line(whole)
    edges = [e for e in _boundaries(whole, PARTS, inner) if _along(near, e.line, whole) >= _EDGE_SHOWS]
    found += not_yet(edges, [*known, *(each.line for each in found)], _SAME_AS_BOUNDARY)
    unseen = [
        replace(each, confidence=_unseen(each.confidence) if sharp else each.confidence) for each in found
    ]
    return [each for each in unseen if each.confidence >= _BELIEVED]


def borne_out(seams: Sequence[Seam], whole: Whole, *, sharp: bool) -> list[Seam]:
    """The fine finders' lines to believe. In a coarse photograph they see creases rather than threads: there a
    line counts only where the whole look has one too."""
    if sharp:
        return list(seams)
    near = _near_a_line(whole)
    return [each for each in seams if each.on_outline or _along(near, each.line, whole) >= _LOW]


def _near_a_line(whole: Whole) -> Map:
    """The chance that any line runs within a grid pixel."""
    near = np.max([cv2.dilate(each, np.ones((3, 3), np.uint8)) for each in whole.lines.values()], axis=0)
    return np.asarray(near, np.float32)


def _along(chances: Map, line: LineString, whole: Whole) -> float:
    """The mean chance along a line in mm."""
    at = np.linspace(0, line.length, max(2, int(line.length / whole.step) + 1))
    return float(whole.at(chances, np.array([line.interpolate(each).coords[0] for each in at])).mean())


def _unseen(chance: float, seen: float = _FINE_SEES) -> float:
    """The chance of what the fine finders, who see such a share of it, did not see (Bayes)."""
    odds = chance / max(1.0 - chance, 1e-6) * (1.0 - seen)
    return odds / (1.0 + odds)


def whole_spots(whole: Whole, cloth: Polygon, *, sharp: bool) -> list[Spot]:
    """Pockets, buttons and pulls, labels and placed prints, loops and cords, as areas. sharp: as for lines."""
    found = []
    for name, (low, high, smallest, kind, what) in _SPOTS.items():
        strong = apply_hysteresis_threshold(_finer(whole.spots[name]), low, high)
        chance = _finer(whole.spots[name])
        for shape, inside in _outlined(strong, whole):
            ragged = kind is BlockedKind.POCKET and shape.area < _STRAIGHT * shape.convex_hull.area
            if shape.area >= smallest and not ragged and shape.intersects(cloth):
                sure = float(np.clip(chance[inside].mean(), 0, 1))
                if sharp and kind in _FINE_FINDS:
                    sure = _unseen(sure, _FINE_FINDS[kind])
                    if sure < low:
                        continue
                found.append(Spot(kind, shape, what, sure))
    return found


def not_over(found: Sequence[Spot], known: Sequence[Spot]) -> list[Spot]:
    """Those that don't lie for the most part over what is known."""
    taken = union_all([each.shape for each in known]) if known else Polygon()
    return [each for each in found if each.shape.intersection(taken).area < 0.5 * each.shape.area]


# chance it stays above, chance it reaches, mm^2, what it blocks as, what it is called
_SPOTS = {
    "pocket": (0.35, 0.5, 600.0, BlockedKind.POCKET, "pocket"),
    "hardware": (0.25, 0.4, 30.0, BlockedKind.CLOSURE, "button, snap or pull"),
    "label": (0.35, 0.5, 100.0, BlockedKind.OTHER, "label or print"),
    "loops": (0.35, 0.5, 100.0, BlockedKind.OTHER, "loop, strap or cord"),
}


def _finer(values: Map) -> Map:
    size = (values.shape[1] * _FINER, values.shape[0] * _FINER)
    return np.asarray(cv2.resize(values, size, interpolation=cv2.INTER_LINEAR), np.float32)


def _mm(points: NDArray[np.float64], whole: Whole) -> NDArray[np.float64]:
    """Points of the finer map (column, row) in mm."""
    return whole.to_mm((np.asarray(points, float) + 0.5) / _FINER - 0.5)


def _traced(whole: Whole, inner: Polygon) -> Iterable[Seam]:
    """Ridges of the line maps, each called what it most likely is; the likeliest first."""
    kinds = list(whole.lines)
    maps = [_finer(whole.lines[kind]) for kind in kinds]
    step = whole.step / _FINER
    most = np.max(maps, axis=0)
    found = lines.trace(most, _LOW, _HIGH, _SPUR / step)
    soft = np.asarray(cv2.GaussianBlur(most, (0, 0), 1.0), np.float32)
    found = lines.join(
        found, _GAP / step, _BEND, lambda a, b: bool(lines.along(np.stack([a, b]), soft).mean() > _LOW / 2)
    )
    seams = []
    for line in found:
        chances = [float(lines.along(line, each).mean()) for each in maps]
        sure = float(lines.along(line, most).mean())
        if sure < _BELIEVED:
            continue
        kind = kinds[int(np.argmax(chances))]
        for part in joined_lines(LineString(_mm(line, whole)).simplify(0.8).intersection(inner)):
            if part.length >= _SHORTEST:
                seams.append(_seam(kind, part, sure, whole.step))
    return sorted(seams, key=lambda each: -each.confidence)


def _seam(kind: str, line: LineString, sure: float, step: float) -> Seam:
    wide = 0.75 * step
    if kind == "fold":
        return Seam(line, sure, what="edge of a part lying over", wide=wide, kind=BlockedKind.OTHER)
    if kind == "closure":
        return Seam(line, sure, what="closure", wide=wide, kind=BlockedKind.CLOSURE)
    return Seam(line, sure, hem=kind == "hem", wide=wide)


def _boundaries(whole: Whole, names: Sequence[str], inner: Polygon) -> Iterable[Seam]:
    """Edges between parts of the garment."""
    parts = np.stack([_finer(each) for each in whole.parts])
    best = parts.argmax(axis=0)
    step = whole.step / _FINER
    for number, name in enumerate(names):
        if name == "none":
            continue
        labels, count = ndimage.label(best == number)
        for label, box in enumerate(ndimage.find_objects(labels, count), 1):
            mask = np.pad(labels[box] == label, 1).astype(np.uint8)
            if mask.sum() * step**2 < _PART_SMALLEST:
                continue
            offset = np.array([box[1].start - 1, box[0].start - 1])
            contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
            ring = max(contours, key=len)[:, 0, :].astype(float) + offset
            yield from _runs(ring, number, parts, best, names, whole, inner)


def _runs(
    ring: NDArray[np.float64],
    number: int,
    parts: Map,
    best: NDArray,
    names: Sequence[str],
    whole: Whole,
    inner: Polygon,
) -> Iterable[Seam]:
    """The stretches of a part's edge beside one other part, each once."""
    if len(ring) < 8:
        return
    soft = ndimage.gaussian_filter1d(ring, 2.0, axis=0, mode="wrap")
    way = np.roll(soft, -2, axis=0) - np.roll(soft, 2, axis=0)
    normal = np.stack([way[:, 1], -way[:, 0]], 1) / (np.linalg.norm(way, axis=1, keepdims=True) + 1e-9)
    if _at(best, soft + 3 * normal, number).mean() > 0.5:
        normal = -normal
    other = _values(best, soft + 3.0 * normal)
    far, near = 2 * _FINER, 2 * _FINER
    inside = _values(parts[number], soft - near * normal)
    shift = int(np.argmax(other != other[0])) if (other != other[0]).any() else 0
    order = np.roll(np.arange(len(ring)), -shift)
    starts = [0, *(np.flatnonzero(np.diff(other[order])) + 1), len(order)]
    for start, end in pairwise(starts):
        where = order[start:end]
        beside = int(other[where[0]])
        if beside <= number or names[beside] == "none" or len(where) < 4:
            continue
        there = _values(parts[beside], soft[where] + far * normal[where])
        sure = float(np.minimum(inside[where], there).mean())
        if sure < _PART_CLEAR:
            continue
        middle = soft[where] + 0.5 * normal[where]
        for line in joined_lines(LineString(_mm(middle, whole)).simplify(1.5).intersection(inner)):
            if line.length >= _SHORTEST:
                what = f"edge of {_said(names[number])} and {_said(names[beside])}"
                yield Seam(line, float(np.clip(sure, 0, 1)), what=what, wide=whole.step)


def _values(values: NDArray, points: NDArray[np.float64]) -> NDArray:
    column, row = np.round(points).astype(int).T
    return values[np.clip(row, 0, values.shape[0] - 1), np.clip(column, 0, values.shape[1] - 1)]


def _at(best: NDArray, points: NDArray[np.float64], number: int) -> NDArray[np.bool_]:
    return _values(best, points) == number


def _said(name: str) -> str:
    word, _, side = name.partition("_")
    return f"{side} {word}" if side in ("left", "right") else name


def _outlined(found: NDArray[np.bool_], whole: Whole) -> list[tuple[Polygon, tuple[NDArray[np.intp], ...]]]:
    """Areas of a finer map as polygons in mm, each with its pixels."""
    return ringed(found, lambda ring: _mm(ring, whole), 0.5 * whole.step / _FINER)

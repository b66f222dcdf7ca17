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
from shapely.geometry import LineString, Point, Polygon
from skimage.filters import apply_hysteresis_threshold

from salvage.cloth.finders.found import Found, Seam, Spot
from salvage.cloth.finders.lines.beside import joined_lines, not_yet
from salvage.cloth.finders.lines.evidence import Evidence, LineWitness, Neighbours, chance_of
from salvage.cloth.finders.sight import Sight
from salvage.cloth.finders.weigh import points_in
from salvage.cloth.flat import lines
from salvage.cloth.flat.areas import ringed
from salvage.cloth.flat.axis import Axis
from salvage.cloth.flat.whole import PARTS, Whole
from salvage.cloth.garment import BETWEEN, EDGE_LYING_OVER, BlockedKind

_FINER = 2  # points of the traced map for each of the grid
_LOW, _HIGH = 0.25, 0.40  # chance that a line stays above, and that it reaches
_TRACED = 0.30  # mean chance along a ridge from which it is weighed as a line
# Chance of a line by all that speaks for it, from which it is believed; in doubt it blocks. From here no more of the
# straight lines that a drawn seam crosses is called clear than before there were two looks (340 drawings kept apart).
_BELIEVED = 0.20
# Mean chance, of any line within a grid pixel, along which a line of such a confidence goes on from a free end as its
# last so many mm run, so many mm at most; and the most that such a stretch is told with.
_GOES_ON, _SURE, _LAST, _ON, _DOUBT = 0.25, 0.55, 60.0, 260.0, 0.5
_CLEAR = 4.0  # mm off its own end, from where such a stretch looks for what it meets
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
    """Lines that only the look at the whole garment shows, those too along which what the fine finders saw goes on."""
    known = [*found.seam_lines, *found.middles]
    new = whole_lines(sight.whole, sight.cloth, known, sharp=sight.sharp, axis=sight.axis)
    if not sight.sharp:  # in a sharp photograph a line that ends is seen to end
        borne = [each for each in found.seams if not each.on_outline]
        others = [each.line for each in found.seams if each.on_outline] + found.middles
        others += [each.line for each in new]
        new += led_on(borne, others, sight.cloth, LineWitness(sight.whole, sight.cloth, sight.axis))
    return replace(found, seams=(*found.seams, *new))


def believe(sight: Sight, found: Found) -> Found:
    """Without the fine finders' lines that aren't to be believed."""
    kept = borne_out(found.seams, sight.whole, sight.cloth, sharp=sight.sharp, axis=sight.axis)
    return replace(found, seams=tuple(kept))


def find_spots(sight: Sight, found: Found) -> Found:
    """Places that only the look at the whole garment shows, and without the fine finders' pockets that it doesn't
    bear out."""
    kept = pockets_borne_out(found.fittings, sight.whole, sharp=sight.sharp)
    new = not_over(whole_spots(sight.whole, sight.cloth, sharp=sight.sharp), kept)
    return replace(found, fittings=(*kept, *new))


def whole_lines(
    whole: Whole, cloth: Polygon, known: list[LineString], *, sharp: bool, axis: Axis | None = None
) -> list[Seam]:
    """Seams, hems, closures and folds of the whole look that aren't among the known lines (mm).

    sharp: the photograph shows stitches, so that a line that the fine finders didn't see is likely none.
    axis: the garment's own, where known.
    """
    found = [
        replace(seam, confidence=chance_of(seen))
        for seam, seen in lines_and_evidence(whole, cloth, known, axis)
    ]
    unseen = [
        replace(each, confidence=_unseen(each.confidence) if sharp else each.confidence) for each in found
    ]
    believed = [each for each in unseen if each.confidence >= _BELIEVED]
    return believed + led_on(believed, known, cloth, LineWitness(whole, cloth, axis))


def lines_and_evidence(
    whole: Whole, cloth: Polygon, known: Sequence[LineString], axis: Axis | None = None
) -> list[tuple[Seam, Evidence]]:
    """Every line of the whole look that isn't known, however unlikely, with what speaks for it."""
    inner = cloth.buffer(-_EDGE * whole.step)
    if inner.is_empty:
        return []
    witness = LineWitness(whole, cloth, axis)
    found = not_yet(list(_traced(whole, inner)), known)
    edges = [each for each in _boundaries(whole, PARTS, inner) if witness.along(each.line) >= _EDGE_SHOWS]
    found += not_yet(edges, [*known, *(each.line for each in found)], _SAME_AS_BOUNDARY)
    others = Neighbours([*known, *(each.line for each in found)])
    return [
        (seam, witness.evidence(seam, seam.confidence, others.of(number)))
        for number, seam in enumerate(found, len(known))
    ]


def led_on(
    found: Sequence[Seam], known: Sequence[LineString], cloth: Polygon, witness: LineWitness
) -> list[Seam]:
    """Where a sure line goes on from a free end to the outline or the next line, with some chance of a line all along.
    It blocks, and parts nothing. Of such stretches 52 to 79 of 100 were drawn lines, of those with less chance 38 at
    most (211 drawings kept apart)."""
    neighbours = Neighbours([*known, *(each.line for each in found)])
    laid = []
    for number, seam in enumerate(found, len(known)):
        if seam.confidence < _SURE or seam.hem:
            continue
        others = neighbours.of(number, _ON)
        for end, way in _ways_on(seam.line):
            if witness.leads_on(end, others):
                continue
            start, far = (Point(end.x + off * way[0], end.y + off * way[1]) for off in (_CLEAR, _ON))
            ray = LineString([start, far])
            met = [at for goal in (cloth.boundary, *others) if not (at := ray.intersection(goal)).is_empty]
            if met:
                reach = min(end.distance(at) for at in met)
                line = LineString([end, (end.x + reach * way[0], end.y + reach * way[1])])
                if (chance := witness.along(line)) >= _GOES_ON:
                    laid.append(replace(seam, line=line, confidence=min(chance, _DOUBT)))
    return laid


def _ways_on(line: LineString) -> Iterable[tuple[Point, NDArray[np.float64]]]:
    """Each end of a line, and the way that its last stretch leads on (a unit vector)."""
    for path in (line, LineString(list(line.coords)[::-1])):
        end, back = Point(path.coords[-1]), path.interpolate(max(0.0, path.length - _LAST))
        way = np.array([end.x - back.x, end.y - back.y])
        yield end, way / max(float(np.linalg.norm(way)), 1e-9)


def borne_out(
    seams: Sequence[Seam], whole: Whole, cloth: Polygon, *, sharp: bool, axis: Axis | None = None
) -> list[Seam]:
    """The fine finders' lines to believe. In a coarse photograph they see creases as they see threads: there they say
    where a line runs, and the look at the whole garment whether it is one. cloth, axis: as of whole_lines."""
    if sharp or not seams:
        return list(seams)
    witness = LineWitness(whole, cloth, axis)
    seen = [each for each in seams if each.on_outline or witness.along(each.line) >= _LOW]
    neighbours = Neighbours([each.line for each in seen])
    kept = []
    for number, seam in enumerate(seen):
        if not seam.on_outline and not seam.hem:
            chance = chance_of(witness.evidence(seam, witness.along(seam.line), neighbours.of(number)))
            if chance < _BELIEVED:
                continue
            seam = replace(seam, confidence=chance, fine=False)
        kept.append(seam)
    return kept


def pockets_borne_out(fittings: Sequence[Spot], whole: Whole, *, sharp: bool) -> list[Spot]:
    """Without the pockets of a coarse photograph that the look at the whole garment sees none in: what the fine finders
    see there is a print or a shade."""
    chances = whole.spots["pocket"]
    return [
        each
        for each in fittings
        if sharp
        or not (each.fine and each.kind is BlockedKind.POCKET)
        or whole.at(chances, points_in(each.shape, whole.step)).mean() >= _LOW
    ]


def _unseen(chance: float, seen: float = _FINE_SEES) -> float:
    """The chance of what the fine finders, who see such a share of it, did not see (Bayes)."""
    odds = chance / max(1.0 - chance, 1e-6) * (1.0 - seen)
    return odds / (1.0 + odds)


def whole_spots(whole: Whole, cloth: Polygon, *, sharp: bool) -> list[Spot]:
    """Pockets, buttons and pulls, labels and placed prints, loops and cords, as areas. sharp: as for lines."""
    found = []
    for name, (low, high, smallest, kind, what) in _SPOTS.items():
        for shape, sure in whole_areas(whole, name, low, high):
            ragged = kind is BlockedKind.POCKET and shape.area < _STRAIGHT * shape.convex_hull.area
            if shape.area >= smallest and not ragged and shape.intersects(cloth):
                if sharp and kind in _FINE_FINDS:
                    sure = _unseen(sure, _FINE_FINDS[kind])
                    if sure < low:
                        continue
                found.append(Spot(kind, shape, what, sure))
    return found


def whole_areas(whole: Whole, name: str, low: float, high: float) -> list[tuple[Polygon, float]]:
    """Areas in mm where the chance of a sort of spots stays above low and reaches high, each with its mean chance."""
    chance = _finer(whole.spots[name])
    return [
        (shape, float(np.clip(chance[inside].mean(), 0, 1)))
        for shape, inside in _outlined(apply_hysteresis_threshold(chance, low, high), whole)
    ]


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
        if sure < _TRACED:
            continue
        kind = kinds[int(np.argmax(chances))]
        for part in joined_lines(LineString(_mm(line, whole)).simplify(0.8).intersection(inner)):
            if part.length >= _SHORTEST:
                seams.append(_seam(kind, part, sure, whole.step))
    return sorted(seams, key=lambda each: -each.confidence)


def _seam(kind: str, line: LineString, sure: float, step: float) -> Seam:
    wide = 0.75 * step
    if kind == "fold":
        return Seam(line, sure, what=EDGE_LYING_OVER, wide=wide, kind=BlockedKind.OTHER)
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
                what = f"{BETWEEN}{_said(names[number])} and {_said(names[beside])}"
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

"""Seams and hems: lines that cross the cloth, and seams that lie on its outline."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import substring

from salvage.cloth.finders.found import Found, Seam
from salvage.cloth.finders.sight import Sight
from salvage.cloth.flat import lines
from salvage.cloth.flat.chances import EVERY, Chances
from salvage.cloth.flat.colour import difference
from salvage.cloth.flat.picture import Flat
from salvage.cloth.flat.printed import Repeat
from salvage.cloth.flat.thread import is_drawn
from salvage.shapes import points_on, polygons_of

# Looked at by `python -m fixtures.train.fit_figures seams edges`, whose curves stand in fixtures/train/figures.md: on ten
# drawings lines score 0.755 with these, and with none of them 0.6 to 1.6 times as large surely better; those of gaps,
# pockets, prints and wisps are idle there.
_LOW, _HIGH = 0.25, 0.55  # chance: a seam stays above the first and reaches the second
_BELIEVED = 0.42  # mean chance along a line to be called a seam
_SPUR = 14.0  # mm
_SHORTEST = 45.0  # mm, of a seam that ends nowhere in particular
_GAP, _BEND = 70.0, 28.0  # mm and degrees, over which a seam is taken to go on
_POCKET_WIDE, _POCKET_BEND, _UNDER_POCKET = 220.0, 10.0, 0.6  # a seam may run on under a pocket
_BRIDGE = 0.06  # mean chance that a bridge must have
_REACH = 40.0  # mm; a seam that stops so near the outline or another seam runs up to it
_STITCHES = 0.35  # share of stitches of a hem at least
_BESIDE, _OTHER_COLOUR = 11.0, 8.0  # mm beside a line; CIEDE2000 (kL = 2) between two cloths
_HEM_AWAY = 70.0  # mm; a row of stitches along the outline and no further from it is a hem
_TOUCHES = 20.0  # mm between a seam and what it belongs to, though its end was lost
_WISP, _CLEAR_WISP = 200.0, 0.85  # mm of lines that touch nothing else; how sure they must be to be seams
_PRINT_LONG, _PRINT_CLEAR = 200.0, 0.9  # mm and confidence from which a line is no rest of a print
_PRINT_TURN, _PRINT_SHARE = 10.0, 0.8  # degrees off the print's lines, and the share of a line within that
_NO_CREASE, _SEAM_OFF = 0.85, 4  # confidence from which a line is no crease; mm that it may be off its seam
_AT_EDGE = 8.0  # mm, of an end at the outline
_EDGE_CHANCE, _EDGE_RUN = 0.38, 40.0  # of a seam on the outline, and the least length in mm
# mm off the outline, so long: on 40 drawings leaving such lines out loses 0.0006 of the drawn length, all of which
# `find_on_outline` has to see then.
_RIM, _RIM_LONG, _RIM_EVERY = 9.0, 40.0, 4.0
_EDGE_SHARE = 0.8  # or share of a shorter stretch between two corners
_EDGE_SMOOTH, _EDGE_GAP = 20.0, 60.0  # mm: its chance is smoothed over; between two parts of one seam
_CORNER_ARM, _CORNER = 18.0, 45.0  # mm to either side of a corner of the outline, and its degrees at least
_EDGE_BELIEVED = 0.5  # mean chance over the whole of such a stretch
# mm off a smooth line, of a stretch so long: cut or torn, not turned. Of those that are taken for seams all the same less than
# six in ten were some on 40 drawings, whose outlines are ragged by their pixels alone.
_RAGGED, _RAGGED_LONG = 0.18, 100.0
_RAGGED_PX = 0.25  # photo pixels; an outline is known no better
_RAGGED_BELIEVED = 0.75  # mean chance at which it is a seam all the same
_RAGGED_SIGMA = 8.0  # mm, the smooth line's


def find(sight: Sight, found: Found) -> Found:
    """Seams and hems within the cloth."""
    seams = find_seams(sight.chances, sight.plain, sight.cloth, sight.repeats)
    return replace(found, seams=(*found.seams, *seams))


def find_on_outline(sight: Sight, found: Found) -> Found:
    """Stretches of the outline that are seams."""
    return replace(found, seams=(*found.seams, *find_edge_seams(sight.chances, sight.plain, sight.cloth)))


def find_seams(chances: Chances, flat: Flat, cloth: Polygon, repeats: tuple[Repeat, ...] = ()) -> list[Seam]:
    """Seams and hems within the cloth. flat: without its prints. repeats: the prints taken off it."""
    step = flat.step * EVERY
    mask = flat.mask[::EVERY, ::EVERY]
    inner = cv2.erode(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    chance = np.where(inner, chances.seam, 0).astype(np.float32)
    found = lines.trace(chance, _LOW, _HIGH, _SPUR / step)
    lab = flat.lab
    soft = np.asarray(cv2.GaussianBlur(chance, (0, 0), 1.5), np.float32)

    def goes_on(a: NDArray[np.float64], b: NDArray[np.float64]) -> bool:
        return bool(lines.along(np.stack([a, b]), soft).mean() >= _BRIDGE)

    def goes_under(a: NDArray[np.float64], b: NDArray[np.float64]) -> bool:
        return bool(lines.along(np.stack([a, b]), chances.pocket).mean() > _UNDER_POCKET)

    found = lines.join(found, _GAP / step, _BEND, goes_on)
    found = lines.join(found, _POCKET_WIDE / step, _POCKET_BEND, goes_under)
    found = [line for line in found if _is_believed(line, soft, step)]
    goals = _goals(found, inner)
    seams = []
    for index, line in enumerate(found):
        line = lines.extend(line, goals[index], _REACH / step)
        mm = LineString(flat.to_mm(line * EVERY)).simplify(0.5)
        confidence = float(np.clip(lines.along(line, soft).mean() * 1.4, 0, 1))
        only_stitches = _share_of_stitches(line, chances) > _STITCHES
        hem = only_stitches and _runs_along(mm, cloth) and _alike_beside(mm, lab, flat)
        if mm.length == 0 or _is_print(mm, confidence, cloth, repeats, lab, flat):
            continue
        if not _is_crease(mm, confidence, lab, flat):
            seams.append(Seam(mm, confidence, hem, fine=True))
    return _without_wisps(_off_the_rim(seams, cloth), cloth)


def _off_the_rim(seams: list[Seam], cloth: Polygon) -> list[Seam]:
    """Without what runs along the outline close by: a rounded edge is shaded so, and a seam there is the outline's, for
    `find_on_outline` to see. A hem is stitched there."""
    kept: list[Seam] = []
    for each in seams:
        if each.hem:
            kept.append(each)
            continue
        at = np.arange(0.0, each.line.length, _RIM_EVERY)
        near = shapely.distance(cloth.boundary, shapely.line_interpolate_point(each.line, at)) < _RIM
        labels, count = ndimage.label(near)
        runs = [at[labels == label][[0, -1]] for label in range(1, count + 1)]
        runs = [(start, end) for start, end in runs if end - start >= _RIM_LONG]
        if not runs:
            kept.append(each)
            continue
        bounds = np.append(np.insert(np.ravel(runs), 0, 0.0), each.line.length).reshape(-1, 2)
        kept += [
            replace(each, line=substring(each.line, start, end))
            for start, end in bounds
            if end - start >= _SHORTEST
        ]
    return kept


def _is_print(
    line: LineString,
    confidence: float,
    cloth: Polygon,
    repeats: tuple[Repeat, ...],
    lab: lines.Map,
    flat: Flat,
) -> bool:
    """Whether a short line that isn't sure is what the print left: it runs as the stripes or checks do, the
    cloth beside it is of one colour, and it doesn't cross from edge to edge as a cuff's seam does."""
    if line.length >= _PRINT_LONG or confidence >= _PRINT_CLEAR or not repeats:
        return False
    under = max(repeats, key=lambda each: each.part.intersection(line).length)
    points = points_on(line, np.linspace(0, line.length, 12))
    ways = np.diff(points, axis=0)
    angles = np.degrees(np.arctan2(ways[:, 1], ways[:, 0]))
    off = [np.abs((angles - way + 90) % 180 - 90) for way in under.lines]
    if not off or (np.min(off, axis=0) < _PRINT_TURN).mean() < _PRINT_SHARE:
        return False
    across = all(cloth.boundary.distance(Point(end)) < _AT_EDGE for end in (points[0], points[-1]))
    return not across and _alike_beside(line, lab, flat)


def _is_crease(line: LineString, confidence: float, lab: lines.Map, flat: Flat) -> bool:
    """Whether a line that isn't quite sure is the shadow of a crease: no thin line runs along it, and the
    cloth is of one colour on both sides."""
    return (
        confidence < _NO_CREASE
        and not is_drawn(line, lab, flat, _SEAM_OFF)
        and _alike_beside(line, lab, flat)
    )


def _without_wisps(seams: list[Seam], cloth: Polygon) -> list[Seam]:
    """Without short faint lines that come near neither the outline nor a longer seam: a seam begins and ends
    somewhere, a crease runs out in the middle of the cloth."""
    whole = shapely.union_all([each.line.buffer(_TOUCHES / 2, quad_segs=2) for each in seams])
    wisps = []
    for group in polygons_of(whole):
        together = [each for each in seams if group.intersects(each.line)]
        total = sum(each.line.length for each in together)
        sure = sum(each.confidence * each.line.length for each in together) / total
        if total < _WISP and sure < _CLEAR_WISP and group.distance(cloth.boundary) > _TOUCHES / 2:
            wisps.append(group)
    return [each for each in seams if not any(group.intersects(each.line) for group in wisps)]


def _is_believed(line: lines.Line, soft: lines.Map, step: float) -> bool:
    return lines.length(line) * step >= _SHORTEST and float(lines.along(line, soft).mean()) >= _BELIEVED


def _goals(found: list[lines.Line], inner: NDArray[np.bool_]) -> list[NDArray[np.bool_]]:
    """For each line, where it may end: outside the cloth or on another line."""
    drawn = np.zeros(inner.shape, np.uint8)
    for line in found:
        cv2.polylines(drawn, [np.round(line).astype(np.int32)], False, 1)
    goals = []
    for line in found:
        own = np.zeros(inner.shape, np.uint8)
        cv2.polylines(own, [np.round(line).astype(np.int32)], False, 1, 5)
        goals.append(~inner | ((drawn > 0) & (own == 0)))
    return goals


def _share_of_stitches(line: lines.Line, chances: Chances) -> float:
    """How far the network takes the line for stitching that joins nothing, from 0 to 1."""
    seam, stitch = (lines.along(line, values).mean() for values in (chances.seam, chances.stitch))
    return float(stitch / max(seam, 1e-3))


def _runs_along(line: LineString, cloth: Polygon) -> bool:
    """Whether the line keeps about the same small distance from the outline."""
    points = shapely.line_interpolate_point(line, np.linspace(0.1, 0.9, 9), normalized=True)
    away = shapely.distance(cloth.exterior, points)
    spread = np.percentile(away, 80) - np.percentile(away, 20)
    return bool(np.median(away) < _HEM_AWAY and spread < max(5.0, 0.25 * np.median(away)))


def _alike_beside(line: LineString, lab: lines.Map, flat: Flat) -> bool:
    """Whether the cloth is of one colour on both sides of the line."""
    sides = [colours_along(line.parallel_offset(_BESIDE, side), lab, flat) for side in ("left", "right")]
    if min(len(side) for side in sides) < 10:
        return True
    left, right = (np.median(side, axis=0) for side in sides)
    return difference(left, right) < _OTHER_COLOUR


def colours_along(line: LineString, lab: lines.Map, flat: Flat) -> lines.Map:
    """(n, 3) CIELAB colours of the cloth at points about 3 mm apart on a line in mm."""
    if line.is_empty or line.length == 0:
        return np.zeros((0, 3), np.float32)
    shares = np.linspace(0, 1, max(12, int(line.length / 3.0)))
    points = points_on(line, shares, normalized=True)
    column, row = np.round(flat.to_flat_px(points)).astype(int).T
    inside = (row >= 0) & (column >= 0) & (row < flat.mask.shape[0]) & (column < flat.mask.shape[1])
    column, row = column[inside], row[inside]
    return lab[row, column][flat.mask[row, column]]


def find_edge_seams(chances: Chances, flat: Flat, cloth: Polygon) -> list[Seam]:
    """Stretches of the outline that are seams, side seams for instance. A seam ends where the outline turns a corner, at
    the hem or the shoulder: what lies behind it is another stretch and must show itself."""
    step = flat.step * EVERY
    chance = cv2.dilate(chances.edge, np.ones((7, 7), np.uint8))
    seams: list[Seam] = []
    for ring in (cloth.exterior, *cloth.interiors):
        count = int(ring.length / step)
        if count < 10:
            continue
        points = points_on(ring, ring.length / count * np.arange(count))
        at = flat.to_flat_px(points) / EVERY
        value = ndimage.map_coordinates(chance, at.T[::-1], order=1, mode="nearest")
        for start, length in _stretches(points, step):
            here = np.arange(start, start + length) % count
            seams += _runs(value[here], points[np.append(here, (start + length) % count)], step)
    ragged = max(_RAGGED, _RAGGED_PX * flat.photo_step)
    return [each for each in seams if _is_edge_seam(each, ragged)]


def _stretches(ring: NDArray[np.float64], step: float) -> list[tuple[int, int]]:
    """Where the stretches of a ring between its corners start, and how many points they have; of one without any
    corner, the whole."""
    arm = round(_CORNER_ARM / step)
    soft = ndimage.gaussian_filter1d(ring, 1.0, axis=0, mode="wrap")
    one, two = soft - np.roll(soft, arm, axis=0), np.roll(soft, -arm, axis=0) - soft
    turn = np.abs(np.degrees(np.arctan2(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0], (one * two).sum(1))))
    sharpest = turn == ndimage.maximum_filter1d(turn, 2 * arm + 1, mode="wrap")
    corners = np.flatnonzero(sharpest & (turn >= _CORNER))
    if not len(corners):
        return [(0, len(ring))]
    ends = np.append(corners[1:], corners[0] + len(ring))
    return list(zip(corners.tolist(), (ends - corners).tolist(), strict=True))


def _is_edge_seam(seam: Seam, ragged: float) -> bool:
    """Whether a stretch of the outline is likely enough a seam, taken as a whole. A long ragged one was cut
    or torn: cloth turned under and sewn lies smooth. ragged: mm from which it is so."""
    is_ragged = seam.line.length >= _RAGGED_LONG and _raggedness(seam.line) > ragged
    return seam.confidence >= (_RAGGED_BELIEVED if is_ragged else _EDGE_BELIEVED)


def _raggedness(line: LineString) -> float:
    """How far, in mm, the middling point of a line lies off the line smoothed; that it bends evenly counts for nothing."""
    left = points_on(line, np.arange(0.0, line.length, 1.0))
    for _ in range(2):  # the first time leaves its bend, which is about the same all along
        left = left - ndimage.gaussian_filter1d(left, _RAGGED_SIGMA, axis=0, mode="nearest")
    return float(np.median(np.linalg.norm(left, axis=1)))


def _runs(value: NDArray[np.float32], points: NDArray[np.float64], step: float) -> list[Seam]:
    """The stretches of a part of the outline along which its chance holds, as seams; gaps up to _EDGE_GAP are closed.

    value: at each of the points (mm) but the last one.
    """
    value = ndimage.median_filter(value, size=max(3, int(_EDGE_SMOOTH / step)), mode="nearest")
    gap = int(_EDGE_GAP / step)
    on = ndimage.binary_closing(np.pad(value > _EDGE_CHANCE, gap), np.ones(gap))[gap:-gap]
    labels, count = ndimage.label(on)
    seams = []
    for label in range(1, count + 1):
        where = np.flatnonzero(labels == label)
        if len(where) * step >= min(_EDGE_RUN, _EDGE_SHARE * len(value) * step):
            line = LineString(points[where[0] : where[-1] + 2])
            seams.append(Seam(line, float(value[where].mean()), on_outline=True, fine=True))
    return seams

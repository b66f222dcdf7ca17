"""Closures and pockets: what is sewn on to the cloth and can't be cut through."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.finders.found import Found, Seam, Spot, ZipBand
from salvage.cloth.finders.sewn.tabs import find_tabs
from salvage.cloth.finders.sight import Sight
from salvage.cloth.flat.areas import find_areas, sides
from salvage.cloth.flat.chances import EVERY, Chances
from salvage.cloth.flat.picture import Flat
from salvage.cloth.flat.thread import is_drawn
from salvage.cloth.garment import BlockedKind

_CLOSURE = (0.25, 0.45, 24.0)  # chance it stays above, chance it reaches, mm^2
_POCKET = (0.3, 0.55, 350.0)
_CLEAR_POCKET = 0.6  # mean chance at which a pocket may be of any shape
_POCKET_HULL, _POCKET_BOX = 0.8, 0.65  # share of its hull and its box that a fainter one fills
_POCKET_LONG = 70.0  # mm, and its long side: a hand goes in
_PRINT_POCKET = 0.65  # mean chance below which a patch is what a print left
_TAB_SURE, _TAB_TAKEN = 0.6, 0.3  # confidence; and the share of a tab that something else may take
_POCKET_OFF = 9  # mm that a pocket's outline may be off its edge, where a thin line must be seen
_BUTTON = 26.0  # mm across at most
_BUTTON_DEEP = (
    8.0  # mm from its middle to the edge at least: it stands in by half its width or more (common practice)
)
_ROUND = 0.6  # share of its enclosing box that a button fills (a circle: 0.785)
_BUTTON_NAME = "button or snap"
_SLIT = "slit pocket"
TAB_OR_LOOP = "tab or loop"  # a rectangle of straight lines
ZIP_OR_BAND = "zip or band"  # a long slim closure
_FEW = 6  # more small round things than this are a print, unless they stand in a row
_PITCH, _OFF_ROW = (25.0, 160.0), 6.0  # mm between two buttons, and off their row
_ON_SEAM = 0.75  # share of a slim shape that lies along a seam, from which it is the seam however wide
_SEAM_REACH, _SLENDER = 7.0, 14.0  # mm, from a seam; and the width of stitching taken for something else
_SLIM = 4.0  # a closure this many times longer than wide is a zip or a band


def find(sight: Sight, found: Found) -> Found:
    """Closures and pockets seen near by; the bands are closures too."""
    new = find_fittings(sight.chances, sight.plain, found.bands, found.seams, bool(sight.repeats))
    return replace(found, fittings=(*found.fittings, *new))


def find_fittings(
    chances: Chances, flat: Flat, bands: Sequence[ZipBand], seams: Sequence[Seam], printed: bool = False
) -> list[Spot]:
    """Closures and pockets, as areas in mm. bands: zips found already. seams: of the same cloth.

    printed: a print was taken off the flat picture; what is left of it would make tabs and pockets.
    """
    closures = [(band.area, "zip", 0.8) for band in bands]
    zone = shapely.union_all([*(each.line.buffer(_SEAM_REACH) for each in seams), Polygon()])
    taken = shapely.union_all([*(band.area for band in bands), Polygon()])
    small: list[tuple[Polygon, str, float]] = []
    for shape, chance in find_areas(chances.closure, flat, EVERY, *_CLOSURE):
        name = _closure_name(shape)
        if name == _BUTTON_NAME and _depth(shape, flat) < _BUTTON_DEEP:
            continue
        if _is_stitching(shape, zone) or shape.intersection(taken).area > 0.6 * shape.area:
            continue
        (small if name == _BUTTON_NAME else closures).append((shape, name, chance))
    lab = flat.lab
    closures += small if len(small) <= _FEW else _in_rows(small)
    taken = shapely.union_all([taken, *(shape for shape, _, _ in closures)])
    pockets = [
        (shape, _pocket_name(shape), chance)
        for shape, chance in find_areas(chances.pocket, flat, EVERY, *_POCKET)
        if not _is_stitching(shape, zone)
        and _is_pocket(shape, chance, printed)
        and is_drawn(LineString(shape.simplify(2.0).exterior.coords), lab, flat, _POCKET_OFF)
    ]
    taken = shapely.union_all([taken, *(shape for shape, _, _ in pockets)])
    closures += [
        (each, TAB_OR_LOOP, _TAB_SURE)
        for each in (() if printed else flat.once(find_tabs))
        if each.intersection(taken).area < _TAB_TAKEN * each.area
    ]
    kinds = ((BlockedKind.CLOSURE, closures), (BlockedKind.POCKET, pockets))
    return [
        Spot(kind, shape, what, chance, fine=True) for kind, found in kinds for shape, what, chance in found
    ]


def _is_pocket(shape: Polygon, chance: float, printed: bool) -> bool:
    """A pocket is sewn on with straight sides; what is faint must look it, or it is a fold's shadow, or what
    is left of a print. A slit is too slim to tell by its shape."""
    if _pocket_name(shape) == _SLIT:
        return True
    if printed:
        return chance >= _PRINT_POCKET
    if chance >= _CLEAR_POCKET:
        return True
    long, short = sides(shape)
    straight = shape.area > _POCKET_HULL * shape.convex_hull.area and shape.area > _POCKET_BOX * long * short
    return bool(straight and long >= _POCKET_LONG)


def _is_stitching(shape: Polygon, zone: BaseGeometry) -> bool:
    """A slim shape that lies along a seam is the seam's own stitching; so is a wider one that the seam's margin takes in anyway."""
    long, short = sides(shape)
    share = shape.intersection(zone).area / max(shape.area, 1e-9)
    return bool(long > 3.0 * short and (share > _ON_SEAM or (short < _SLENDER and share > 0.6)))


def _depth(shape: Polygon, flat: Flat) -> float:
    """mm from the middle of a shape to the cloth's edge."""
    column, row = np.round(flat.to_flat_px(np.array([shape.centroid.coords[0]]))).astype(int)[0]
    height, width = flat.mask.shape
    inside = 0 <= row < height and 0 <= column < width
    return float(flat.depth_px[row, column]) * flat.step if inside else 0.0


def _in_rows(small: list[tuple[Polygon, str, float]]) -> list[tuple[Polygon, str, float]]:
    """Of many small round things, those that stand in a row: buttons do, the dots of a print hardly."""
    at = np.array([[each.centroid.x, each.centroid.y] for each, _, _ in small])
    best: list[int] = []
    for i, j in combinations(range(len(small)), 2):
        way = at[j] - at[i]
        apart = float(np.linalg.norm(way))
        if not _PITCH[0] <= apart <= _PITCH[1]:
            continue
        steps = (at - at[i]) @ way / apart**2
        off = np.abs((at - at[i]) @ np.array([-way[1], way[0]])) / apart
        row = np.flatnonzero((off < _OFF_ROW) & (np.abs(steps - np.round(steps)) < 0.12))
        whole = len(np.unique(np.round(steps[row]))) >= 0.75 * (np.ptp(np.round(steps[row])) + 1)
        if whole and len(row) > len(best):
            best = list(row)
    return [small[k] for k in best] if len(best) >= 4 else []


def _pocket_name(shape: Polygon) -> str:
    long, short = sides(shape)
    return _SLIT if short < 40 and long > 2.2 * short else "patch pocket"


def _closure_name(shape: Polygon) -> str:
    long, short = sides(shape)
    if long <= _BUTTON and shape.area > _ROUND * long * short:
        return _BUTTON_NAME
    return ZIP_OR_BAND if long > _SLIM * short and long > 80 else "tab, loop or fly"

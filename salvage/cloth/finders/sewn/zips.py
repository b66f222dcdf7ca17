"""Zips and other bands: two seams side by side with something of another colour between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon

from salvage.cloth.finders.found import Found, Seam, ZipBand
from salvage.cloth.finders.lines.seams import colours_along
from salvage.cloth.finders.sight import Sight
from salvage.cloth.flat.colour import difference
from salvage.cloth.flat.picture import Flat

_LONG = 110.0  # mm, both lines at least
_WIDE = (7.0, 46.0)  # mm between them
_STEADY = 4.0  # mm, how much that may vary
_BESIDE = 0.6  # share of the shorter line that runs beside the other
_OTHER_COLOUR = 6.0  # CIEDE2000 (kL = 2) between the band's middle and the cloth beside it
_SAMPLES = 60


def find(sight: Sight, found: Found) -> Found:
    """Bands, in the place of the seams that are their edges."""
    bands, left = find_bands(found.seams, sight.plain)
    return replace(found, bands=(*found.bands, *bands), seams=tuple(left))


def find_bands(seams: Sequence[Seam], flat: Flat) -> tuple[list[ZipBand], list[Seam]]:
    """Bands, and the seams that are left once their edges are taken out."""
    lab = flat.lab
    bands: list[ZipBand] = []
    inner = [each for each in seams if not each.on_outline and each.line.length >= _LONG]
    for one, two in combinations(inner, 2):
        shorter, longer = sorted((one.line, two.line), key=lambda line: line.length)
        if shorter.distance(longer) > _WIDE[1]:
            continue
        found = _band(shorter, longer)
        if found is not None and _differs(found[1], found[2], lab, flat):
            bands.append(ZipBand(found[0], found[1]))
    left = [each for each in seams if not any(_is_edge_of(each.line, band.area) for band in bands)]
    return bands, left


def _band(shorter: LineString, longer: LineString) -> tuple[Polygon, LineString, float] | None:
    points = shapely.line_interpolate_point(shorter, np.linspace(0, 1, _SAMPLES), normalized=True)
    beside = shapely.line_interpolate_point(longer, shapely.line_locate_point(longer, points))
    apart = shapely.distance(points, beside)
    width = float(np.median(apart))
    near = np.abs(apart - width) < _STEADY
    if not _WIDE[0] <= width <= _WIDE[1] or near.mean() < _BESIDE:
        return None
    middles = [((a.x + b.x) / 2, (a.y + b.y) / 2) for a, b, n in zip(points, beside, near, strict=True) if n]
    middle = LineString(middles).simplify(0.5)
    if middle.length < _LONG * _BESIDE:
        return None
    return middle.buffer(width / 2 + 2.0, cap_style="flat"), middle, width


def _differs(middle: LineString, width: float, lab: NDArray[np.float32], flat: Flat) -> bool:
    """Whether the band's middle is of another colour than the cloth on both sides."""
    centre = colours_along(middle, lab, flat)
    left = colours_along(middle.parallel_offset(width / 2 + 9.0, "left"), lab, flat)
    right = colours_along(middle.parallel_offset(width / 2 + 9.0, "right"), lab, flat)
    if min(len(centre), len(left), len(right)) < 10:
        return False
    own = np.median(centre, axis=0)
    away = [difference(own, np.median(side, axis=0)) for side in (left, right)]
    return min(away) > _OTHER_COLOUR


def _is_edge_of(line: LineString, band: Polygon) -> bool:
    return bool(line.intersection(band.buffer(4.0)).length > 0.7 * line.length)


def near_axis(points: list[Point], at: tuple[float, float], up: float, within: float) -> bool:
    """Whether most points lie within some mm of the line through `at` in direction `up`."""
    if not points:
        return False
    normal = np.array([-np.sin(np.radians(up)), np.cos(np.radians(up))])
    away = np.abs((np.array([(p.x, p.y) for p in points]) - at) @ normal)
    return bool((away < within).mean() > 0.5)

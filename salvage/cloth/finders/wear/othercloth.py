"""Facings, linings and trimmings taken for a flaw: an even area of quite another colour that runs to the
outline, or that seams bound all round (the lining of a hood), is another cloth, and what bounds it is a seam."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.ops import linemerge

from salvage.cloth.finders.found import Found, Seam, Spot
from salvage.cloth.finders.sight import Sight
from salvage.cloth.flat.colour import difference
from salvage.cloth.flat.picture import Flat

_SMALLEST = 2500.0  # mm^2
_OTHER_COLOUR = 15.0  # CIEDE2000 (kL = 2) from the cloth round it
_EVEN = 6.0  # middling distance in CIELAB from its own middling colour, at most
_AT_EDGE, _EDGE_SHARE = 8.0, 0.25  # mm from the outline, and the share of its border that lies there
# mm from a seam that was seen, and the share of its border that lies at the outline or there
_ON_SEAM, _SEAM_SHARE = 10.0, 0.65
_HULL = 0.85  # share of its hull that it fills; what was spilt or bleached has lobes
_ROUND = (8.0, 30.0)  # mm round it, where the cloth it is compared with lies
_SHORTEST = 30.0  # mm, of a seam
_CONFIDENCE = 0.7


def part(sight: Sight, found: Found) -> Found:
    """Bounds of other cloth for what was taken for worn."""
    worn, bounds = part_other_cloth(found.worn, sight.cloth, sight.flat, found.seam_lines)
    return replace(found, worn=tuple(worn), seams=(*found.seams, *bounds))


def part_other_cloth(
    worn: Sequence[Spot], cloth: Polygon, flat: Flat, known: Sequence[LineString] = ()
) -> tuple[list[Spot], list[Seam]]:
    """The worn places that are no other cloth, and the seams that bound those that are. known: seams found before."""
    kept: list[Spot] = []
    seams: list[Seam] = []
    for each in worn:
        shape = each.shape
        if _is_other_cloth(shape, cloth, flat, known):
            inner = shape.simplify(3.0).exterior.difference(cloth.boundary.buffer(_AT_EDGE))
            lines = inner if isinstance(inner, LineString) else linemerge(inner)
            parts = [part for part in getattr(lines, "geoms", [lines]) if part.length >= _SHORTEST]
            seams += [Seam(part, _CONFIDENCE) for part in parts]
        else:
            kept.append(each)
    return kept, seams


def _is_other_cloth(shape: Polygon, cloth: Polygon, flat: Flat, known: Sequence[LineString]) -> bool:
    if shape.area < _SMALLEST or shape.area < _HULL * shape.convex_hull.area:
        return False
    edge = cloth.boundary.buffer(_AT_EDGE)
    at_edge = shape.exterior.intersection(edge).length
    if at_edge < _EDGE_SHARE * shape.exterior.length:
        near = [line.buffer(_ON_SEAM) for line in known if line.distance(shape) < _ON_SEAM]
        bounded = shape.exterior.intersection(shapely.union_all([edge, *near])).length
        if bounded < _SEAM_SHARE * shape.exterior.length:
            return False
    around = shape.buffer(_ROUND[1]).difference(shape.buffer(_ROUND[0])).intersection(cloth)
    lab = flat.lab
    inside, outside = lab[flat.raster(shape.buffer(-4.0))], lab[flat.raster(around)]
    if not len(inside) or not len(outside):
        return False
    own = np.median(inside, axis=0)
    uneven = float(np.median(np.linalg.norm(inside - own, axis=1)))
    return uneven <= _EVEN and difference(own, np.median(outside, axis=0)) >= _OTHER_COLOUR

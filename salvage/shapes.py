"""What a geometry is made of, whatever kind it is: helpers that every room uses on shapely's shapes."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import LinearRing, LineString, Polygon
from shapely.geometry.base import BaseGeometry


def polygons_of(shape: BaseGeometry | None) -> list[Polygon]:
    """All polygons in a geometry, largest first; lines, points and empties are left out."""
    found = [part for part in _parts_of(shape) if isinstance(part, Polygon)]
    return sorted(found, key=lambda each: -each.area)


def lines_of(shape: BaseGeometry | None) -> list[LineString]:
    """All lines in a geometry, in its order; a ring counts as one."""
    return [part for part in _parts_of(shape) if isinstance(part, LineString)]


def points_on(
    line: LineString | LinearRing, at: ArrayLike, *, normalized: bool = False
) -> NDArray[np.float64]:
    """(n, 2) points so far along a line, each as `line.interpolate` has it, all asked for at once.

    at: distances from its start, or with `normalized` shares of its length, 0 to 1.
    """
    found = shapely.line_interpolate_point(line, np.asarray(at, float), normalized=normalized)
    return np.asarray(shapely.get_coordinates(found))


def part_within(shape: BaseGeometry, reach: BaseGeometry) -> BaseGeometry:
    """What of a shape lies within reach; a shape whose ring crosses itself is mended first."""
    return (shape if shape.is_valid else shapely.make_valid(shape)).intersection(reach)


def places_of(shapes: Iterable[BaseGeometry], apart: float) -> list[Polygon]:
    """The places at which shapes lie, each taken in with half of `apart` round it: what is nearer than that is at one."""
    return polygons_of(shapely.union_all([each.buffer(apart / 2) for each in shapes]))


def _parts_of(shape: BaseGeometry | None) -> list[BaseGeometry]:
    """The single shapes that are not empty, however deep they are nested."""
    if shape is None or shape.is_empty:
        return []
    if not hasattr(shape, "geoms"):
        return [shape]
    return [single for part in shape.geoms for single in _parts_of(part)]

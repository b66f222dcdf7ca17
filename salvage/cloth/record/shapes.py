"""Shapes of a record: GeoJSON geometry objects (RFC 7946, structure only: coordinates are mm on the plane, not degrees)."""

from __future__ import annotations

from typing import Any

import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon, shape
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocking
from salvage.cloth.record.plain import as_list, as_number, slip
from salvage.errors import SalvageError, shown
from salvage.shapes import polygons_of

_HARMLESS_PERCENT = 0.5  # an outline that crosses itself is mended if no more of its area is in doubt
_MOST_POINTS = 500_000  # in a shape: beyond any garment
LARGEST = 20_000.0  # mm; a coordinate beyond this is a wrong unit or a slip, no garment is 20 m long
_GEOMETRIES = ("Point", "LineString", "Polygon", "MultiPoint", "MultiLineString", "MultiPolygon")


def as_blocking(data: Any, where: str) -> Blocking:
    geometry = as_geometry(data, where)
    if not isinstance(geometry, Polygon | MultiPolygon | LineString | MultiLineString):
        raise SalvageError(f"{where}: it is a {geometry.geom_type}. Give a Polygon or a LineString.")
    return _mended(geometry)


def as_stroke(data: Any, where: str) -> tuple[tuple[float, float], ...]:
    """Pixels [[x, y], ...]; a lone [x, y] is a stroke of one."""
    points = as_list(data, where)
    points = [points] if len(points) == 2 and not any(isinstance(each, list) for each in points) else points
    if not 1 <= len(points) <= _MOST_POINTS or any(not isinstance(p, list) or len(p) != 2 for p in points):
        raise SalvageError(f"{where}: not a stroke. Write pixels, [[x, y], ...].")
    return tuple((as_number(x, where), as_number(y, where)) for x, y in points)


def _mended(geometry: Blocking) -> Blocking:
    """A blocked area that crosses itself blocks all it goes round, so mending may only add to it."""
    if geometry.is_valid or not isinstance(geometry, Polygon | MultiPolygon):
        return geometry
    parts = [geometry] if isinstance(geometry, Polygon) else list(geometry.geoms)
    filled = [shapely.make_valid(Polygon(each.exterior)) for each in parts]
    return MultiPolygon(polygons_of(shapely.union_all([*filled, *(shapely.make_valid(p) for p in parts)])))


def as_outline(data: Any, where: str) -> Polygon:
    geometry = as_geometry(data, where)
    if isinstance(geometry, MultiPolygon) and len(geometry.geoms) == 1:
        geometry = geometry.geoms[0]
    if not isinstance(geometry, Polygon):
        raise SalvageError(f"{where}: it is a {geometry.geom_type}. A piece's outline is one Polygon.")
    if (
        geometry.interiors
        and shapely.make_valid(Polygon(geometry.exterior)).difference(_holes(geometry)).area < 1.0
    ):
        raise SalvageError(
            f"{where}: its holes are as large as the outline, so no cloth is left. Its first ring is the edge, the others "
            "are holes: correct them."
        )
    parts = polygons_of(shapely.make_valid(geometry))
    if not parts or parts[0].area < 1.0:
        raise SalvageError(f"{where}: it encloses no cloth. Give at least three corners, in mm.")
    whole = geometry.is_valid
    if not whole and sum(p.area for p in parts[1:]) > parts[0].area * _HARMLESS_PERCENT / 100:
        raise SalvageError(f"{where}: it crosses itself. Draw it again without crossing, or as two pieces.")
    return geometry if whole else parts[0]


def _holes(polygon: Polygon) -> BaseGeometry:
    return shapely.union_all([shapely.make_valid(Polygon(ring)) for ring in polygon.interiors])


def as_usable(data: Any, outline: Polygon, where: str) -> MultiPolygon:
    geometry = as_geometry(data, where)
    if not isinstance(geometry, Polygon | MultiPolygon):
        raise SalvageError(f"{where}: it is a {geometry.geom_type}. Give a MultiPolygon, or leave it out.")
    geometry = geometry if geometry.is_valid else shapely.make_valid(geometry)
    if not outline.covers(geometry):
        geometry = geometry.intersection(outline)  # cloth can't be used where there is none
    return MultiPolygon(polygons_of(geometry))


def as_geometry(data: Any, where: str) -> BaseGeometry:
    if not isinstance(data, dict) or "type" not in data or "coordinates" not in data:
        near = "" if not isinstance(data, dict) else slip(data, {"type", "coordinates"})
        raise SalvageError(f"{where}: not a GeoJSON geometry. It needs a type and coordinates.{near}")
    if data["type"] not in _GEOMETRIES:
        raise SalvageError(
            f"{where}: its type is {shown(data['type'])!r}. Write one of {', '.join(_GEOMETRIES)}."
        )
    if _numbers_in(data["coordinates"]) > 3 * _MOST_POINTS:
        raise SalvageError(f"{where}: it has more than {_MOST_POINTS} points. Draw it with fewer.")
    try:
        geometry = shape(data)
    except (
        ArithmeticError,
        AttributeError,
        IndexError,
        KeyError,
        TypeError,
        ValueError,
        shapely.errors.ShapelyError,
    ) as error:
        raise SalvageError(f"{where}: its coordinates don't make a {data['type']}. Mend them.") from error
    points = shapely.get_coordinates(geometry)
    if points.size and not (abs(points) < LARGEST).all():
        raise SalvageError(
            f"{where}: a coordinate lies beyond {LARGEST / 1000:g} m or is no number. Coordinates are in mm."
        )
    return shapely.force_2d(geometry)


def _numbers_in(data: Any) -> int:
    return sum(map(_numbers_in, data)) if isinstance(data, list) else 1

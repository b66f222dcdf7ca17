"""What a layout leaves over: area by fabric, and the largest clear rectangles along the grain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import shapely
from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.fit.answer import LeftOver, Placement
from salvage.fit.material.amount import fabrics_of, usable_area
from salvage.fit.material.lay import Lay, lay_of, same_fabric
from salvage.fit.material.stretch import Stretch, largest_rectangle
from salvage.shapes import polygons_of

_RECTANGLES = 3
_NARROWEST = 30.0  # mm; a narrower left-over is no rectangle to plan with


def left_over(garments: Sequence[Garment], placements: Sequence[Placement]) -> Mapping[str, LeftOver]:
    """By fabric, as the garments spell it: the area left and its largest rectangles.

    The area is that of the record less what is cut, so that it agrees with what measure and holds say; the
    rectangles lie on the cloth as searched, whose edges are drawn plainer, inwards.
    """
    lay = lay_of(garments)
    spelled = fabrics_of(garments)
    area = {fabric: usable_area(garments, fabric) for fabric in spelled}
    pieces = {(n, piece.name): piece for n, garment in enumerate(garments) for piece in garment.pieces}
    for each in placements:
        area[same_fabric(pieces[each.garment, each.piece].fabric)] -= each.shape.area
    return {
        spelled[fabric]: LeftOver(max(0.0, area[fabric]), _largest(lay, fabric, placements))
        for fabric in sorted(lay.fabrics())
    }


def _largest(
    lay: Lay, fabric: str, placements: Sequence[Placement]
) -> tuple[tuple[float, float, int, str], ...]:
    rest: list[tuple[int, Polygon]] = []
    for index, (cloth, place) in enumerate(zip(lay.cloths, lay.where, strict=True)):
        if cloth.fabric != fabric:
            continue
        on_it = [
            each.shape
            for each in placements
            if (each.garment, each.piece, each.layer) == (place.garment, place.piece, place.layer)
        ]
        rest += [(index, part) for part in polygons_of(cloth.polygon.difference(shapely.union_all(on_it)))]
    return _rectangles(lay, rest)


def _rectangles(lay: Lay, rest: list[tuple[int, Polygon]]) -> tuple[tuple[float, float, int, str], ...]:
    """The largest rectangle, the largest beside it, and so on."""
    found: list[tuple[float, float, int, str]] = []
    best = [(_clear(lay, index, polygon), index, polygon) for index, polygon in rest]
    while len(found) < _RECTANGLES:
        candidates = [each for each in best if each[0] is not None]
        if not candidates:
            break
        chosen = max(candidates, key=lambda each: each[0].area if each[0] else 0.0)
        stretch, index, polygon = chosen
        assert stretch is not None
        where = lay.where[index]
        found.append((stretch.width, stretch.length, where.garment, where.piece))
        best.remove(chosen)
        for part in polygons_of(polygon.difference(stretch.polygon)):
            best.append((_clear(lay, index, part), index, part))
    return tuple(found)


def _clear(lay: Lay, index: int, polygon: Polygon) -> Stretch | None:
    if polygon.area < _NARROWEST**2:
        return None
    stretch = largest_rectangle(polygon, lay.cloths[index].grain)
    if stretch is None or min(stretch.width, stretch.length) < _NARROWEST:
        return None
    return stretch

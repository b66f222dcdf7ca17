"""What a layout leaves over: area by fabric, and the largest clear rectangles along the grain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from heapq import heappop, heappush
from itertools import count

import shapely
from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.fit.answer import LeftOver, Placement
from salvage.fit.material.amount import fabrics_of, usable_area
from salvage.fit.material.lay import Lay, lay_of, same_fabric
from salvage.fit.material.rectangles import ClearRectangle, largest_rectangle
from salvage.shapes import polygons_of

RECTANGLES = 3
_NARROWEST = 30.0  # mm; a narrower left-over is no rectangle to plan with

Place = tuple[int, str, int]  # index of the garment, name of the piece, layer from 1


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
    of_it = lay.only(index for index, cloth in enumerate(lay.cloths) if cloth.fabric == fabric)
    on_it: dict[Place, list[Polygon]] = {}
    for each in placements:
        on_it.setdefault((each.garment, each.piece, each.layer), []).append(each.shape)
    return tuple(
        (stretch.width, stretch.length, of_it.where[index].garment, of_it.where[index].piece)
        for stretch, index in rectangles_left(of_it, on_it)
    )


def rectangles_left(
    lay: Lay, laid: Mapping[Place, Sequence[Polygon]], most: int = RECTANGLES
) -> list[tuple[ClearRectangle, int]]:
    """The largest clear rectangle along the grain beside what is laid, the largest beside both, and so on.

    laid: what lies on each layer of a piece. Each rectangle comes with the index of its cloth in the lay.
    """
    # Cloth not looked at yet stands with its area, which no rectangle in it can be larger than; so most is never
    # looked at.
    heap: list[tuple[float, int, ClearRectangle | None, int, Polygon]] = []
    order = count()
    for index, (cloth, place) in enumerate(zip(lay.cloths, lay.where, strict=True)):
        on_it = laid.get((place.garment, place.piece, place.layer))
        rest = polygons_of(cloth.polygon.difference(shapely.union_all(on_it))) if on_it else [cloth.polygon]
        for part in rest:
            heappush(heap, (-part.area, next(order), None, index, part))
    found: list[tuple[ClearRectangle, int]] = []
    while heap and len(found) < most:
        _, _, stretch, index, polygon = heappop(heap)
        if stretch is None:
            stretch = _clear(polygon, lay.cloths[index].grain)
            if stretch is not None:
                heappush(heap, (-stretch.area, next(order), stretch, index, polygon))
            continue
        found.append((stretch, index))
        for part in polygons_of(polygon.difference(stretch.polygon)):
            heappush(heap, (-part.area, next(order), None, index, part))
    return found


@lru_cache(maxsize=256)  # most of the cloth is the same from one layout to the next
def _clear(polygon: Polygon, grain: float) -> ClearRectangle | None:
    if polygon.area < _NARROWEST**2:
        return None
    stretch = largest_rectangle(polygon, grain)
    if stretch is None or min(stretch.width, stretch.length) < _NARROWEST:
        return None
    return stretch

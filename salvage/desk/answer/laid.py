"""What can be said of placements alone, as shapes on the pieces of garments, whoever laid them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import shapely
from shapely import affinity
from shapely.geometry import Polygon

from salvage.cloth.garment import Garment, Piece
from salvage.cloth.usable import usable
from salvage.errors import UsageError
from salvage.fit.answer import LeftOver, Placement
from salvage.fit.material.lay import Where, extent_of, plus_minus_of
from salvage.shapes import polygons_of

APART = 1e-6  # mm more than the gap, so that rounding never makes it less

Laid = tuple[Placement, ...]


def clearance(garments: Sequence[Garment], laid: Laid) -> float:
    """How far the usable cloth could shrink with just this layout on it, mm; 0 where it doesn't lie on it."""
    cloth: dict[tuple[int, str], list[Polygon]] = {}
    least = float("inf")
    for each in laid:
        key = each.garment, each.piece
        if key not in cloth:
            cloth[key] = polygons_of(usable(piece_named(garments[each.garment], each.piece)))
        inside = [
            float(shapely.distance(each.shape, one.boundary))
            for one in cloth[key]
            if one.intersects(each.shape) and one.buffer(APART).covers(each.shape)
        ]
        least = min(least, max(inside, default=0.0))
    return least if laid else 0.0


def plus_minus_on(garments: Sequence[Garment], laid: Laid) -> float:
    """The plus-minus of the cloth that a layout uses, seen over its own extent there, mm."""
    there: dict[tuple[int, str], list[Polygon]] = {}
    for each in laid:
        there.setdefault((each.garment, each.piece), []).append(each.shape)
    found = 0.0
    for (garment, name), shapes in there.items():
        piece = piece_named(garments[garment], name)
        where = Where(garment, name, 1, piece.plus_minus)
        found = max(found, plus_minus_of(where, extent_of(shapely.box(*shapely.total_bounds(shapes)))))
    return found


def area_left(garments: Sequence[Garment], laid: Laid) -> dict[str, LeftOver]:
    """What remains of each fabric, by its area alone."""
    there: Counter[str] = Counter()
    for garment in garments:
        for piece in garment.pieces:
            there[piece.fabric] += usable(piece).area * piece.layers
    for each in laid:
        there[piece_named(garments[each.garment], each.piece).fabric] -= each.shape.area
    return {fabric: LeftOver(max(0.0, float(area))) for fabric, area in there.items()}


def area_of(laid: Iterable[Placement]) -> float:
    return sum(each.shape.area for each in laid)


def has_all(laid: Laid, pins: Laid) -> bool:
    """Whether a layout has every pin where it is."""
    return all(any(each == pin for each in laid) for pin in pins)


def turn_of_grain(before: Piece, after: Piece) -> float:
    """How far the grain turns from one piece to the other; no more than a quarter turn unless a nap asks for it."""
    turn = after.grain - before.grain
    if not (before.one_way or after.one_way):
        turn = (turn + 90.0) % 180.0 - 90.0
    return turn


def piece_named(garment: Garment, name: str) -> Piece:
    found = next((each for each in garment.pieces if each.name == name), None)
    if found is None:
        raise UsageError(f"there is no piece called {name} any more.")
    return found


def turned(shape: Polygon, turn: float, about: tuple[float, float]) -> Polygon:
    """Turned counter-clockwise; exact at quarter turns."""
    if turn % 360.0 == 0.0:
        return shape
    if turn % 90.0 == 0.0:
        cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[int(turn // 90) % 4]
        x, y = about
        return affinity.affine_transform(
            shape, [cos, -sin, sin, cos, x - cos * x + sin * y, y - sin * x - cos * y]
        )
    return affinity.rotate(shape, turn, origin=about)

"""Closures and pockets: what is sewn on to the cloth and can't be cut through."""

from __future__ import annotations

from shapely.geometry import Polygon

from salvage.cloth.areas import find_areas, sides
from salvage.cloth.flat import Flat
from salvage.cloth.garment import Blocked, BlockedKind
from salvage.cloth.look import EVERY, Chances

_CLOSURE = (0.3, 0.55, 24.0)  # chance it stays above, chance it reaches, mm^2
_POCKET = (0.35, 0.6, 350.0)
_BUTTON = 26.0  # mm across at most
_ROUND = 0.6  # share of its enclosing box that a button fills (a circle: 0.785)
_SLIM = 4.0  # a closure this many times longer than wide is a zip or a band


def find_fittings(chances: Chances, flat: Flat, margin: dict[BlockedKind, float]) -> list[Blocked]:
    """Closures and pockets, as areas in mm."""
    found = []
    for shape, chance in find_areas(chances.closure, flat, EVERY, *_CLOSURE):
        found.append(
            Blocked(
                BlockedKind.CLOSURE,
                shape,
                margin[BlockedKind.CLOSURE],
                what=_closure_name(shape),
                confidence=chance,
            )
        )
    for shape, chance in find_areas(chances.pocket, flat, EVERY, *_POCKET):
        long, short = sides(shape)
        what = "slit pocket" if short < 40 and long > 2.2 * short else "patch pocket"
        found.append(
            Blocked(BlockedKind.POCKET, shape, margin[BlockedKind.POCKET], what=what, confidence=chance)
        )
    return found


def _closure_name(shape: Polygon) -> str:
    long, short = sides(shape)
    if long <= _BUTTON and shape.area > _ROUND * long * short:
        return "button or snap"
    return "zip or band" if long > _SLIM * short and long > 80 else "tab, loop or fly"

"""The cloth of all garments as the search sees it: single stretches, each knowing where it came from.

Everything here is the cloth or less than it. Proofs work on the cloth or more than it: see outer.py.

A *lay* is what can be cut from: every connected stretch of usable cloth of every layer of every piece.
Two layers that lie there are taken as two equal cloths, neither mirrored, as the record's `layers` says.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import shapely
from shapely.geometry import MultiPolygon, Polygon

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.cloth.usable import usable
from salvage.fit.question import Cloth
from salvage.shapes import polygons_of

SMALLEST = 1.0  # mm^2; nothing anyone sews is cut from less

# A photographed edge has a corner every pixel, far finer than it was measured, and each corner costs time.
# Edges are drawn plainer by this many mm, always inwards, where their plus-minus is several times as much.
PLAINER = 0.5
_PLAINER_SHARE = 0.25  # of the plus-minus, at most
_THINNED = 0.3  # mm, likewise, where cloth with many corners is taken in
_MANY_CORNERS = 100  # cloth with fewer, typed in or drawn by a person, stays as it is
_HAIR = 1e-5  # mm by which stretches are kept further apart than asked


@dataclass(frozen=True, slots=True)
class Where:
    """Where a cloth comes from: index of the garment, name of the piece, layer from 1."""

    garment: int
    piece: str
    layer: int
    plus_minus: PlusMinus


@dataclass(frozen=True, slots=True)
class Lay:
    """cloths and where each comes from, in the same order."""

    cloths: tuple[Cloth, ...]
    where: tuple[Where, ...]

    def area(self, fabric: str) -> float:
        """mm^2 of one fabric."""
        return sum(each.polygon.area for each in self.cloths if each.fabric == fabric)

    def fabrics(self) -> tuple[str, ...]:
        """Names of the fabrics there are, in order of appearance."""
        return tuple(dict.fromkeys(each.fabric for each in self.cloths))

    def only(self, keep: Iterable[int]) -> Lay:
        """The lay with only these of its cloths."""
        wanted = sorted(set(keep))
        return Lay(tuple(self.cloths[i] for i in wanted), tuple(self.where[i] for i in wanted))

    def of_garment(self, garment: int) -> Lay:
        """The lay of one garment."""
        return self.only(i for i, each in enumerate(self.where) if each.garment == garment)

    def reshaped(self, change: Callable[[int, Polygon], Iterable[Polygon]]) -> Lay:
        """Each cloth replaced by the polygons that change(index, polygon) makes of it."""
        cloths, where = [], []
        for index, (cloth, place) in enumerate(zip(self.cloths, self.where, strict=True)):
            for polygon in change(index, cloth.polygon):
                if polygon.area >= SMALLEST:
                    cloths.append(replace(cloth, polygon=polygon))
                    where.append(place)
        return Lay(tuple(cloths), tuple(where))

    def shrunk(self, by: float) -> Lay:
        """All cloth taken in by `by` mm from every edge and hole."""
        return self if by <= 0 else self.reshaped(lambda _, polygon: shrunk(polygon, by))

    def parted(self, gap: float) -> tuple[Lay, ...]:
        """The lay with stretches of one layer of a piece at least `gap` apart, in three ways.

        The panels on two stretches must keep the cutting gap, and each stretch is searched by itself: so
        one of the two, or both by half, is cut back where it faces the other. Empty if none are so near.
        """
        near = [pair for pair in self._neighbours() if self._distance(*pair) < gap]
        if not near:
            return ()
        area = [cloth.polygon.area for cloth in self.cloths]
        by_size = [sorted(pair, key=lambda index: area[index]) for pair in near]
        return tuple(self._cut_back(by_size, gap, share) for share in (1.0, 0.0, 0.5))

    def _neighbours(self) -> list[tuple[int, int]]:
        place = [(each.garment, each.piece, each.layer) for each in self.where]
        return [(i, j) for j in range(len(place)) for i in range(j) if place[i] == place[j]]

    def _distance(self, one: int, other: int) -> float:
        return float(self.cloths[one].polygon.distance(self.cloths[other].polygon))

    def _cut_back(self, pairs: Iterable[Sequence[int]], gap: float, share: float) -> Lay:
        """Of each pair the first gives way by this share of what is missing, the second by the rest."""
        now = [each.polygon for each in self.cloths]
        for one, other in pairs:
            apart = now[one].distance(now[other])
            if share > 0:
                now[one] = _kept_off(now[one], now[other], apart + share * (gap + _HAIR - apart))
            if share < 1:
                now[other] = _kept_off(now[other], now[one], gap + _HAIR)
        cloths = tuple(replace(c, polygon=p) for c, p in zip(self.cloths, now, strict=True) if not p.is_empty)
        where = tuple(w for w, p in zip(self.where, now, strict=True) if not p.is_empty)
        return Lay(cloths, where)


def same_fabric(name: str) -> str:
    """The name by which fabrics are compared: capitals and spaces around it don't matter."""
    return name.strip().casefold()


def same_name(name: str) -> str:
    """The name by which pieces are compared, as fabrics are."""
    return name.strip().casefold()


def _kept_off(polygon: Polygon, other: Polygon, by: float) -> Polygon:
    """What is left of the polygon, in one stretch, at least so far from the other one."""
    left = polygons_of(polygon.difference(other.buffer(by, join_style="mitre")))
    return left[0] if left else Polygon()


def lay_of(garments: Sequence[Garment], *, plainer: bool = True) -> Lay:
    """All usable cloth of these garments, never more of it. plainer: with fewer corners, for speed."""
    cloths, where = [], []
    for index, garment in enumerate(garments):
        for piece in garment.pieces:
            for layer in range(1, piece.layers + 1):
                whole = usable(piece)
                for polygon in _plainer(whole, piece.plus_minus) if plainer else polygons_of(whole):
                    if polygon.area >= SMALLEST:
                        cloths.append(cloth_of(piece, layer, polygon))
                        where.append(Where(index, piece.name, layer, piece.plus_minus))
    return Lay(tuple(cloths), tuple(where))


def _plainer_by(plus_minus: PlusMinus) -> float:
    return min(PLAINER, _PLAINER_SHARE * plus_minus.edge)


@lru_cache(maxsize=256)  # after an edit all but a few are as they were
def _plainer(shape: MultiPolygon, plus_minus: PlusMinus) -> tuple[Polygon, ...]:
    """The stretches with fewer corners, never larger: a line moves by no more than it was taken in before."""
    by = _plainer_by(plus_minus)
    if by <= 0 or shapely.get_num_coordinates(shape) < _MANY_CORNERS:
        return tuple(polygons_of(shape))
    taken = 1.001 * by / math.cos(math.pi / 8)  # a round corner is drawn with two chords
    return tuple(polygons_of(shape.buffer(-taken, quad_segs=2).simplify(by)))


def cloth_of(piece: Piece, layer: int, polygon: Polygon) -> Cloth:
    """A stretch of a layer of a piece, as the bare question has it."""
    name = piece.name if layer == 1 else f"{piece.name}, layer {layer}"
    fabric, known_as = same_fabric(piece.fabric), same_name(piece.name)
    return Cloth(name, polygon, fabric, piece.grain, piece.one_way, known_as)


def shrunk(polygon: Polygon, by: float) -> list[Polygon]:
    """The polygon taken in by `by` mm; never larger than the true set of points that far inside."""
    if shapely.get_num_coordinates(polygon) < _MANY_CORNERS:
        # Shapely draws a round corner inside the true circle, so taking in by a hair more keeps the promise.
        return polygons_of(polygon.buffer(-by / math.cos(math.pi / 32), quad_segs=8))
    # Every corner turned to a round one would make the search slow: fewer corners, a little further in.
    taken = (by + _THINNED) / math.cos(math.pi / 8)
    return polygons_of(polygon.buffer(-taken, quad_segs=2).simplify(_THINNED))


def plus_minus_of(place: Where, extent: float) -> float:
    """How far an edge of usable cloth may lie from where it was measured, mm, seen over `extent` mm.

    Two things can be wrong, independently: where the edge was seen (edge), and the scale. A layout that
    spans `extent` is out by scale_percent of it, half on each side. Both are half-widths of 95 %
    intervals, so they add as squares.
    """
    scale = extent / 2 * place.plus_minus.scale_percent / 100
    return math.hypot(place.plus_minus.edge, scale)


def extent_of(polygon: Polygon) -> float:
    """The longer side of the polygon's upright bounding box, mm."""
    left, bottom, right, top = polygon.bounds
    return max(right - left, top - bottom)

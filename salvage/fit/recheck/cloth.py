"""The cloth there is, from the garments alone: to see that a proof's cloths hold all of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Garment, Piece
from salvage.fit.claim import Proof
from salvage.fit.recheck.cells import polygons
from salvage.fit.recheck.doubt import COVERS, Doubt

_SEGMENTS = 32
_MARGIN_SEGMENTS = (
    16  # as few as a proof's own cloth is drawn with: with more, more of the margin would be taken
)
_TAKEN_IN = 0.98  # of what the cloth is taken in by: Shapely takes 1 % more or less


def same(name: str) -> str:
    """Names of fabrics and pieces as people mean them."""
    return name.strip().casefold()


def cloth_of(piece: Piece, *, grown: bool) -> list[Polygon]:
    """Stretches of one layer: the usable cloth, and with grown all within the plus-minus of it.

    A margin round what is blocked takes a disc; the polygon drawn in it leaves a little more cloth, by less
    than 0.2 % of the margin, so the cloth here is a little more than there is.
    """
    if piece.usable is not None:
        whole: BaseGeometry = piece.usable
    else:
        taken = [_taken(each.shape, each.margin) for each in piece.blocked]
        whole = piece.outline.difference(shapely.union_all(taken))
    found = polygons(whole)
    by = plus_minus(piece, found)
    if not grown or by <= 0:
        return found
    return polygons(_let_out(whole, by))


@lru_cache(maxsize=128)
def _let_out(whole: BaseGeometry, by: float) -> BaseGeometry:
    return whole.buffer(by, quad_segs=_SEGMENTS)


@lru_cache(maxsize=1024)  # after an edit all but a few are as they were
def _taken(shape: BaseGeometry, margin: float) -> BaseGeometry:
    """What the margin takes, or less: Shapely straightens small bends, so the result is looked at again."""
    for share in (1.0, 0.98):
        found = shape.buffer(share * margin, quad_segs=_MARGIN_SEGMENTS)
        rings = [ring for part in polygons(found) for ring in (part.exterior, *part.interiors)]
        if all(_is_within(ring.segmentize(max(0.1, margin / 4)), shape, margin) for ring in rings):
            return found
    return shape


def _is_within(line: BaseGeometry, shape: BaseGeometry, margin: float) -> bool:
    points = shapely.points(shapely.get_coordinates(line))
    return bool(shapely.distance(points, shape).max() <= margin + COVERS / 2)


def plus_minus(piece: Piece, stretches: Sequence[Polygon]) -> float:
    """mm that an edge may be off: where it was seen, and half of what the scale is off over the longer side."""
    if not stretches:
        return 0.0
    left, bottom, right, top = shapely.total_bounds(stretches)
    scale = max(right - left, top - bottom) / 2 * piece.plus_minus.scale_percent / 100
    return math.hypot(piece.plus_minus.edge, scale)


def holds_all_cloth(
    garments: Sequence[Garment], proof: Proof, fabrics: set[str], *, taken_in: float = 0.0
) -> None:
    """Raises Doubt unless the proof's cloths hold all cloth of these fabrics, each of the right kind.

    taken_in: mm by which the cloth that is meant is smaller at every edge.
    """
    cloths = list(zip(proof.question.cloths, proof.sites, strict=True))
    for number, garment in enumerate(garments):
        for piece in garment.pieces:
            if same(piece.fabric) not in fabrics:
                continue
            stretches = cloth_of(piece, grown=proof.grown)
            if taken_in > 0:
                whole = shapely.union_all(stretches)
                stretches = polygons(whole.buffer(-_TAKEN_IN * taken_in, quad_segs=_SEGMENTS))
            for layer in range(1, piece.layers + 1):
                mine = [
                    cloth
                    for cloth, site in cloths
                    if (site.garment, site.piece, site.layer) == (number, piece.name, layer)
                ]
                for cloth in mine:
                    if (cloth.fabric, cloth.grain, cloth.one_way, cloth.piece) != (
                        same(piece.fabric),
                        piece.grain,
                        piece.one_way,
                        same(piece.name),
                    ):
                        raise Doubt(f"the proof's cloth from {piece.name} is not of its kind")
                for stretch in stretches:
                    if not any(_holds(cloth.polygon, stretch) for cloth in mine):
                        raise Doubt(f"the proof left out some cloth of {piece.name}")


def _holds(cloth: Polygon, stretch: Polygon) -> bool:
    return bool(cloth.covers(stretch) or cloth.buffer(COVERS, join_style="mitre").covers(stretch))

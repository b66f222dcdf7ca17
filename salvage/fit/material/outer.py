"""The cloth that proofs are about: all that there may be, and never less.

The search works on the inner side (lay.py): what lies there lies on the cloth. A proof needs the other
side: what has no room here has none on the cloth. So nothing is pulled in, thinned or dropped; a margin
round what is blocked is drawn inside its true circle; and cloth let out by its plus-minus is one again
where two stretches come to touch.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Garment, Piece
from salvage.fit.material.lay import Lay, Where, cloth_of, extent_of, plus_minus_of
from salvage.shapes import polygons_of

_QUARTER_SEGMENTS = 16
_ROUNDING = 1e-7  # mm
_CAUTIOUS = 0.98  # of a margin, where Shapely's outline of it leaves it (it simplifies by up to 1 %)
_LEAST_APART, _APART = (
    0.1,
    4,
)  # mm, and parts of a margin, that the points of its edge lie apart where it is looked at
_TAKEN_IN = 0.96  # of what cloth is taken in by: less than the second look takes in
_PLAINER = 0.5  # mm; cloth let out by its plus-minus is drawn with fewer corners, a little further out
_PLAINER_SHARE = 0.25  # of the plus-minus, at most


def outer_lay(garments: Sequence[Garment], *, grown: bool) -> Lay:
    """All cloth of these garments and perhaps a little more. grown: larger by its plus-minus."""
    cloths, where = [], []
    for index, garment in enumerate(garments):
        for piece in garment.pieces:
            stretches = _grown(piece) if grown else polygons_of(outer(piece))
            for layer in range(1, piece.layers + 1):
                cloths += [cloth_of(piece, layer, polygon) for polygon in stretches]
                where += [Where(index, piece.name, layer, piece.plus_minus) for _ in stretches]
    return Lay(tuple(cloths), tuple(where))


def outer(piece: Piece) -> BaseGeometry:
    """Usable cloth of one layer of the piece, as recorded; if it was left out, at least all of it."""
    if piece.usable is not None:
        return piece.usable
    return piece.outline.difference(
        shapely.union_all([_surely_taken(each.shape, each.margin) for each in piece.blocked])
    )


@lru_cache(maxsize=1024)  # after an edit all but a few are as they were
def _surely_taken(shape: BaseGeometry, margin: float) -> BaseGeometry:
    """Within what the margin round the shape takes."""
    if margin <= 0:
        return shape
    taken = shape.buffer(margin, quad_segs=_QUARTER_SEGMENTS)
    if taken.is_empty:
        return shape
    points = shapely.points(shapely.get_coordinates(taken.segmentize(max(_LEAST_APART, margin / _APART))))
    if shapely.distance(points, shape).max() <= margin + _ROUNDING:
        return taken
    return shape.buffer(_CAUTIOUS * margin, quad_segs=_QUARTER_SEGMENTS)


def _grown(piece: Piece) -> list[Polygon]:
    """The cloth let out by its plus-minus; corners stay corners, as the edges that make them move out."""
    whole = outer(piece)
    by = plus_minus_by(piece, whole)
    return polygons_of(whole) if by <= 0 else polygons_of(_let_out(whole, by))


@lru_cache(maxsize=128)
def _let_out(whole: BaseGeometry, by: float) -> BaseGeometry:
    exact = whole.buffer(by, join_style="mitre")
    more = 2.2 * min(_PLAINER, _PLAINER_SHARE * by)
    plain = whole.buffer(by + more, join_style="mitre").simplify(more / 2)
    return plain if plain.covers(exact) else exact


def plus_minus_by(piece: Piece, cloth: BaseGeometry) -> float:
    """The plus-minus of a piece's edges, seen over all of it, mm."""
    if cloth.is_empty:
        return 0.0
    hull = MultiPolygon(polygons_of(cloth)).convex_hull
    return plus_minus_of(Where(0, piece.name, 1, piece.plus_minus), extent_of(hull))


def taken_in(lay: Lay, by: float) -> Lay:
    """All cloth of the lay taken in by `by` mm from every edge and hole, perhaps a little less."""
    # Round corners are drawn within the true circle, and the edge is simplified by up to 1 % of it.
    return lay.reshaped(lambda _, polygon: polygons_of(polygon.buffer(-_TAKEN_IN * by)))

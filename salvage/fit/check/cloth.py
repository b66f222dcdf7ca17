"""What of a piece is usable, worked out from its outline and what blocks it."""

from __future__ import annotations

from functools import lru_cache

import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Piece
from salvage.fit.check.placed import TOL


def usable(piece: Piece) -> MultiPolygon:
    """The outline without what is blocked and its margins; no more of it than the record calls usable."""
    unblocked = _unblocked(piece.outline, tuple((each.shape, each.margin) for each in piece.blocked))
    cloth = unblocked if piece.usable is None else unblocked.intersection(piece.usable)
    # Where the two only touch, a line or a point is part of what they share; nothing lies on it.
    return MultiPolygon([part for part in shapely.get_parts(cloth) if isinstance(part, Polygon)])


@lru_cache(maxsize=128)  # the same cloth is asked about for one layout after the other
def _unblocked(outline: Polygon, blocked: tuple[tuple[BaseGeometry, float], ...]) -> BaseGeometry:
    taken = [shape.buffer(margin, quad_segs=64) for shape, margin in blocked]
    return outline.difference(shapely.union_all(taken))


def within(cloth: BaseGeometry, shape: Polygon) -> bool:
    """Whether the shape lies on the cloth, but for TOL along its edge."""
    if cloth.covers(shape):
        return True
    inner = shape.buffer(-TOL, join_style="mitre", mitre_limit=10.0)
    return not inner.is_empty and cloth.covers(inner)

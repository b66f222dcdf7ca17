"""What a placement says: on which piece, and which shape it is when turned back to how the project draws it."""

from __future__ import annotations

from collections.abc import Sequence

from shapely import affinity
from shapely.geometry import Polygon

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Placement

TOL = 1e-6  # mm: how far cut lines may cross an edge or each other
SIZE_TOL = 1e-5  # mm: how far the corners of a cut shape may be from what the project asks
JOIN_TOL = 0.02  # mm: the same for parts and lengths, which are rounded when they are planned


def label(placement: Placement) -> str:
    """What a fault calls it: panel, copy, and which part of that."""
    part = "" if placement.part is None else f", part {placement.part}"
    return f"{placement.panel} {placement.copy}{part}"


def piece_of(garments: Sequence[Garment], placement: Placement) -> Piece | None:
    """The piece it lies on; None where its garment has no such piece, or several of that name."""
    if not 0 <= placement.garment < len(garments):
        return None
    named = [each for each in garments[placement.garment].pieces if each.name == placement.piece]
    return named[0] if len(named) == 1 else None


def as_drawn(placement: Placement) -> Polygon:
    """The placed shape turned and mirrored back to how the project draws it (but not moved back)."""
    back = affinity.rotate(placement.shape, -placement.angle, origin=(0, 0))
    return affinity.scale(back, xfact=-1.0, origin=(0, 0)) if placement.flipped else back


def same_shape(shape: Polygon, wanted: Polygon, tolerance: float) -> bool:
    """True if shape is wanted, moved, to within the tolerance."""
    moved = _on_corner(shape, wanted.bounds[0], wanted.bounds[1])
    if moved.hausdorff_distance(wanted) > tolerance:
        return False
    # Shapely measures that distance at corners only, so the same corners in another order pass; not here.
    return bool(moved.symmetric_difference(wanted).area <= tolerance * (moved.length + wanted.length))


def _on_corner(shape: Polygon, left: float, bottom: float) -> Polygon:
    return affinity.translate(shape, left - shape.bounds[0], bottom - shape.bounds[1])


def copies_fault(name: str, wanted: int, placed: list[Placement]) -> list[str]:
    """What is wrong with how many copies of one panel or strip there are; they are numbered from 1."""
    copies = {each.copy for each in placed}
    if copies == set(range(1, wanted + 1)):
        return []
    return [f"{name}: copies {sorted(copies)} are there, 1 to {wanted} are asked for"]

"""Whether what was measured now is what stood in the record before: photographs, and single seams and spots."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, FoundBy, Garment, Piece, PiecePhoto
from salvage.cloth.record.edits import share_inside
from salvage.errors import SalvageError
from salvage.trade.margins import BlockedKind

_NEARLY_ALL = 0.95  # of two outlines in pixels: the same picture, written by another program
_MOSTLY = 0.7  # of a line or area near another one: it is that one
_HARDLY_LONGER = 0.4
_NEAR_LINE, _NEAR_AREA = 10.0, 7.0  # mm that the same seam, or spot, found again may lie beside where it was
_WELL_COVERED, _AS_GOOD_AS = (
    0.9,
    4.0,
)  # share of a find that a drawn area blocks anyway; mm on each side of it

Move = Callable[[BaseGeometry], BaseGeometry]


def same_photograph(photo: PiecePhoto, old: Garment, new: Garment, *, drawn_on: bool) -> PiecePhoto | None:
    """The photograph of the new measurement that is an old one, wherever it lies now; None if none is.

    Raises SalvageError where another picture has taken the place of one that a person drew on, for what
    was drawn would land anywhere.
    """
    shots: dict[str, PiecePhoto] = {}
    for each in new.pieces:
        if each.photo is not None:
            shots.setdefault(each.photo.file, each.photo)
    for shot in shots.values():
        if photo.content and photo.content == shot.content:
            return shot
    for shot in shots.values():
        known = bool(photo.content and shot.content)
        named = photo.file == shot.file
        if named and not (known and drawn_on):
            return shot
        if (named or not known) and _look_alike(photo, shot, old, new):
            return shot
        if named:
            raise SalvageError(
                f"{shot.file}: is another picture than the one of that name which {old.name!r} was measured from. "
                "Measure it into another record with --out, or give the picture another name to add it to this one."
            )
    return None


def _look_alike(before: PiecePhoto, after: PiecePhoto, old: Garment, new: Garment) -> bool:
    """Whether two pictures show the same cloth at the same pixels: one picture, saved anew."""
    if before.camera.get("size_px") != after.camera.get("size_px"):
        return False
    if not before.camera or not after.camera:
        return False
    try:
        return _share_pixels(before, after, old, new) >= _NEARLY_ALL
    except SalvageError:  # a camera that nobody can read says nothing of likeness
        return False


def _share_pixels(before: PiecePhoto, after: PiecePhoto, old: Garment, new: Garment) -> float:
    """0 to 1: how much of the cloth in either picture is in both, at the same pixels."""
    first = shapely.union_all(
        [_in_pixels(p.found or p.outline, before) for p in old.pieces if p.photo == before]
    )
    second = shapely.union_all([_in_pixels(p.outline, after) for p in new.pieces if p.photo == after])
    both = first.union(second).area
    return float(first.intersection(second).area / both) if both > 0 else 0.0


def _in_pixels(shape: BaseGeometry, photo: PiecePhoto) -> BaseGeometry:
    plane = _plane(photo)
    return shapely.transform(shape, lambda points: plane.to_px(np.asarray(points))).buffer(0)


def move_between(before: PiecePhoto, after: PiecePhoto) -> Move:
    """How shapes of the old record's plane get onto the new one's: through the pixels, which stay."""
    if not before.mm_to_pixel or not after.mm_to_pixel:
        return lambda shape: shape
    if before.camera == after.camera and before.mm_to_pixel == after.mm_to_pixel:
        return lambda shape: shape
    old, new = _plane(before), _plane(after)
    return lambda shape: shapely.transform(shape, lambda points: new.to_mm(old.to_px(np.asarray(points))))


def _plane(photo: PiecePhoto):  # type: ignore[no-untyped-def]
    from salvage.scale.plane import Plane

    try:
        return Plane.from_record(dict(photo.camera), dict(photo.mm_to_pixel))
    except ValueError as error:
        raise SalvageError(
            f"{photo.file}: the record's camera for it is spoilt ({error}), so what was drawn can't be moved to the "
            "new measurement. Measure into another record with --out."
        ) from error


@dataclass(frozen=True, slots=True)
class _Known:
    shape: BaseGeometry
    kind: BlockedKind | None
    gone: bool


def known_away(found: Blocked, old: Piece) -> bool:
    """Whether a find is one that a person took out, or is blocked by what a person drew anyway.

    It counts as the one that it resembles most: where two seams run side by side and one was taken out,
    the other comes back.
    """
    near = _NEAR_AREA if found.shape.area > 0 else _NEAR_LINE
    known = [_Known(each.shape, each.kind, False) for each in old.blocked]
    known += [_Known(each.shape, each.kind, True) for each in old.cleared if not each.patch]
    alike = [
        each
        for each in known
        if each.kind in (None, found.kind)
        and found.shape.dwithin(each.shape, near)
        and _is_that(found.shape, each.shape, near)
    ]
    if any(each.gone for each in alike):
        best = max(alike, key=lambda each: (_likeness(found.shape, each.shape, near), not each.gone))
        if best.gone:
            return True
    drawn = [each for each in old.blocked if each.found_by is FoundBy.PERSON and each.kind is found.kind]
    return any(
        share_inside(found.shape, each.shape.buffer(each.margin + _AS_GOOD_AS - found.margin))
        >= _WELL_COVERED
        for each in drawn
        if each.margin + _AS_GOOD_AS > found.margin and each.shape.intersects(found.shape.buffer(near))
    )


def _is_that(found: BaseGeometry, before: BaseGeometry, near: float) -> bool:
    covered = share_inside(found, before.buffer(near))
    if covered >= _MOSTLY:
        return True
    return covered >= _HARDLY_LONGER and share_inside(before, found.buffer(near)) >= _MOSTLY


def _likeness(found: BaseGeometry, before: BaseGeometry, near: float) -> float:
    a, b = found.buffer(near / 2), before.buffer(near / 2)
    return float(a.intersection(b).area / a.union(b).area)

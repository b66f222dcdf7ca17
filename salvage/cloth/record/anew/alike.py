"""Whether what was measured now is what stood in the record before: photographs, and single seams and spots."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, FoundBy, Garment, Piece, PiecePhoto
from salvage.cloth.record.edits import share_inside
from salvage.errors import SalvageError
from salvage.trade.margins import BlockedKind

if TYPE_CHECKING:  # loaded where a record is measured again only
    from salvage.scale.plane import Plane

_NEARLY_ALL = 0.95  # of the cloth in two pictures: the same picture, written by another program
_THAT_PIECE, _MOST_PIECES, _A_GOOD_MANY = 0.8, 0.8, 4
_SAME_SHAPE = 0.01  # two sides' ratio may differ so much by rounding to whole pixels
_MOSTLY = 0.7  # of a line or area near another one: it is that one
_HARDLY_LONGER = 0.4
_NEAR_LINE, _NEAR_AREA = 10.0, 7.0  # mm that the same seam, or spot, found again may lie beside where it was
_ALL_THE_SAME = 0.85  # of two resemblances: they are too near each other to tell which it is
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
        if (named or not known) and _look_alike(photo, shot, old, new, in_mm=not known):
            return shot
        if named:
            raise SalvageError(
                f"{shot.file}: is another picture than the one of that name which {old.name!r} was measured from. "
                "Measure it into another record with --out, or give the picture another name to add it to this one."
            )
    return None


def _look_alike(before: PiecePhoto, after: PiecePhoto, old: Garment, new: Garment, *, in_mm: bool) -> bool:
    """Whether two pictures show the same cloth at the same place of the picture: one picture, saved anew.

    All of the cloth is where it was; or, where some of it was drawn anew or taken out, most of a good many
    pieces are. in_mm: on the plane instead, where the cameras can't tell.
    """
    if not before.mm_to_pixel or not after.mm_to_pixel:
        return False
    first = _of(before, old)
    second = _of(after, new)
    try:
        move = move_between(before, after)
    except SalvageError:
        if not in_mm:
            return False
        move = _unmoved
    here = [move(each).buffer(0) for each in first]
    if _both(shapely.union_all(here), shapely.union_all(second)) >= _NEARLY_ALL:
        return True
    where_it_was = sum(any(_both(a, b) >= _THAT_PIECE for b in second) for a in here)
    return len(here) >= _A_GOOD_MANY and where_it_was >= _MOST_PIECES * len(here)


def _of(photo: PiecePhoto, garment: Garment) -> list[BaseGeometry]:
    return [
        (each.found or each.outline).buffer(0)
        for each in garment.pieces
        if each.photo is not None and (each.photo.file, each.photo.content) == (photo.file, photo.content)
    ]


def _both(a: BaseGeometry, b: BaseGeometry) -> float:
    """0 to 1: how much of what is in either is in both."""
    either = a.union(b).area
    return float(a.intersection(b).area / either) if either > 0 else 0.0


def readable(photo: PiecePhoto) -> bool:
    """Whether the record's camera for a photograph can be read."""
    try:
        _plane(photo)
    except SalvageError:
        return False
    return True


def move_between(before: PiecePhoto, after: PiecePhoto) -> Move:
    """How shapes of the old record's plane get onto the new one's: through the picture, which stays.

    A picture that was saved larger or smaller is the same picture, its pixels that much further apart.
    """
    if not before.mm_to_pixel or not after.mm_to_pixel:
        return _unmoved
    if before.camera == after.camera and before.mm_to_pixel == after.mm_to_pixel:
        return _unmoved
    old, new = _plane(before), _plane(after)
    scale = new.size_px[0] / old.size_px[0]
    if abs(new.size_px[1] / old.size_px[1] / scale - 1.0) > _SAME_SHAPE:
        scale = 1.0

    def move(points: NDArray[np.float64]) -> NDArray[np.float64]:
        # The middle of the first pixel is (0, 0), its corner lies half a pixel before.
        return new.to_mm((old.to_px(np.asarray(points)) + 0.5) * scale - 0.5)

    return lambda shape: shapely.transform(shape, move)


def _unmoved(shape: BaseGeometry) -> BaseGeometry:
    return shape


def _plane(photo: PiecePhoto) -> Plane:
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
    the other comes back. Where it can't be told which of them it is, it blocks.
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
    gone, there = (
        max((_likeness(found.shape, each.shape, near) for each in alike if each.gone is way), default=0.0)
        for way in (True, False)
    )
    if gone * _ALL_THE_SAME > there:
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
    return _both(found.buffer(near / 2), before.buffer(near / 2))

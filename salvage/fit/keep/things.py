"""What of the garments a panel may be cut round, and the cloth that it may then lie on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, BlockedKind, FoundBy, Garment, Piece
from salvage.cloth.savings import LEAST_SURE
from salvage.cloth.usable import grown, usable
from salvage.fit.material.lay import same_fabric, same_name
from salvage.project.project import Panel
from salvage.shapes import polygons_of

_HAIR = 0.4  # mm between the margin of a thing and usable cloth, which was rounded; the checker allows 0.5
_ROUNDING = 0.01  # mm
_OWN = 0.95  # of something that lies on the thing, such as the button of a pocket
_OWN_WITHIN = 2.0  # mm beside it
_WHOLE = 0.05  # of a thing's area may be told of other pieces; more, and it isn't whole on this one
_WORDS = {"zip": BlockedKind.CLOSURE, "button": BlockedKind.CLOSURE, "buckle": BlockedKind.CLOSURE}


@dataclass(frozen=True, slots=True)
class Thing:
    """shape: of the thing, mm on its piece's plane. ground: usable cloth and the thing, the stretch that holds it."""

    garment: int
    piece: Piece
    blocked: Blocked
    shape: BaseGeometry
    ground: Polygon

    @property
    def name(self) -> str:
        """`patch pocket`, or what kind it is."""
        return self.blocked.what or str(self.blocked.kind)


def things_for(garments: Sequence[Garment], panel: Panel) -> tuple[Thing, ...]:
    """All that a panel may keep by the word it says, on pieces that it may be cut from; the surest first."""
    found = []
    for index, garment in enumerate(garments):
        for piece in garment.pieces:
            if same_fabric(piece.fabric) == same_fabric(panel.fabric) and _may_come_from(panel, piece):
                found += list(_on(index, garment, piece, panel.keeps, whole=panel.around is not None))
    return tuple(sorted(found, key=lambda each: (-each.blocked.confidence, -each.shape.area)))


def _may_come_from(panel: Panel, piece: Piece) -> bool:
    # numbered pieces are meant by the name without number: `require.with_pieces_named` has put them in
    return not panel.pieces or same_name(piece.name) in {same_name(each) for each in panel.pieces}


def _on(index: int, garment: Garment, piece: Piece, what: str, *, whole: bool) -> Iterator[Thing]:
    """whole: it must lie whole on one stretch; of a hem any stretch will do."""
    there = usable(piece)
    for blocked in piece.blocked:
        if not is_called(blocked, what):
            continue
        if whole and not (_is_there(blocked, what) and _is_whole(garment, piece, blocked)):
            continue
        near = blocked.shape.buffer(_OWN_WITHIN)
        own = [each for each in piece.blocked if each is blocked or _lies_on(each.shape, near)]
        others = [grown(each.shape, each.margin) for each in piece.blocked if not any(each is o for o in own)]
        zone = shapely.union_all([grown(each.shape, each.margin + _HAIR) for each in own])
        freed = zone.intersection(piece.outline).difference(shapely.union_all(others))
        for part in polygons_of(there.union(freed)):
            holds = part.buffer(_ROUNDING).covers(blocked.shape) if whole else part.intersects(blocked.shape)
            if holds:
                yield Thing(index, piece, blocked, blocked.shape, part)


def is_called(blocked: Blocked, what: str) -> bool:
    """Whether a person may call it so: by its kind, a word of its name, or its number."""
    word = same_name(what)
    if word.isdigit():
        return blocked.number == int(word)
    named = same_name(blocked.what)
    return word == str(blocked.kind) or (word in named) or (not named and _WORDS.get(word) is blocked.kind)


def _is_there(blocked: Blocked, what: str) -> bool:
    """Whether there is more for it than against: a bag must not hang on a pocket that nobody saw. By its number it is meant."""
    return what.isdigit() or blocked.found_by is FoundBy.PERSON or blocked.confidence >= LEAST_SURE


def _is_whole(garment: Garment, piece: Piece, blocked: Blocked) -> bool:
    """Whether next to nothing of it lies on other pieces."""
    if not blocked.id:
        return True
    elsewhere = sum(
        each.shape.area
        for other in garment.pieces
        if other is not piece
        for each in other.blocked
        if each.id == blocked.id
    )
    return bool(elsewhere <= _WHOLE * blocked.shape.area)


def _lies_on(shape: BaseGeometry, near: BaseGeometry) -> bool:
    size = shape.area if shape.area > 0 else shape.length
    inside = shape.intersection(near)
    return bool((inside.area if shape.area > 0 else inside.length) >= _OWN * size)

"""What of a garment can be saved beside its cloth: zips with their length, buttons, buckles, pockets, cuffs, hems.

From the record alone, by kind and by what things were called; nothing is looked for anew.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import (
    DOUBTFUL,
    LIKE,
    ONE_PLACE,
    Blocked,
    BlockedKind,
    FoundBy,
    Garment,
    Piece,
)
from salvage.shapes import places_of

LEAST_SURE = 0.5  # confidence from which a find is worth naming
LONG_FROM = 80.0  # mm; what is shorter is known by its name alone
_LEAST_HEM = 100.0  # mm; nobody keeps a shorter one


class SavingKind(StrEnum):
    ZIP = "zip"
    BUCKLE = "buckle"
    BUTTON = "button"
    CLOSURE = "closure"  # a band, a cord, a tab
    POCKET = "pocket"
    CUFF = "cuff"
    HEM = "hem"


# By a word of its name; the first that fits.
_WORDS = (
    (SavingKind.ZIP, ("zip",)),
    (SavingKind.BUCKLE, ("buckle", "clasp", "hook")),
    (SavingKind.BUTTON, ("button", "snap", "toggle", "press stud")),
)
_OF_A_LENGTH = ("zip", "closure", "band", "cord", "belt", "elastic")  # what a sewer asks of them first


@dataclass(frozen=True, slots=True)
class Saving:
    """One thing that can be unpicked, or cut round, and kept.

    name: as it was found or named. piece: that it lies on, or that it is. length: mm, of what has one. size: width
    across and length along the grain of its piece, mm, of a pocket or a cuff. sure: a person said so, or nobody need be asked.
    shapes: where it lies, on the planes of its pieces.
    """

    kind: SavingKind
    name: str
    piece: str
    length: float | None = None
    size: tuple[float, float] | None = None
    sure: bool = True
    shapes: tuple[BaseGeometry, ...] = ()


def savings(garment: Garment) -> tuple[Saving, ...]:
    """Each thing that can be saved, kind by kind, long ones first.

    What a worn place runs through is left out, and what most likely isn't there. Parts of one thing (they share an id)
    count once.
    """
    order = list(SavingKind)
    found = [*_closures_and_pockets(garment), *_cuffs(garment), *_hems(garment)]
    return tuple(sorted(found, key=lambda each: (order.index(each.kind), -(each.length or 0.0), each.name)))


def _closures_and_pockets(garment: Garment) -> Iterator[Saving]:
    kinds = (BlockedKind.CLOSURE, BlockedKind.POCKET)
    for name, parts in _things(garment, kinds).items():
        first_piece, first = parts[0]
        whole = shapely.union_all([each.shape for _, each in parts])
        shapes = tuple(each.shape for _, each in parts)
        sure = all(_is_sure(each) for _, each in parts)
        if first.kind is BlockedKind.POCKET:
            size = size_along(first_piece, whole)
            yield Saving(SavingKind.POCKET, name[1], first_piece.name, None, size, sure, shapes)
            continue
        long = extent(whole)
        measured = any(word in name[1] for word in _OF_A_LENGTH) and long >= LONG_FROM
        kind = _kind_of(name[1])
        yield Saving(kind, name[1], first_piece.name, long if measured else None, None, sure, shapes)


def _cuffs(garment: Garment) -> Iterator[Saving]:
    for piece in garment.pieces:
        if "cuff" not in piece.name.casefold().split() or piece.confidence < LEAST_SURE:
            continue
        if piece.outline.intersects(_worn(piece)):
            continue
        size = size_along(piece, piece.outline)
        yield Saving(SavingKind.CUFF, "cuff", piece.name, None, size, True, (piece.outline,))


def _hems(garment: Garment) -> Iterator[Saving]:
    """Hems that were seen or drawn; one that such a garment must have may be no more than a raw edge."""
    things = _things(garment, (BlockedKind.HEM,)).items()
    for name, parts in ((name, near) for (_, name), together in things for near in _places(together)):
        long = sum(extent(each.shape) for _, each in parts)
        unseen = any(each.found_by is FoundBy.TRADE or each.what.endswith(LIKE) for _, each in parts)
        if long < _LEAST_HEM or unseen:
            continue
        shapes = tuple(each.shape for _, each in parts)
        sure = all(_is_sure(each) for _, each in parts)
        yield Saving(SavingKind.HEM, name, parts[0][0].name, long, None, sure, shapes)


def _places(parts: list[tuple[Piece, Blocked]]) -> Iterator[list[tuple[Piece, Blocked]]]:
    """Parts of one thing by where they lie: the hems of both sleeves share an id."""
    for place in places_of([each.shape for _, each in parts], ONE_PLACE):
        yield [(piece, each) for piece, each in parts if each.shape.intersects(place)]


def _things(
    garment: Garment, kinds: Sequence[BlockedKind]
) -> dict[tuple[str, str], list[tuple[Piece, Blocked]]]:
    """By id and name, the sound parts of each thing of these kinds, with the pieces that they lie on."""
    groups: dict[tuple[str, str], list[tuple[Piece, Blocked]]] = {}
    for number, piece in enumerate(garment.pieces):
        worn = _worn(piece)
        for order, each in enumerate(piece.blocked):
            if each.kind not in kinds or each.confidence < LEAST_SURE or each.shape.intersects(worn):
                continue
            key = (each.id or f"{number}.{order}", _name(each))
            groups.setdefault(key, []).append((piece, each))
    return groups


def _worn(piece: Piece) -> BaseGeometry:
    return shapely.union_all([each.shape for each in piece.blocked if each.kind is BlockedKind.WORN])


def _is_sure(blocked: Blocked) -> bool:
    return blocked.found_by is FoundBy.PERSON or blocked.confidence >= DOUBTFUL


def _kind_of(name: str) -> SavingKind:
    name = name.casefold()
    return next((kind for kind, words in _WORDS if any(word in name for word in words)), SavingKind.CLOSURE)


def _name(blocked: Blocked) -> str:
    return blocked.what.strip().removesuffix(LIKE) or str(blocked.kind)


def extent(shape: BaseGeometry) -> float:
    """The longer side of the smallest rectangle round a shape, mm; of a line its length, where it bends."""
    if shape.area <= 0:
        return float(shape.length)
    ring = shapely.get_coordinates(shape.minimum_rotated_rectangle)
    return max(math.dist(ring[0], ring[1]), math.dist(ring[1], ring[2])) if len(ring) > 2 else 0.0


def size_along(piece: Piece, shape: BaseGeometry) -> tuple[float, float]:
    """Width across and length along the grain of a piece, of the box round a shape on it, mm."""
    left, bottom, right, top = affinity.rotate(shape, 90.0 - piece.grain, origin=(0, 0)).bounds
    return right - left, top - bottom

"""The numbers by which a person knows the pieces and the blocked areas of a garment.

A number stays with its thing for as long as that is there, and is given to nothing else afterwards: not while
a person edits, and not when the photograph is measured again and the thing is found a little elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, Garment, Piece

_NEAR = 5.0  # mm that a thing found again may lie beside where it was
_ALIKE = 0.2  # of both together, let out by that, that they share at least
_SAME_PIECE = 0.3  # likewise of two outlines

Key = tuple[str, ...]


def numbered(garment: Garment) -> Garment:
    """The garment with a number for everything: what has one keeps it, and what shares another's gets its own."""
    last = max(garment.numbers, *_numbers(garment.pieces), *_numbers(garment.removed), 0)
    taken: set[int] = set()
    of_piece: list[int] = []
    for piece in garment.pieces:
        number = piece.number
        if not number or number in taken:
            last = number = last + 1
        taken.add(number)
        of_piece.append(number)
    of_thing: dict[Key, int] = {}
    for piece in garment.pieces:
        for each in piece.blocked:
            key = key_of(piece, each)
            if each.number and key not in of_thing and each.number not in taken:
                of_thing[key] = each.number
                taken.add(each.number)
    for piece in garment.pieces:
        for each in piece.blocked:
            key = key_of(piece, each)
            if key not in of_thing:
                last = of_thing[key] = last + 1
    pieces = tuple(
        _with_numbers(piece, number, [of_thing[key_of(piece, each)] for each in piece.blocked])
        for piece, number in zip(garment.pieces, of_piece, strict=True)
    )
    return replace(garment, pieces=pieces, numbers=last)


def carried(old: Sequence[Piece], garment: Garment, last: int) -> Garment:
    """A new measurement's garment with the numbers that its things had in the old one.

    old: its pieces, on the plane of the new measurement; last: the highest number they were given.
    """
    taken = {number for number in _numbers(garment.pieces) if number}
    before = [piece for piece in old if piece.number and piece.number not in taken]
    without = [index for index, piece in enumerate(garment.pieces) if not piece.number]
    of_piece = _matched(
        [_Thing(garment.pieces[i].outline, (_photo(garment.pieces[i]),), i) for i in without],
        [_Thing(piece.outline, (_photo(piece),), piece.number) for piece in before],
        grown=0.0,
        least=_SAME_PIECE,
    )
    new = _things(garment.pieces, lambda each: not each.number)
    known = _things(old, lambda each: bool(each.number) and each.number not in taken)
    keys = list(new)
    of_thing = _matched(
        [_Thing(shapely.union_all(new[key]), key[:2], n) for n, key in enumerate(keys)],
        [_Thing(shapely.union_all(shapes), key[:2], int(key[-1])) for key, shapes in known.items()],
        grown=_NEAR,
        least=_ALIKE,
    )
    numbers = {keys[n]: number for n, number in of_thing.items()}
    pieces = tuple(
        _with_numbers(
            piece,
            piece.number or of_piece.get(index, 0),
            [each.number or numbers.get((*_place(piece, each), "0"), 0) for each in piece.blocked],
        )
        for index, piece in enumerate(garment.pieces)
    )
    return replace(garment, pieces=pieces, numbers=max(last, garment.numbers))


def key_of(piece: Piece, blocked: Blocked) -> Key:
    """What two blocked areas have in common that are one thing, seen on two pieces or in two parts."""
    if blocked.id:
        return (_photo(piece), "", blocked.id)
    return (_photo(piece), str(blocked.kind), blocked.shape.wkb.hex())


# --- small help ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Thing:
    """shape: all of it. like: what must be the same of two that are one. which: index, or number."""

    shape: BaseGeometry
    like: Key
    which: int


def _matched(new: Sequence[_Thing], old: Sequence[_Thing], *, grown: float, least: float) -> dict[int, int]:
    """For each new thing the number of the old one that it is, as far as there is one: the most alike first."""
    pairs = []
    before = [(each, each.shape.buffer(grown)) for each in old]
    for one in new:
        around = one.shape.buffer(grown)
        for other, there in before:
            if one.like == other.like and around.intersects(there):
                shared = around.intersection(there).area
                pairs.append((shared / (around.area + there.area - shared), one.which, other.which))
    found: dict[int, int] = {}
    for alike, one_is, other_is in sorted(pairs, key=lambda pair: (-pair[0], pair[1:])):
        if alike >= least and one_is not in found and other_is not in found.values():
            found[one_is] = other_is
    return found


def _things(pieces: Iterable[Piece], wanted: Callable[[Blocked], bool]) -> dict[Key, list[BaseGeometry]]:
    """The shapes of each thing, by its photograph, kind, id and number."""
    found: dict[Key, list[BaseGeometry]] = {}
    for piece in pieces:
        for each in piece.blocked:
            if wanted(each):
                found.setdefault((*_place(piece, each), str(each.number)), []).append(each.shape)
    return found


def _place(piece: Piece, blocked: Blocked) -> Key:
    return (_photo(piece), str(blocked.kind), blocked.id or blocked.shape.wkb.hex())


def _photo(piece: Piece) -> str:
    return "" if piece.photo is None else piece.photo.content or piece.photo.file


def _numbers(pieces: Iterable[Piece]) -> Iterator[int]:
    for piece in pieces:
        yield piece.number
        for each in piece.blocked:
            yield each.number


def _with_numbers(piece: Piece, number: int, of_blocked: Sequence[int]) -> Piece:
    if piece.number == number and all(
        each.number == n for each, n in zip(piece.blocked, of_blocked, strict=True)
    ):
        return piece
    blocked = tuple(
        each if each.number == n else replace(each, number=n)
        for each, n in zip(piece.blocked, of_blocked, strict=True)
    )
    return replace(piece, number=number, blocked=blocked)

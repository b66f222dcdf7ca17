"""A garment measured again: what a person drew, set or cleared in the old record is never lost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, FoundBy, Garment, Piece

_MOSTLY = 0.7  # what the photo finds is cleared if this share of it lies in a cleared area

Move = Callable[[BaseGeometry], BaseGeometry]


def merge(old: Garment, new: Garment) -> Garment:
    """The new measurement with everything of the old one that a person made.

    Shapes are moved through the pixels of the photograph where the two records see it with different
    cameras. Pieces of photographs that were not measured again, and pieces typed in by hand, stay as
    they were. A piece whose outline a person drew stays too, instead of the new ones it covers.
    """
    measured = {each.photo.file: each for each in new.pieces if each.photo is not None}
    kept: list[Piece] = []
    pieces = list(new.pieces)
    for piece in old.pieces:
        again = measured.get(piece.photo.file) if piece.photo is not None else None
        if again is None:
            kept.append(piece)
        elif "outline" in piece.by_person:
            moved = _moved_piece(piece, again, _move(piece, again))
            kept.append(moved)
            pieces = [each for each in pieces if not _covers(moved, each)]
        else:
            pieces = _with_persons(pieces, piece, _move(piece, again), again)
    taken = {each.name for each in pieces}
    kept = [replace(each, name=_free_name(each.name, taken)) for each in kept]
    return replace(
        new,
        name=old.name or new.name,
        pieces=tuple(pieces + kept),
        kind=new.kind or old.kind,
        cautions=tuple(dict.fromkeys(new.cautions + old.cautions)),
        extra={**old.extra, **new.extra},
    )


def _with_persons(pieces: list[Piece], old: Piece, move: Move, again: Piece) -> list[Piece]:
    """The pieces of one photograph with what a person did to one old piece of it."""
    shapes = [replace(b, shape=move(b.shape)) for b in old.blocked if b.found_by is FoundBy.PERSON]
    cleared = tuple(move(each) for each in old.cleared)
    outline = move(old.outline)
    same = [i for i, p in enumerate(pieces) if p.photo is not None and again.photo is not None
            and p.photo.file == again.photo.file]  # fmt: skip
    best = max(same, key=lambda i: pieces[i].outline.intersection(outline).area)
    result = list(pieces)
    for index in same:
        piece = result[index]
        mine = [s for s in shapes if s.shape.intersects(piece.outline)]
        if index == best:
            mine += [s for s in shapes if not any(s.shape.intersects(pieces[i].outline) for i in same)]
        # What lies over two pieces is recorded with both, so it comes by here twice.
        areas = tuple(
            each for each in cleared
            if each.intersects(piece.outline) and not any(each.equals(known) for known in piece.cleared)
        )  # fmt: skip
        if mine or areas:
            found = tuple(b for b in piece.blocked if not _is_cleared(b, areas))
            blocked = found + tuple(s for s in mine if s not in found)
            piece = replace(piece, blocked=blocked, cleared=piece.cleared + areas, usable=None)
        if index == best:
            chosen = {name: getattr(old, name) for name in old.by_person if name in _SETTABLE}
            piece = replace(piece, **chosen, by_person=old.by_person, extra={**old.extra, **piece.extra})
        result[index] = piece
    return result


_SETTABLE = {"name", "fabric", "layers", "grain", "one_way"}


def _moved_piece(piece: Piece, again: Piece, move: Move) -> Piece:
    blocked = tuple(replace(each, shape=move(each.shape)) for each in piece.blocked)
    cleared = tuple(move(each) for each in piece.cleared)
    outline = move(piece.outline)
    return replace(piece, outline=outline, blocked=blocked, cleared=cleared, usable=None, photo=again.photo)


def _covers(person: Piece, found: Piece) -> bool:
    same_photo = (
        person.photo is not None and found.photo is not None and person.photo.file == found.photo.file
    )
    return same_photo and person.outline.intersection(found.outline).area > 0.5 * found.outline.area


def _is_cleared(blocked: Blocked, areas: tuple[BaseGeometry, ...]) -> bool:
    if blocked.found_by is FoundBy.PERSON or not areas:
        return False
    inside = blocked.shape.intersection(shapely.union_all(list(areas)))
    if blocked.shape.area > 0:
        return inside.area >= _MOSTLY * blocked.shape.area
    return inside.length >= _MOSTLY * blocked.shape.length


def _move(old: Piece, new: Piece) -> Move:
    """How shapes of the old record's plane get onto the new one's."""
    if old.photo is None or new.photo is None or not old.photo.mm_to_pixel or not new.photo.mm_to_pixel:
        return lambda shape: shape
    if old.photo.camera == new.photo.camera and old.photo.mm_to_pixel == new.photo.mm_to_pixel:
        return lambda shape: shape
    from salvage.scale.plane import Plane

    before = Plane.from_record(dict(old.photo.camera), dict(old.photo.mm_to_pixel))
    after = Plane.from_record(dict(new.photo.camera), dict(new.photo.mm_to_pixel))
    return lambda shape: shapely.transform(
        shape, lambda points: after.to_mm(before.to_px(np.asarray(points)))
    )


def _free_name(name: str, taken: set[str]) -> str:
    number, free = 2, name
    while free in taken:
        free, number = f"{name} {number}", number + 1
    taken.add(free)
    return free

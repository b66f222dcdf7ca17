"""What a person does to a garment: plain functions from a piece (or a garment) to the changed one.

A text editor, a command and a page all end here: `by_hand` finds out which of these edits somebody made
in the record's text, and `merge` does them again to a new measurement. Each leaves behind whose word it
was: `by_person`, `found_by: person`, `cleared` and `removed` are what outlives a new measurement.

Edits of one piece take and give a piece; `at` does one to a garment's piece. Numbers of pieces and of
blocked areas count from 0, in the record's order. An edit that can't be raises UsageError.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, Blocking, Cleared, FoundBy, Garment, Piece
from salvage.cloth.record.together import as_written, parts_along, together_along
from salvage.errors import UsageError
from salvage.naming import free_name_in
from salvage.shapes import polygons_of
from salvage.trade.margins import MARGIN, BlockedKind

SETTABLE = ("name", "fabric", "layers", "grain", "one_way", "plus_minus", "confidence")
OUTLINE = "outline"
MOSTLY = 0.7  # a found area is sound if this share of it lies in a patch that a person found sound
_WIDEST_SEAM = 12.0  # mm; pieces further apart than the two sides of a seam don't join
_SMALLEST_PIECE = 100.0  # mm^2
_LEAST_REACH = 1.0  # mm beside a piece that something drawn still is on it
_SHARED = 1.0  # mm^2 that two outlines may share by rounding
_PARTING = (BlockedKind.SEAM, BlockedKind.CLOSURE)  # what parts pieces

Edit = Callable[[Piece], Piece]


# --- one piece -------------------------------------------------------------------------------------


def set_fields(piece: Piece, **fields: Any) -> Piece:
    """Set any of SETTABLE: the person's word from then on."""
    unknown = [name for name in fields if name not in SETTABLE]
    if unknown:
        raise UsageError(f"{unknown[0]!r} can't be set. Set one of {', '.join(SETTABLE)}.")
    if not 1 <= fields.get("layers", 1) <= 20:
        raise UsageError("layers is a whole number from 1 to 20.")
    if not math.isfinite(fields.get("grain", 0.0)):
        raise UsageError("grain is a number of degrees.")
    if "grain" in fields:
        fields["grain"] %= 360.0
    return replace(piece, **fields, by_person=_with(piece.by_person, *fields))


def draw_outline(piece: Piece, outline: Polygon) -> Piece:
    """Draw the piece's edge anew. What the photo had found is remembered, so that it doesn't come back."""
    if not outline.is_valid or outline.area < _SMALLEST_PIECE:
        raise UsageError("that outline crosses itself or encloses no cloth. Draw it without crossing.")
    outline = as_written(outline)
    return replace(
        piece,
        outline=outline,
        found=piece.found or piece.outline,
        by_person=_with(piece.by_person, OUTLINE),
    )


def draw_usable(piece: Piece, usable: MultiPolygon | Polygon | None) -> Piece:
    """Say which cloth is to be used; None: all that is not blocked. Blocked cloth is never usable."""
    if usable is None:
        return replace(piece, usable=None)
    return replace(piece, usable=MultiPolygon(polygons_of(shapely.make_valid(usable))))


def block(
    piece: Piece, kind: BlockedKind, shape: Blocking, *, margin: float | None = None, what: str = ""
) -> Piece:
    """Add a seam, a stain or whatever else is in the way. margin: mm; the trade's if not told."""
    if shape.is_empty:
        raise UsageError("that shape is empty. Draw a line or an area.")
    distance = MARGIN[kind] if margin is None else margin
    if distance < 0:
        raise UsageError("a margin can't be negative.")
    drawn = Blocked(kind, shape, distance, FoundBy.PERSON, what)
    return replace(piece, blocked=(*piece.blocked, drawn))


def unblock(piece: Piece, number: int) -> Piece:
    """Take out a blocked area. If it was found and not drawn, it stays out when it is found again."""
    gone = _blocked(piece, number)
    rest = tuple(each for index, each in enumerate(piece.blocked) if index != number)
    return remember_gone(replace(piece, blocked=rest), gone)


def remember_gone(piece: Piece, gone: Blocked) -> Piece:
    """Remember a found area that was taken out; of a drawn one nothing would come back."""
    return piece if gone.found_by is FoundBy.PERSON else remember(piece, Cleared(gone.shape, gone.kind))


def remember(piece: Piece, sound: Cleared) -> Piece:
    """Add to what a person found sound, once."""
    known = any(each.kind == sound.kind and each.shape.equals(sound.shape) for each in piece.cleared)
    return piece if known else replace(piece, cleared=(*piece.cleared, sound))


def change_blocked(piece: Piece, number: int, **fields: Any) -> Piece:
    """Move or redraw a blocked area, or change its kind, margin or `what`. It is the person's from then on."""
    before = _blocked(piece, number)
    after = replace(before, **fields, found_by=FoundBy.PERSON)
    if after.kind is not before.kind and "margin" not in fields:
        after = replace(after, margin=MARGIN[after.kind])
    changed = replace(
        piece,
        blocked=tuple(after if index == number else each for index, each in enumerate(piece.blocked)),
    )
    if after.kind is before.kind and after.shape.equals(before.shape):
        return changed
    return remember_gone(changed, before)


def clear(piece: Piece, patch: Polygon) -> Piece:
    """Say that the cloth in a patch is sound: nothing in it is in the way, now or when it is found again."""
    if not patch.is_valid or patch.area <= 0:
        raise UsageError("that patch crosses itself or has no area. Draw it without crossing.")
    sound = Cleared(patch, patch=True)
    blocked = tuple(part for each in piece.blocked for part in without_patches(each, (sound,)))
    return replace(piece, blocked=blocked, cleared=(*piece.cleared, sound))


def without_patches(blocked: Blocked, cleared: Sequence[Cleared]) -> tuple[Blocked, ...]:
    """What is left of a blocked area outside the patches that were found sound: it, a part, or nothing.

    Of a seam that only runs through a patch nothing is cut out: a gap in it would join two pieces.
    """
    patches = [each.shape for each in cleared if each.patch and each.shape.intersects(blocked.shape)]
    if not patches:
        return (blocked,)
    patch = shapely.union_all(patches)
    if share_inside(blocked.shape, patch) >= MOSTLY:
        return ()
    if blocked.shape.area <= 0:
        return (blocked,)
    left = polygons_of(blocked.shape.difference(patch))
    if not left:
        return ()
    return (replace(blocked, shape=left[0] if len(left) == 1 else MultiPolygon(left)),)


def share_inside(shape: BaseGeometry, area: BaseGeometry) -> float:
    """0 to 1: how much of a line's length or an area lies in another area."""
    inside = shape.intersection(area)
    whole = shape.area or shape.length
    return 0.0 if whole <= 0 else (inside.area if shape.area > 0 else inside.length) / whole


# --- a garment -------------------------------------------------------------------------------------


def at(garment: Garment, number: int, edit: Edit) -> Garment:
    """A garment with one of its pieces edited: `at(coat, 2, lambda p: set_fields(p, grain=80.0))`."""
    edited = edit(_piece(garment, number))
    return _with_pieces(garment, number, (edited,))


def rename(garment: Garment, number: int, name: str) -> Garment:
    """Give a piece a name that no other piece has."""
    if not name.strip():
        raise UsageError("a piece needs a name.")
    if any(each.name == name for index, each in enumerate(garment.pieces) if index != number):
        raise UsageError(f"there is a piece called {name!r} already. Choose another name.")
    return at(garment, number, lambda piece: set_fields(piece, name=name))


def add_piece(garment: Garment, piece: Piece) -> Garment:
    """Add cloth that the garment has too; its name is made free. Raises UsageError where its outline is no area."""
    if piece.outline.is_empty or not piece.outline.is_valid:
        raise UsageError(f"the outline of {piece.name!r} is no area. Go once round the piece.")
    return replace(garment, pieces=(*garment.pieces, replace(piece, name=_free(piece.name, garment))))


def remove_piece(garment: Garment, number: int) -> Garment:
    """Take out a piece. It is remembered as it was, so that it stays out and can be put back."""
    gone = _piece(garment, number)
    if len(garment.pieces) == 1:
        raise UsageError("that is the only piece. A garment without any holds nothing to keep.")
    removed = garment.removed if gone.photo is None else (*garment.removed, gone)
    return replace(_with_pieces(garment, number, ()), removed=removed)


def put_back(garment: Garment, number: int) -> Garment:
    """Put back a piece that was taken out; number: among `removed`."""
    if not 0 <= number < len(garment.removed):
        raise UsageError(f"{len(garment.removed)} pieces were taken out. Give a number among them.")
    again = garment.removed[number]
    rest = tuple(each for index, each in enumerate(garment.removed) if index != number)
    again = replace(again, name=_free(again.name, garment))
    return replace(garment, pieces=(*garment.pieces, again), removed=rest)


def split_piece(garment: Garment, number: int, line: LineString, *, seam: bool = True) -> Garment:
    """Part a piece along a line across it, which is a seam unless told otherwise; the line may end a little short
    of the edge. The larger part comes first and keeps the name."""
    piece = _piece(garment, number)
    parts = [part for part in parts_along(piece, line) if part.area >= _SMALLEST_PIECE]
    if len(parts) < 2:
        raise UsageError("that line doesn't part the piece. Draw it right across, from edge to edge.")
    if seam:
        piece = block(piece, BlockedKind.SEAM, line)
    return _parted(garment, number, piece, parts)


def _parted(garment: Garment, number: int, piece: Piece, parts: Sequence[Polygon]) -> Garment:
    made: list[Piece] = []
    for part in sorted(parts, key=lambda each: -each.area):
        drawn = replace(draw_outline(piece, part), blocked=_touching(piece.blocked, part))
        if made:
            name = _free(piece.name, replace(garment, pieces=(*garment.pieces, *made)))
            drawn = replace(set_fields(drawn, name=name), number=0)
        made.append(replace(drawn, cleared=tuple(c for c in piece.cleared if c.shape.intersects(part))))
    return _with_pieces(garment, number, made)


def draw(
    garment: Garment,
    among: Sequence[int],
    kind: BlockedKind,
    shape: Blocking,
    *,
    margin: float | None = None,
    what: str = "",
    number: int = 0,
) -> Garment:
    """Draw what is in the way over the pieces of these numbers: each that it reaches has it, and a seam that crosses
    a piece from edge to edge parts it. number: of its mark; 0 for a new one."""
    if shape.is_empty:
        raise UsageError("that shape is empty. Draw a line or an area.")
    reach = MARGIN[kind] if margin is None else margin
    reached = [n for n in among if _piece(garment, n).outline.distance(shape) < max(reach, _LEAST_REACH)]
    if not reached:
        raise UsageError("that lies beside the cloth, so it is in nothing's way. Draw it on a piece.")
    name = _free_id(garment) if len(reached) > 1 or kind is BlockedKind.SEAM else ""
    for n in sorted(reached, reverse=True):
        piece = block(garment.pieces[n], kind, shape, margin=margin, what=what)
        drawn = replace(piece.blocked[-1], id=name, number=number)
        before = garment.pieces[n]
        piece = replace(piece, blocked=(*piece.blocked[:-1], drawn))
        parts = [before.outline]
        if kind is BlockedKind.SEAM and isinstance(shape, LineString):
            parts = [part for part in parts_along(before, shape) if part.area >= _SMALLEST_PIECE]
        if len(parts) > 1:
            garment = _parted(garment, n, piece, parts)
        else:
            garment = _with_pieces(garment, n, (piece,))
    return garment


def take_off(garment: Garment, places: Sequence[tuple[int, int]]) -> Garment:
    """Take out one thing wherever it lies: places are of pieces and of blocked areas on them. Pieces that only it
    parted hang together again."""
    gone = [_blocked(_piece(garment, piece), blocked) for piece, blocked in places]
    for piece, blocked in sorted(places, reverse=True):
        garment = at(garment, piece, lambda each, blocked=blocked: unblock(each, blocked))  # type: ignore[misc]
    if any(each.kind in _PARTING for each in gone):
        shape = shapely.union_all([each.shape for each in gone])
        garment = together_along(garment, [piece for piece, _ in places], shape)
    return garment


def redraw(garment: Garment, places: Sequence[tuple[int, int]], shape: Blocking) -> Garment:
    """Draw one thing anew wherever it lies; it keeps its kind, its margin, what it is and its number."""
    piece = garment.pieces[places[0][0]]
    before = _blocked(piece, places[0][1])
    garment = take_off(garment, places)
    return draw(
        garment,
        [n for n, each in enumerate(garment.pieces) if _photo_key(each) == _photo_key(piece)],
        before.kind,
        shape,
        margin=before.margin,
        what=before.what,
        number=before.number,
    )


def draw_outline_among(garment: Garment, number: int, outline: Polygon) -> Garment:
    """Draw a piece's edge anew; cloth that it takes from other pieces of its photograph is no longer theirs."""
    piece = _piece(garment, number)
    garment = at(garment, number, lambda each: draw_outline(each, outline))
    for n, other in enumerate(garment.pieces):
        shared = other.outline.intersection(outline).area if n != number else 0.0
        if _photo_key(other) != _photo_key(piece) or other.photo is None or shared <= _SHARED:
            continue
        left = polygons_of(other.outline.difference(outline))
        if not left or left[0].area < _SMALLEST_PIECE:
            raise UsageError(
                f"that outline would leave nothing of {other.name}. Take {other.name} out first."
            )
        garment = at(garment, n, lambda each, left=left: draw_outline(each, left[0]))  # type: ignore[misc]
    return garment


def join_pieces(garment: Garment, first: int, second: int) -> Garment:
    """Make one piece of two that lie beside each other; the first one's name, grain and fabric hold.

    What is blocked stays blocked, a seam between them too: take it out if it is none.
    """
    a, b = _piece(garment, first), _piece(garment, second)
    if first == second:
        raise UsageError("a piece can't be joined to itself. Name another one.")
    if _photo_key(a) != _photo_key(b):
        raise UsageError("these pieces are of two photographs and can't be joined.")
    gap = a.outline.distance(b.outline)
    if gap > _WIDEST_SEAM:
        raise UsageError(f"these pieces lie {gap:.0f} mm apart and can't be joined.")
    outline = shapely.union(a.outline, b.outline)
    if not isinstance(outline, Polygon):
        reach = gap / 2 + 0.5
        closed = outline.buffer(reach, join_style="mitre").buffer(-reach, join_style="mitre")
        outline = polygons_of(shapely.make_valid(shapely.union(closed, outline)))[0]
    joined = draw_outline(replace(a, found=_both(a.found or a.outline, b.found or b.outline)), outline)
    usable = None
    if a.usable is not None or b.usable is not None:
        usable = MultiPolygon(
            polygons_of(
                shapely.union(
                    a.outline if a.usable is None else a.usable, b.outline if b.usable is None else b.usable
                )
            )
        )
    joined = replace(
        joined,
        usable=usable,
        blocked=_each_once(a.blocked + b.blocked),
        cleared=a.cleared + tuple(c for c in b.cleared if c not in a.cleared),
        extra={**b.extra, **a.extra},
    )
    rest = tuple(each for index, each in enumerate(garment.pieces) if index not in (first, second))
    place = min(first, second)
    return replace(garment, pieces=(*rest[:place], joined, *rest[place:]))


def set_kind(garment: Garment, kind: str) -> Garment:
    """Say what kind of cloth the garment is of."""
    return replace(garment, kind=kind, by_person=_with(garment.by_person, "kind"))


def take_out_sentence(garment: Garment, sentence: str) -> Garment:
    """Take out a warning or a caution that was read and is not wanted; it stays out."""

    def without(sentences: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(each for each in sentences if each != sentence)

    mine = sentence in garment.said
    return replace(
        garment,
        warnings=without(garment.warnings),
        cautions=without(garment.cautions),
        said=without(garment.said),
        unsaid=garment.unsaid if mine else _with(garment.unsaid, sentence),
    )


# --- small help ------------------------------------------------------------------------------------


def _with(words: tuple[str, ...], *more: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*words, *more)))


def _piece(garment: Garment, number: int) -> Piece:
    if not 0 <= number < len(garment.pieces):
        raise UsageError(f"there is no such piece: {garment.name} has {len(garment.pieces)}.")
    return garment.pieces[number]


def _blocked(piece: Piece, number: int) -> Blocked:
    if not 0 <= number < len(piece.blocked):
        raise UsageError(f"there is no such area: {piece.name} has {len(piece.blocked)} that are blocked.")
    return piece.blocked[number]


def _with_pieces(garment: Garment, number: int, pieces: Sequence[Piece]) -> Garment:
    _piece(garment, number)
    return replace(garment, pieces=(*garment.pieces[:number], *pieces, *garment.pieces[number + 1 :]))


def _touching(blocked: Sequence[Blocked], part: Polygon) -> tuple[Blocked, ...]:
    return tuple(each for each in blocked if each.shape.distance(part) <= each.margin)


def _each_once(blocked: Sequence[Blocked]) -> tuple[Blocked, ...]:
    once: list[Blocked] = []
    for each in blocked:
        if each not in once:
            once.append(each)
    return tuple(once)


def _both(a: BaseGeometry, b: BaseGeometry) -> Polygon | MultiPolygon:
    both = polygons_of(shapely.union(a, b))
    return both[0] if len(both) == 1 else MultiPolygon(both)


def _photo_key(piece: Piece) -> str | None:
    return None if piece.photo is None else piece.photo.content or piece.photo.file


def _free_id(garment: Garment) -> str:
    """An id for something drawn, which nothing else has or had."""
    taken = {each.id for piece in (*garment.pieces, *garment.removed) for each in piece.blocked}
    number = 1
    while f"drawn {number}" in taken:
        number += 1
    return f"drawn {number}"


def _free(name: str, garment: Garment) -> str:
    return free_name_in(name, {each.name for each in garment.pieces})

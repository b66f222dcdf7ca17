"""A garment measured again: what a person drew, set, wrote or took out in the old record is never lost.

A piece that a person touched is renewed by the found pieces that lie in its place: they take over what was
said of it. Where none do (it was drawn anew, or the new measurement sees other pieces there), the old one
stays as it is and the found ones keep out of it, so that no cloth is ever there twice.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import (
    Blocked,
    BlockedKind,
    Cleared,
    FoundBy,
    Garment,
    Hints,
    Piece,
    PiecePhoto,
)
from salvage.cloth.record import edits, numbers
from salvage.cloth.record.anew.alike import Move, known_away, move_between, readable, same_photograph
from salvage.cloth.record.together import hung_together
from salvage.errors import SalvageError
from salvage.naming import free_name_in
from salvage.shapes import polygons_of

_INSIDE = 0.7  # a found piece lies in the place of an old one, and found pieces fill one, from this share on
_TOUCHING = 0.05  # two outlines that share less than this of the smaller one only meet at their edges
_A_PIECE = 0.3  # what is left of a found piece beside others is a piece of its own from this share on
_BY_THE_WAY = 8.0  # mm that a new outline may reach into its neighbour by chance


@dataclass(frozen=True, slots=True)
class Merged:
    """left_out: names of found pieces that a person had taken out of the record, and that stay out."""

    garment: Garment
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Placed:
    """A piece and where it, or the one it comes from, stood in the old record; new ones come last."""

    piece: Piece
    place: float = math.inf


def merge(old: Garment, new: Garment, *, told: frozenset[str] = frozenset()) -> Garment:
    """The new measurement with everything of the old record that a person made; see merge_all."""
    return merge_all(old, new, told=told).garment


def merge_all(old: Garment, new: Garment, *, told: frozenset[str] = frozenset()) -> Merged:
    """The new measurement with everything of the old record that a person made.

    told: fields of the garment that were told with the new measurement, a later word than the record's.
    Shapes are moved through the pixels of the photograph where the two records see it with different
    cameras. Pieces of photographs that were not measured again, and pieces typed in by hand, stay as they
    were. Raises SalvageError where that can't be done, and where nothing would be left.
    """
    pieces: list[_Placed] = []
    left_out: list[Piece] = []
    kept: list[_Placed] = []
    removed: list[_Placed] = []
    again: dict[str, list[_Placed]] = {each.photo.file: [] for each in new.pieces if each.photo is not None}
    taken_out: dict[str, list[_Placed]] = {file: [] for file in again}
    shots = _shots(old, new)
    for source, here, elsewhere in ((old.pieces, again, kept), (old.removed, taken_out, removed)):
        for place, piece in enumerate(source):
            shot = shots.get(_key(piece))
            if shot is None:
                elsewhere.append(_Placed(piece, place))
            else:
                here[shot[1].file].append(_Placed(_moved(piece, *shot), place))
    for file in again:
        found = [each for each in new.pieces if each.photo is not None and each.photo.file == file]
        made, out = _one_photograph(again[file], taken_out[file], found, all_known=old.all_known)
        pieces += made
        left_out += out
        removed += taken_out[file] + ([] if old.all_known else [_Placed(each) for each in out])
    pieces += [*kept, *(_Placed(each) for each in new.pieces if each.photo is None)]
    if not pieces:
        names = ", ".join(dict.fromkeys(each.name for each in left_out))
        raise SalvageError(
            f"of {old.name!r} nothing is left: all that was found ({names}) had been taken out of its record by hand. "
            'Take it out of "removed" there, or measure into another record with --out.'
        )
    garment = _sentences(old, new, [each.piece for each in kept])
    garment = replace(
        garment,
        name=old.name or new.name,
        pieces=_distinctly_named([each.piece for each in sorted(pieces, key=lambda each: each.place)]),
        kind=old.kind if "kind" in old.by_person and "kind" not in told else (new.kind or old.kind),
        by_person=old.by_person,
        removed=tuple(each.piece for each in removed),
        hints=_hints(old.hints, {b.file: a.file for b, a in shots.values()}, new.hints),
        extra={**new.extra, **old.extra},
    )
    before = [each.piece for here in (*again.values(), kept) for each in here]
    garment = numbers.carried(before, garment, old.numbers)
    return Merged(garment, tuple(dict.fromkeys(each.name for each in left_out)))


def touched(piece: Piece) -> bool:
    """Whether a person has done anything to a piece."""
    drawn = any(each.found_by is FoundBy.PERSON for each in piece.blocked)
    return bool(drawn or piece.by_person or piece.cleared or piece.usable is not None or piece.extra)


# --- one photograph --------------------------------------------------------------------------------


def _one_photograph(
    placed: Sequence[_Placed], gone: Sequence[_Placed], found: Sequence[Piece], *, all_known: bool
) -> tuple[list[_Placed], list[Piece]]:
    """The pieces of a photograph that was measured again, and those found ones that stay out.

    placed: the old ones, gone: those taken out, both already moved onto the plane of the found ones.
    """
    old = [each.piece for each in placed]
    # What was put back by hand and not taken out of "removed" is there.
    removed = [each.piece for each in gone if not _among(each.piece, old)]
    places = {id(each.piece): each.place for each in placed}
    stay = [each for each in old if edits.OUTLINE in each.by_person]
    renew = [each for each in old if edits.OUTLINE not in each.by_person]
    # Where an old record has no note of what was taken out, cloth that it lacks was taken out, for all one
    # can know; unless the new measuring doesn't see the cloth that it has either.
    lacks = [] if all_known or not old else [each for each in found if not _is_known(each, old)]
    if old and not _filled_by(old, found):
        lacks = []
    while True:
        left: list[Piece] = []
        out: list[Piece] = []
        for each in found:
            beside, was_out = _beside(each, stay, removed)
            if beside is not None and any(each is other for other in lacks):
                beside, was_out = None, True
            if beside is not None:
                left.append(beside)
            elif was_out:
                out.append(each)
        owners = [_owner(each, renew) for each in left]
        lost = [
            each
            for number, each in enumerate(renew)
            if touched(each)
            and not _filled(each, [p for p, o in zip(left, owners, strict=True) if o == number])
        ]
        if not lost:
            break
        stay += lost
        renew = [each for each in renew if not any(each is other for other in lost)]
    made = []
    for number, each in enumerate(renew):
        own = [p for p, owner in zip(left, owners, strict=True) if owner == number]
        renewed = _renewed(each, own) if touched(each) else [replace(p, photo=each.photo) for p in own]
        made += [_Placed(piece, places[id(each)]) for piece in renewed]
    made += [_Placed(p) for p, owner in zip(left, owners, strict=True) if owner is None]
    for each in renew:
        made = [replace(one, piece=_without_kept(one.piece, each)) for one in made]
    return made + [_Placed(each, places[id(each)]) for each in stay], out


def _without_kept(piece: Piece, old: Piece) -> Piece:
    """A piece without the cloth of an old one that a person kept from use, where it reaches that far into it.

    Pieces may be parted elsewhere in a new measurement; what isn't to be used isn't for all that.
    """
    if old.usable is None or piece.usable is old.usable:
        return piece
    if piece.outline.intersection(old.outline.buffer(-_BY_THE_WAY)).area <= 0:
        return piece
    kept = old.outline.difference(old.usable)
    mine = piece.outline if piece.usable is None else piece.usable
    return replace(piece, usable=MultiPolygon(polygons_of(mine.difference(kept))))


def _beside(found: Piece, stay: Sequence[Piece], removed: Sequence[Piece]) -> tuple[Piece | None, bool]:
    """What of a found piece lies beside those that stay and those that were taken out; and, if that is
    nothing worth a piece, whether it was taken out."""
    outline: BaseGeometry = found.outline
    for piece in stay:
        shared = outline.intersection(piece.outline).area
        half = 0.5 * min(found.outline.area, piece.outline.area)
        drawn_anew = edits.OUTLINE in piece.by_person
        if drawn_anew and piece.found is None and shared > half:
            return None, False  # how large the piece was before it was drawn isn't known: it may be this one
        outline = outline.difference(piece.outline)
        if piece.found is not None:
            outline = _without(outline, piece.found)
    for piece in removed:
        outline = _without(outline, piece.outline)
        if piece.found is not None:
            outline = _without(outline, piece.found)
    parts = polygons_of(outline)
    if not parts or parts[0].area < _A_PIECE * found.outline.area:
        return None, any(_share(found.outline, each.found or each.outline) > _A_PIECE for each in removed)
    return (found if outline is found.outline else replace(found, outline=parts[0])), False


def _without(outline: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    shared = outline.intersection(other).area
    return outline if shared <= _TOUCHING * min(outline.area, other.area) else outline.difference(other)


def _share(outline: Polygon, other: BaseGeometry) -> float:
    return float(outline.intersection(other).area / outline.area)


def _among(piece: Piece, others: Sequence[Piece]) -> bool:
    return any(
        piece.outline.intersection(each.outline).area > 0.5 * min(piece.outline.area, each.outline.area)
        for each in others
    )


def _is_known(found: Piece, old: Sequence[Piece]) -> bool:
    """Whether a found piece lies where the record has one."""
    return _share(found.outline, shapely.union_all([each.found or each.outline for each in old])) > 0.5


def _owner(found: Piece, old: Sequence[Piece]) -> int | None:
    """The old piece in whose place a found one lies, by its number."""
    shares = [_share(found.outline, each.outline) for each in old]
    best = max(range(len(old)), key=shares.__getitem__, default=None)
    return best if best is not None and shares[best] >= _INSIDE else None


def _filled_by(old: Sequence[Piece], found: Sequence[Piece]) -> bool:
    before = shapely.union_all([each.outline for each in old])
    return bool(
        before.intersection(shapely.union_all([each.outline for each in found])).area > 0.5 * before.area
    )


def _filled(old: Piece, by: Sequence[Piece]) -> bool:
    return _share(old.outline, shapely.union_all([each.outline for each in by])) >= _INSIDE


def _renewed(old: Piece, found: Sequence[Piece]) -> list[Piece]:
    """Found pieces with what a person said of the old one in whose place they lie.

    The name goes to the largest; grain, fabric and the like hold for all.
    """
    largest = max(range(len(found)), key=lambda n: found[n].outline.area)
    drawn = [each for each in old.blocked if each.found_by is FoundBy.PERSON]
    made = []
    for number, piece in enumerate(found):
        first = number == largest
        # What lies on none of them goes with the largest.
        others = [each.outline for n, each in enumerate(found) if n != number] if first else None

        blocked = [each for each in piece.blocked if not known_away(each, old)]
        left = [part for each in blocked for part in edits.without_patches(each, old.cleared)]
        mine = [each for each in drawn if _is_here(each.shape, piece, others) and each not in left]
        settable = {
            name: getattr(old, name)
            for name in old.by_person
            if name in edits.SETTABLE and (first or name != "name")
        }
        by_person = old.by_person if first else tuple(settable)
        made.append(
            replace(
                piece,
                **settable,
                photo=old.photo,
                blocked=(*left, *mine),
                cleared=tuple(each for each in old.cleared if _is_here(each.shape, piece, others)),
                usable=old.usable,
                by_person=by_person,
                extra={**piece.extra, **old.extra} if first else piece.extra,
            )
        )
    for sound in old.cleared:  # where a person took a seam out, the cloth hangs together
        if sound.kind is BlockedKind.SEAM and not sound.patch and len(made) > 1:
            made = hung_together(made, sound.shape)
    return made


def _is_here(shape: BaseGeometry, piece: Piece, others: Sequence[Polygon] | None) -> bool:
    """Whether it lies on the piece; or, where others are told, on none of those."""
    if shape.intersects(piece.outline):
        return True
    return others is not None and not any(shape.intersects(each) for each in others)


def _hints(old: Sequence[Hints], files: Mapping[str, str], new: Sequence[Hints]) -> tuple[Hints, ...]:
    """All that was pointed at, each photograph's under its name of now. files: names of now by those of before."""
    kept = {files.get(each.photo, each.photo): each for each in old}
    for each in new:
        before = kept.get(each.photo, Hints(each.photo))
        kept[each.photo] = Hints(
            each.photo,
            tuple(dict.fromkeys((*before.cloth, *each.cloth))),
            tuple(dict.fromkeys((*before.floor, *each.floor))),
        )
    return tuple(replace(each, photo=file) for file, each in kept.items())


# --- moving ----------------------------------------------------------------------------------------


def _shots(old: Garment, new: Garment) -> dict[str, tuple[PiecePhoto, PiecePhoto]]:
    """By `_key`, a photograph of the old record, with a camera that can be read, and the same one in the new."""
    shots = {}
    drawn_on = {_key(each) for each in old.pieces if touched(each)} | {_key(each) for each in old.removed}
    for piece in (*old.pieces, *old.removed):
        key = _key(piece)
        if piece.photo is None or key in shots:
            continue
        same = [each.photo for each in old.pieces if each.photo is not None and _key(each) == key]
        before = next((each for each in same if readable(each)), piece.photo)
        after = same_photograph(before, old, new, drawn_on=key in drawn_on)
        if after is not None:
            shots[key] = before, after
    return shots


def _key(piece: Piece) -> str:
    return "" if piece.photo is None else f"{piece.photo.file}\n{piece.photo.content}"


def _moved(piece: Piece, before: PiecePhoto, shot: PiecePhoto) -> Piece:
    """A piece on the plane of the new measurement of its photograph. before: that as the old record has it."""
    assert piece.photo is not None
    photo = _with_unknown_fields(piece.photo, shot)
    try:
        move = move_between(piece.photo if readable(piece.photo) else before, shot)
    except SalvageError:
        if touched(piece):
            raise
        return replace(piece, photo=shot)
    outline = _polygon(move(piece.outline))
    return replace(
        piece,
        photo=photo,
        outline=outline or piece.outline,
        found=None if piece.found is None else _area(move(piece.found)),
        blocked=tuple(_moved_blocked(each, move) for each in piece.blocked),
        cleared=tuple(_moved_cleared(each, move) for each in piece.cleared),
        usable=None if piece.usable is None else MultiPolygon(polygons_of(_area(move(piece.usable)))),
    )


def _with_unknown_fields(before: PiecePhoto, after: PiecePhoto) -> PiecePhoto:
    """The new photograph; what somebody wrote into the camera's fields is kept."""
    return replace(
        after,
        camera={**before.camera, **after.camera} if after.camera else before.camera,
        mm_to_pixel={**before.mm_to_pixel, **after.mm_to_pixel} if after.mm_to_pixel else before.mm_to_pixel,
    )


def _moved_blocked(blocked: Blocked, move: Move) -> Blocked:
    return replace(blocked, shape=_mended(move(blocked.shape)))


def _moved_cleared(cleared: Cleared, move: Move) -> Cleared:
    return replace(cleared, shape=_mended(move(cleared.shape)))


def _mended(shape: Any) -> Any:
    return shape if shape.is_valid else _area(shape)


def _area(shape: BaseGeometry) -> Polygon | MultiPolygon:
    """An area that moving may have twisted; in one part where it can be."""
    if isinstance(shape, Polygon | MultiPolygon) and shape.is_valid:
        return shape
    parts = polygons_of(shapely.make_valid(shape))
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


def _polygon(shape: BaseGeometry) -> Polygon | None:
    parts = polygons_of(_area(shape))
    return parts[0] if parts else None


# --- words -----------------------------------------------------------------------------------------


def _sentences(old: Garment, new: Garment, kept: Sequence[Piece]) -> Garment:
    """The new garment with the warnings and cautions that stand.

    The new measurement's stand, unless a person took them out; of the old ones those that a person wrote,
    all cautions, and the warnings of photographs that were not measured again.
    """
    elsewhere = tuple(f"{_name(each.photo.file)}: " for each in kept if each.photo is not None)
    unsaid = {_bare(each) for each in old.unsaid}
    warnings = [each for each in new.warnings if _bare(each) not in unsaid]
    warnings += [
        each
        for each in old.warnings
        if each in old.said or (elsewhere and each.startswith(elsewhere)) or len(kept) == len(old.pieces)
    ]
    cautions = [each for each in new.cautions if _bare(each) not in unsaid]
    cautions += old.cautions
    return replace(
        new,
        warnings=tuple(dict.fromkeys(warnings)),
        cautions=tuple(dict.fromkeys(cautions)),
        said=old.said,
        unsaid=old.unsaid,
    )


def _bare(sentence: str) -> str:
    """A sentence without its photograph's name and its numbers, which differ a little each time."""
    return re.sub(r"\d+(?:[.,]\d+)*", "#", re.sub(r"^[^:]{1,200}\.\w{3,4}: ", "", sentence))


def _name(file: str) -> str:
    return file.rsplit("/", 1)[-1]


def _distinctly_named(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """Names each once; a name that a person gave goes before one that the program made up."""
    taken: set[str] = set()
    names: dict[int, str] = {}
    for given in (True, False):
        for index, piece in enumerate(pieces):
            if ("name" in piece.by_person or piece.photo is None) == given:
                names[index] = free_name_in(piece.name, taken)
    return tuple(
        piece if names[i] == piece.name else replace(piece, name=names[i]) for i, piece in enumerate(pieces)
    )

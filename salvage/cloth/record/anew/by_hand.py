"""What a person changed in a record with a text editor, told from what the program wrote there.

A record carries notes of what was written last ("written": one with each piece, and one with the garment).
Whatever differs from them on reading is the person's, as if it had been done with salvage.cloth.record.edits:
it counts at once, and a new measurement keeps it, without the person having to say so anywhere else. Where
a note is gone, nobody can tell the one from the other any more, and all of it stands as the person's.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

from shapely.geometry import MultiPolygon, Polygon, mapping, shape
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, Cleared, FoundBy, Garment, Piece, PiecePhoto
from salvage.cloth.record import edits
from salvage.shapes import polygons_of
from salvage.trade.margins import BlockedKind

_ENCODER = json.JSONEncoder(sort_keys=True)  # json.dumps would make one for every mark
_COARSE = 1.0  # mm; a shape is remembered as finely as it takes to know it again
_THE_SAME = 0.5  # two outlines of one photograph that share this much of the smaller one are one piece


# --- a piece ---------------------------------------------------------------------------------------


def written(piece: Piece, data: Mapping[str, Any], number: int) -> dict[str, Any]:
    """What to remember of a piece. data: as it is written; number: which of the garment's pieces it is."""
    found = piece.outline if edits.OUTLINE not in piece.by_person else piece.found
    return {
        "piece": number,
        **{name: data[name] for name in edits.SETTABLE if name in data},
        "confidence": data.get("confidence", 1.0),  # left out of the record where it is 1
        "outline": _mark_of_shape(data["outline"]),
        **({} if found is None else {"found": _coarse(found)}),
        "usable": _mark_of_shape(data["usable"]),
        "blocked": [
            {"mark": _mark_of_blocked(each), "kind": each["kind"], "shape": _coarse(shape(each["shape"]))}
            for each in data["blocked"]
            if each["found_by"] != FoundBy.PERSON
        ],
    }


def told_apart(
    piece: Piece,
    data: Mapping[str, Any],
    before: Mapping[str, Any] | None,
    *,
    recorded: MultiPolygon | None,
    drawn: MultiPolygon | None,
) -> Piece:
    """The piece with what a person changed marked as the person's.

    piece: as read, but for its usable cloth. data: the piece in the record; before: its note, None where
    there is none. recorded: the usable cloth in the record; drawn: what a person drew of it earlier.
    """
    if before is None:
        return _all_the_persons(piece, data, recorded if drawn is None else drawn)
    changed = [n for n in edits.SETTABLE if n in before and n in data and _differs(data[n], before[n])]
    if before.get("outline") != _mark_of_shape(data["outline"]):
        changed.append(edits.OUTLINE)
    piece = replace(piece, by_person=tuple(dict.fromkeys((*piece.by_person, *changed))))
    found = polygons_of(shape(before["found"])) if "found" in before else []
    if edits.OUTLINE in piece.by_person and found:
        piece = replace(piece, found=found[0] if len(found) == 1 else MultiPolygon(found))
    piece = _blocked_told_apart(piece, data.get("blocked", []), before.get("blocked", []))
    as_written = "usable" not in data or before.get("usable") == _mark_of_shape(data["usable"])
    return replace(piece, usable=drawn if as_written else recorded)


def _all_the_persons(piece: Piece, data: Mapping[str, Any], usable: MultiPolygon | None) -> Piece:
    """A piece without a note: all that is said of it was said by a person, for all one can know."""
    said = [name for name in edits.SETTABLE if name in data]
    blocked = tuple(replace(each, found_by=FoundBy.PERSON) for each in piece.blocked)
    by_person = tuple(dict.fromkeys((*piece.by_person, *said, edits.OUTLINE)))
    return replace(piece, by_person=by_person, blocked=blocked, usable=usable)


def _differs(now: Any, before: Any) -> bool:
    if isinstance(now, Mapping) and isinstance(before, Mapping):
        return any(_plain(now.get(key)) != _plain(value) for key, value in before.items())
    return bool(_plain(now) != _plain(before))


def _blocked_told_apart(piece: Piece, data: Sequence[Any], before: Sequence[Any]) -> Piece:
    """The piece with the blocked areas that a person changed as the person's, and those gone remembered."""
    known = {each["mark"] for each in before}
    marks = [{_mark_of_blocked(each), _mark_of_old(each)} for each in data]
    blocked = tuple(
        replace(each, found_by=FoundBy.PERSON) if not mark & known else each
        for each, mark in zip(piece.blocked, marks, strict=True)
    )
    piece = replace(piece, blocked=blocked)
    here = set().union(*marks) if marks else set()
    for each in before:
        if each["mark"] in here:
            continue
        # A note of before kinds were noted says only where it was.
        kind = BlockedKind(each["kind"]) if "kind" in each else None
        gone = shape(each["shape"])
        if not _still_there(piece.blocked, kind, each["shape"]):
            piece = edits.remember(piece, Cleared(gone, kind))
    return piece


def _still_there(blocked: Sequence[Blocked], kind: BlockedKind | None, coarse: Any) -> bool:
    """Whether an area is where it was, and only something else about it was changed."""
    place = _mark(coarse)
    return any(each.kind is kind and _mark(_coarse(each.shape)) == place for each in blocked)


# --- the garment -----------------------------------------------------------------------------------


def garment_written(garment: Garment, photos: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """What to remember of the garment beside its pieces. photos: of `photographs`, as they are written."""
    order = photographs(garment)
    pieces = [
        {
            "piece": number,
            "name": piece.name,
            "photo": order.index(piece.photo),
            "outline": _coarse(piece.found or piece.outline),
        }
        for number, piece in enumerate(garment.pieces)
        if piece.photo is not None
    ]
    return {
        "kind": garment.kind,
        "cautions": [each for each in garment.cautions if each not in garment.said],
        "warnings": [each for each in garment.warnings if each not in garment.said],
        "photos": list(photos),
        "pieces": pieces,
    }


def photographs(garment: Garment) -> list[PiecePhoto]:
    """The garment's photographs, each once."""
    found: list[PiecePhoto] = []
    for piece in garment.pieces:
        if piece.photo is not None and piece.photo not in found:
            found.append(piece.photo)
    return found


def garment_told_apart(
    garment: Garment,
    notes: Sequence[Mapping[str, Any] | None],
    before: Mapping[str, Any] | None,
    photos: Sequence[PiecePhoto],
) -> Garment:
    """The garment with what a person changed beside its pieces, and the pieces that are gone, remembered.

    notes: of its pieces; before: its own, None where there is none; photos: those of its own note.
    """
    if before is None:
        return _garment_all_the_persons(garment)
    for sentence in (*before["cautions"], *before["warnings"]):
        if sentence not in (*garment.cautions, *garment.warnings):
            garment = edits.take_out_sentence(garment, sentence)
    known = {*before["cautions"], *before["warnings"]}
    said = tuple(each for each in (*garment.cautions, *garment.warnings) if each not in known)
    garment = replace(garment, said=said)
    if garment.kind != before["kind"]:
        garment = edits.set_kind(garment, garment.kind)
    here = {
        note["piece"]
        for piece, note in zip(garment.pieces, notes, strict=True)
        if note is not None and "piece" in note and piece.photo is not None
    }
    unnoted = [
        p for p, note in zip(garment.pieces, notes, strict=True) if note is None and p.photo is not None
    ]
    gone = []
    for each in before["pieces"]:
        outline = polygons_of(shape(each["outline"]))
        if each["piece"] not in here and outline and not _among(unnoted, str(each["name"]), outline[0]):
            gone.append(Piece(str(each["name"]), outline[0], photo=photos[each["photo"]]))
    return replace(garment, removed=(*garment.removed, *gone))


def _garment_all_the_persons(garment: Garment) -> Garment:
    """Without a note: its sentences are the person's, but for those that name a photograph of its pieces as
    only the program begins them; and a piece that isn't there may have been taken out."""
    begins = tuple(f"{photo.file.rsplit('/', 1)[-1]}: " for photo in photographs(garment))
    sentences = (*garment.cautions, *garment.warnings)
    return replace(
        garment,
        said=tuple(each for each in sentences if not each.startswith(begins)),
        by_person=tuple(dict.fromkeys((*garment.by_person, *(["kind"] if garment.kind else [])))),
        all_known=False,
    )


def _among(pieces: Sequence[Piece], name: str, outline: Polygon) -> bool:
    for each in pieces:
        smaller = min(each.outline.area, outline.area)
        if each.name == name or each.outline.intersection(outline).area > _THE_SAME * smaller:
            return True
    return False


# --- marks -----------------------------------------------------------------------------------------


def _mark_of_old(data: Mapping[str, Any]) -> str:
    """As records of before kinds were noted had it."""
    return _mark([data.get("kind", "other"), data.get("margin"), data["shape"]])


def _mark_of_blocked(data: Mapping[str, Any]) -> str:
    """Of all that is said of it but its number, which only tells it from the others."""
    return _mark({name: value for name, value in data.items() if name != "mark"})


def _mark_of_shape(data: Mapping[str, Any]) -> str:
    """Of what it is, whatever else somebody wrote beside it."""
    return _mark({name: data[name] for name in ("type", "coordinates")})


def _mark(value: Any) -> str:
    """A short mark of a value; numbers that are the same length to 0.001 mm give the same."""
    return f"{zlib.crc32(_ENCODER.encode(_plain(value)).encode()):08x}"


def _plain(value: Any) -> Any:
    if type(value) is float:  # most are
        return round(value, 3) + 0.0
    if isinstance(value, (list, tuple)):
        if value and type(value[0]) is float and all(type(each) is float for each in value):
            return [round(each, 3) + 0.0 for each in value]  # points are most of a record
        return [_plain(each) for each in value]
    if isinstance(value, Mapping):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return round(float(value), 3) + 0.0
    return value


@lru_cache(maxsize=1024)  # after an edit all but a few are as they were
def _coarse(geometry: BaseGeometry) -> Mapping[str, Any]:
    thinned = mapping(geometry.simplify(_COARSE))
    return {"type": thinned["type"], "coordinates": _tenths(thinned["coordinates"])}


def _tenths(value: Any) -> Any:
    return [_tenths(each) for each in value] if isinstance(value, (list, tuple)) else round(float(value), 1)

"""A record's text as a garment. Its format is `salvage garment 1`.

Fields this program doesn't know are kept and written again, those inside a known field too.
"""

from __future__ import annotations

import json
import marshal
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import Any

import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon

from salvage.cloth.doubts import answers_applied
from salvage.cloth.garment import (
    Blocked,
    BlockedKind,
    Cleared,
    FoundBy,
    Garment,
    Hints,
    Piece,
    PiecePhoto,
    PlusMinus,
    Question,
    Reply,
)
from salvage.cloth.record.anew import by_hand
from salvage.cloth.record.numbers import numbered
from salvage.cloth.record.plain import (
    NotPlainError,
    as_choice,
    as_list,
    as_number,
    as_object,
    as_share,
    as_text,
    as_texts,
    not_deep,
    once_each,
    slip,
    unknown_in,
    unknown_inside,
)
from salvage.cloth.record.shapes import LARGEST, as_blocking, as_geometry, as_outline, as_stroke, as_usable
from salvage.cloth.record.write import FORMAT
from salvage.errors import SalvageError, shown
from salvage.shapes import polygons_of
from salvage.trade.margins import MARGIN

_MOST_PIECES, _MOST_BLOCKED = 500, 5_000  # in a record, in a piece: beyond any garment
_MOST_MARKS = 1_000_000_000

_GARMENT_KEYS = {
    "format", "units", "name", "pieces", "kind", "cautions", "warnings", "by_person", "unsaid", "removed",
    "questions", "hints", "marks", "written",
}  # fmt: skip
_PIECE_KEYS = {
    "name", "fabric", "layers", "grain", "one_way", "outline", "blocked", "usable", "plus_minus", "photo",
    "confidence", "by_person", "cleared", "usable_by_person", "mark", "written",
}  # fmt: skip
_PHOTO_KEYS = {"file", "content", "side", "camera", "mm_to_pixel"}
_PLUS_MINUS_KEYS = {"scale_percent", "edge", "grain"}
_SHAPE_KEYS = {"type", "coordinates"}
_BLOCKED_KEYS = {"kind", "margin", "found_by", "shape", "what", "confidence", "id", "mark"}
_HINTS_KEYS = {"photo", "cloth", "floor"}
_QUESTION_KEYS = {"number", "text", "about", "shape", "photo", "weight", "confidence", "answer"}


def garment_from_json(text: str, where: str = "garment record") -> Garment:
    """The garment in a record's text. where: what to call it in an error."""
    try:
        data = json.loads(text, object_pairs_hook=once_each)
        not_deep(data)
    except json.JSONDecodeError as error:
        raise SalvageError(
            f"{where}: not valid JSON (line {error.lineno}, column {error.colno}). Mend it there, or measure again."
        ) from error
    except NotPlainError as error:
        raise SalvageError(f"{where}: {error}") from error
    except (RecursionError, ValueError) as error:
        deep = isinstance(error, RecursionError)
        what = "lists within lists without end" if deep else "a number of too many digits"
        raise SalvageError(f"{where}: not a garment record, it has {what}. Measure again.") from error
    return _garment(data, where)


def _garment(data: Any, where: str) -> Garment:
    if not isinstance(data, dict) or "format" not in data:
        raise SalvageError(f'{where}: not a garment record, it has no "format". Make one with measure.')
    if data["format"] != FORMAT:
        raise SalvageError(
            f'{where}: its format is {shown(data["format"])!r}, this program reads "{FORMAT}".'
        )
    units = data.get("units", "mm")
    if units != "mm":
        raise SalvageError(
            f'{where}: its units are {shown(units)!r}; a garment record is in "mm". Convert it first.'
        )
    extra = unknown_in(data, _GARMENT_KEYS, where)
    pieces = as_list(data.get("pieces"), f"{where}: pieces")
    if not pieces:
        raise SalvageError(f"{where}: it has no pieces. Measure again, or add a piece.")
    removed = as_list(data.get("removed", []), f"{where}: removed")
    if len(pieces) > _MOST_PIECES:
        raise SalvageError(
            f"{where}: it has {len(pieces)} pieces, and a garment has {_MOST_PIECES} at most. Part it."
        )
    garment = Garment(
        name=as_text(data.get("name", "garment"), f"{where}: name"),
        pieces=tuple(_known_piece(each, f"{where}: piece {number}") for number, each in enumerate(pieces, 1)),
        kind=as_text(data.get("kind", ""), f"{where}: kind"),
        cautions=as_texts(data.get("cautions", []), f"{where}: cautions"),
        warnings=as_texts(data.get("warnings", []), f"{where}: warnings"),
        by_person=as_texts(data.get("by_person", []), f"{where}: by_person"),
        unsaid=as_texts(data.get("unsaid", []), f"{where}: unsaid"),
        removed=tuple(_piece(each, f"{where}: removed piece {n}") for n, each in enumerate(removed, 1)),
        questions=tuple(
            _known_question(each, f"{where}: question {number}")
            for number, each in enumerate(as_list(data.get("questions", []), f"{where}: questions"), 1)
        ),
        hints=tuple(
            _hints(each, f"{where}: hints {number}")
            for number, each in enumerate(as_list(data.get("hints", []), f"{where}: hints"), 1)
        ),
        numbers=_mark_number(data.get("marks", 0), f"{where}: marks"),
        extra=extra,
    )
    notes = [each.get("written") for each in pieces]
    before = data.get("written")
    with _own_note(where):
        photos = [] if before is None else [_photo(each, where) for each in before["photos"]]
        garment = by_hand.garment_told_apart(
            garment, notes, before, [each for each in photos if each is not None]
        )
    return numbered(answers_applied(garment))


def _known_piece(data: Any, where: str) -> Piece:
    """As `_piece`; a piece that was read before is the same object again, so that whoever made something of it knows it."""
    return _piece_packed(marshal.dumps(data, 2), where)


def _known_question(data: Any, where: str) -> Question:
    return _question_packed(marshal.dumps(data, 2), where)


@lru_cache(maxsize=256)
def _question_packed(data: bytes, where: str) -> Question:
    return _question(marshal.loads(data), where)


@lru_cache(maxsize=128)  # an edit changes a piece or two, and all are read
def _piece_packed(data: bytes, where: str) -> Piece:
    return _piece(marshal.loads(data), where)


def _piece(data: Any, where: str) -> Piece:
    if not isinstance(data, dict):
        raise SalvageError(f"{where}: not an object. Give it a name and an outline.")
    name = as_text(data.get("name", ""), f"{where}: name") or where.rsplit(": ", 1)[-1]
    where = f"{where} ({shown(name)})"
    extra = unknown_in(data, _PIECE_KEYS, where) | unknown_inside(
        data,
        {"photo": _PHOTO_KEYS, "plus_minus": _PLUS_MINUS_KEYS, "outline": _SHAPE_KEYS, "usable": _SHAPE_KEYS},
        where,
    )
    if "outline" not in data:
        raise SalvageError(f"{where}: it has no outline. Add one, a GeoJSON Polygon in mm.")
    outline = as_outline(data["outline"], f"{where}: outline")
    layers = data.get("layers", 1)
    if not isinstance(layers, int) or isinstance(layers, bool) or not 1 <= layers <= 20:
        raise SalvageError(f"{where}: layers is {shown(layers)}. Write a whole number from 1 to 20.")
    one_way = data.get("one_way", False)
    if not isinstance(one_way, bool):
        raise SalvageError(f"{where}: one_way is {shown(one_way)}. Write true or false.")
    blocked = as_list(data.get("blocked", []), f"{where}: blocked")
    given, drawn = (data.get(name) for name in ("usable", "usable_by_person"))
    if len(blocked) > _MOST_BLOCKED:
        raise SalvageError(
            f"{where}: it has {len(blocked)} blocked areas; {_MOST_BLOCKED} is the most. Measure again."
        )
    cleared = as_list(data.get("cleared", []), f"{where}: cleared")
    piece = Piece(
        name=name,
        outline=outline,
        fabric=as_text(data.get("fabric", "shell"), f"{where}: fabric") or "shell",
        layers=layers,
        grain=as_number(data.get("grain", 90.0), f"{where}: grain") % 360.0,
        one_way=one_way,
        blocked=tuple(_blocked(each, f"{where}: blocked area {n}") for n, each in enumerate(blocked, 1)),
        plus_minus=_plus_minus(data.get("plus_minus"), f"{where}: plus_minus"),
        photo=_photo(data.get("photo"), f"{where}: photo"),
        confidence=as_share(data.get("confidence", 1.0), f"{where}: confidence"),
        by_person=as_texts(data.get("by_person", []), f"{where}: by_person"),
        cleared=tuple(sound for each in cleared for sound in _cleared(each, f"{where}: cleared")),
        number=_mark_number(data.get("mark", 0), f"{where}: mark"),
        extra=extra,
    )
    with _own_note(where):
        return by_hand.told_apart(
            piece,
            data,
            data.get("written"),
            recorded=None if given is None else as_usable(given, outline, f"{where}: usable"),
            drawn=None if drawn is None else as_usable(drawn, outline, f"{where}: usable_by_person"),
        )


@contextmanager
def _own_note(where: str) -> Iterator[None]:
    try:
        yield
    except (
        TypeError,
        ValueError,
        KeyError,
        IndexError,
        AttributeError,
        shapely.errors.ShapelyError,
    ) as error:
        raise SalvageError(
            f'{where}: written: this is the program\'s own note of what it wrote. Take "written" out.'
        ) from error


def _cleared(data: Any, where: str) -> tuple[Cleared, ...]:
    """A patch is a bare geometry; what was taken out is an object with its shape and, where known, its kind."""
    if isinstance(data, dict) and "shape" in data:
        geometry = as_blocking(data["shape"], f"{where}: shape")
        kind = as_choice(BlockedKind, data["kind"], f"{where}: kind") if "kind" in data else None
        return (Cleared(geometry, kind),)
    return tuple(Cleared(each, patch=True) for each in polygons_of(as_geometry(data, where)))


def _blocked(data: Any, where: str) -> Blocked:
    extra = unknown_in(data, _BLOCKED_KEYS, where) if isinstance(data, dict) else {}
    extra |= unknown_inside(data, {"shape": _SHAPE_KEYS}, where) if isinstance(data, dict) else {}
    if not isinstance(data, dict) or "shape" not in data:
        raise SalvageError(f"{where}: it has no shape. Add one, a GeoJSON Polygon or LineString in mm.")
    kind = as_choice(BlockedKind, data.get("kind", "other"), f"{where}: kind")
    margin = as_number(data.get("margin", MARGIN[kind]), f"{where}: margin")
    if not 0 <= margin <= LARGEST:
        raise SalvageError(f"{where}: margin is {margin:g}. Write 0 or more, in mm.")
    return Blocked(
        kind=kind,
        shape=as_blocking(data["shape"], f"{where}: shape"),
        margin=margin,
        found_by=as_choice(FoundBy, data.get("found_by", "person"), f"{where}: found_by"),
        what=as_text(data.get("what", ""), f"{where}: what"),
        confidence=as_share(data.get("confidence", 1.0), f"{where}: confidence"),
        id=as_text(data.get("id", ""), f"{where}: id"),
        number=_mark_number(data.get("mark", 0), f"{where}: mark"),
        extra=extra,
    )


def _question(data: Any, where: str) -> Question:
    """A question with the answer that a person may have written into it by hand."""
    if not isinstance(data, dict) or not {"number", "about", "shape"} <= data.keys():
        raise SalvageError(f"{where}: it needs number, about and shape. Mend it, or take it out.")
    unknown_in(data, _QUESTION_KEYS, where)
    number = data["number"]
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        raise SalvageError(f"{where}: number is {number!r}. Write a whole number from 1.")
    geometry = as_geometry(data["shape"], f"{where}: shape")
    if not isinstance(geometry, Polygon | MultiPolygon | LineString | MultiLineString):
        raise SalvageError(f"{where}: its shape is a {geometry.geom_type}. Give a Polygon or a LineString.")
    return Question(
        number=number,
        text=as_text(data.get("text", ""), f"{where}: text"),
        about=as_text(data["about"], f"{where}: about"),
        shape=geometry,
        photo=as_text(data.get("photo", ""), f"{where}: photo"),
        weight=as_number(data.get("weight", 0.0), f"{where}: weight"),
        confidence=as_share(data.get("confidence", 0.5), f"{where}: confidence"),
        answer=_answer(data.get("answer", ""), f"{where}: answer"),
    )


def _hints(data: Any, where: str) -> Hints:
    if not isinstance(data, dict) or "photo" not in data:
        raise SalvageError(f"{where}: they name no photo. Add its file, or take the hints out.")
    unknown_in(data, _HINTS_KEYS, where)
    return Hints(
        as_text(data["photo"], f"{where}: photo"),
        *(
            tuple(
                as_stroke(each, f"{where}: {name}")
                for each in as_list(data.get(name, []), f"{where}: {name}")
            )
            for name in ("cloth", "floor")
        ),
    )


def _mark_number(data: Any, where: str) -> int:
    if not isinstance(data, int) or isinstance(data, bool) or not 0 <= data < _MOST_MARKS:
        raise SalvageError(f"{where}: {shown(data)} is no mark's number. Leave it out: a new one is given.")
    return data


def _answer(data: Any, where: str) -> Reply:
    """yes, no, or nothing yet; JSON's true and false will do."""
    if isinstance(data, bool):
        return Reply.YES if data else Reply.NO
    try:
        return Reply(str(data or "").strip().lower())
    except ValueError as error:
        raise SalvageError(
            f'{where}: {data!r} is no answer. Write "yes" or "no", or leave it empty.'
        ) from error


def _photo(data: Any, where: str) -> PiecePhoto | None:
    if data is None:
        return None
    if not isinstance(data, dict) or "file" not in data:
        near = "" if not isinstance(data, dict) else slip(data, _PHOTO_KEYS)
        raise SalvageError(f"{where}: it names no file. Add one, or leave photo out.{near}")
    return PiecePhoto(
        file=as_text(data["file"], f"{where}: file"),
        side=as_number(data.get("side", 0.0), f"{where}: side"),
        camera=as_object(data.get("camera"), f"{where}: camera"),
        mm_to_pixel=as_object(data.get("mm_to_pixel"), f"{where}: mm_to_pixel"),
        content=as_text(data.get("content", ""), f"{where}: content"),
    )


def _plus_minus(data: Any, where: str) -> PlusMinus:
    values = as_object(data, where)
    scale_percent = as_number(values.get("scale_percent", 0.0), f"{where}: scale_percent")
    edge = as_number(values.get("edge", 0.0), f"{where}: edge")
    grain = as_number(values.get("grain", 0.0), f"{where}: grain")
    if min(scale_percent, edge, grain) < 0:
        raise SalvageError(f"{where}: a plus-minus can't be negative.")
    return PlusMinus(scale_percent, edge, grain)

"""The garment record: reading, checking, writing and merging. Its format is `salvage garment 1`.

Shapes are GeoJSON geometry objects (RFC 7946, structure only: coordinates are mm on the plane, not
degrees). Fields this program doesn't know are kept and written again, those inside a known field too.
"""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon, shape
from shapely.geometry.base import BaseGeometry

from salvage.cloth.doubts import answers_applied
from salvage.cloth.garment import (
    Blocked,
    BlockedKind,
    Blocking,
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
from salvage.cloth.record.anew.merge import merge
from salvage.cloth.record.numbers import numbered
from salvage.cloth.record.write import FORMAT, garment_to_json, geometry_data
from salvage.errors import SalvageError, shown
from salvage.files import content_hash, inside, read_text, text_of, update
from salvage.shapes import polygons_of
from salvage.trade.margins import MARGIN

__all__ = [
    "garment_from_json",
    "garment_to_json",
    "geometry_data",
    "merge",
    "read_garment",
    "update_garment",
    "with_contents",
]

_HARMLESS_PERCENT = 0.5  # an outline that crosses itself is mended if no more of its area is in doubt
_NEARLY = 0.8  # likeness of two field names, by difflib, from which one is taken as a slip for the other
# In a record, a piece, a shape: beyond any garment.
_MOST_PIECES, _MOST_BLOCKED, _MOST_POINTS = 500, 5_000, 500_000
_DEEPEST = 40
_MOST_MARKS = 1_000_000_000
_LONGEST_NAME, _LONGEST_TEXT = 200, 5_000  # letters
_LARGEST = 20_000.0  # mm; a coordinate beyond this is a wrong unit or a slip, no garment is 20 m long

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
_GEOMETRIES = ("Point", "LineString", "Polygon", "MultiPoint", "MultiLineString", "MultiPolygon")
_WHAT = "a garment record (.json)"
_FARTHEST = 1e9  # no number in a record is as large, and what is reckoned with it stays finite
_BLOCKED_KEYS = {"kind", "margin", "found_by", "shape", "what", "confidence", "id", "mark"}
_HINTS_KEYS = {"photo", "cloth", "floor"}
_QUESTION_KEYS = {"number", "text", "about", "shape", "photo", "weight", "confidence", "answer"}


def read_garment(path: Path) -> Garment:
    """Read a garment record. Raises SalvageError saying which file, what is wrong and what to do."""
    return garment_from_json(read_text(path, _WHAT), str(path))


def update_garment(path: Path, change: Callable[[Garment | None], Garment]) -> Garment:
    """Write change(the garment in the record, None if there is none yet) into the record, and return it.

    Nobody's saving falls between reading and writing: change is called again with what was saved meanwhile.
    Raises SalvageError for a record that can't be read or written; it then stays as it is.
    """
    written: list[Garment] = []

    def changed(before: bytes | None) -> bytes:
        garment = change(
            None if before is None else garment_from_json(text_of(before, path, _WHAT), str(path))
        )
        garment = numbered(garment)
        written.append(garment)
        return garment_to_json(garment).encode()

    update(path, changed)
    return written[-1]


def with_contents(garment: Garment, folder: Path) -> Garment:
    """The garment with its photographs' content noted where an older record lacks it and the file is there."""

    def known(photo: PiecePhoto | None) -> PiecePhoto | None:
        if photo is None or photo.content:
            return photo
        try:
            path = inside(folder, photo.file)
            return replace(photo, content=content_hash(path)) if path.is_file() else photo
        except (OSError, ValueError, SalvageError):
            return photo

    return replace(
        garment,
        pieces=tuple(replace(each, photo=known(each.photo)) for each in garment.pieces),
        removed=tuple(replace(each, photo=known(each.photo)) for each in garment.removed),
    )


def garment_from_json(text: str, where: str = "garment record") -> Garment:
    """The garment in a record's text. where: what to call it in an error."""
    try:
        data = json.loads(text, object_pairs_hook=_once_each)
        _not_deep(data)
    except json.JSONDecodeError as error:
        raise SalvageError(
            f"{where}: not valid JSON (line {error.lineno}, column {error.colno}). Mend it there, or measure again."
        ) from error
    except _NotPlainError as error:
        raise SalvageError(f"{where}: {error}") from error
    except (RecursionError, ValueError) as error:
        deep = isinstance(error, RecursionError)
        what = "lists within lists without end" if deep else "a number of too many digits"
        raise SalvageError(f"{where}: not a garment record, it has {what}. Measure again.") from error
    return _garment(data, where)


class _NotPlainError(ValueError):
    """Something that JSON's own reader lets pass and that would not be read as it was written."""


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object of the file. Raises _NotPlainError for a key that stands in it twice (RFC 8259, 4: names should be
    unique), for then what was written is not what is read."""
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise _NotPlainError(
                f"{shown(key)!r} stands twice in one object, and only one can hold. Take one out."
            )
        found[key] = value
    return found


def _finite(data: Any, where: str) -> None:
    """Raise SalvageError for NaN and Infinity, which JSON's own reader lets pass and its writer doesn't."""
    if isinstance(data, float) and not math.isfinite(data):
        raise SalvageError(f"{where}: {data} is not a number. Mend it, or take it out.")
    if isinstance(data, (dict, list)):
        for each in data.values() if isinstance(data, dict) else data:
            _finite(each, where)


def _not_deep(data: Any, within: int = 0) -> None:
    if within > _DEEPEST:
        raise _NotPlainError(f"has lists or objects {_DEEPEST} deep in each other. Measure again.")
    if isinstance(data, (dict, list)):
        for each in data.values() if isinstance(data, dict) else data:
            if isinstance(each, (dict, list)):
                _not_deep(each, within + 1)


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
    extra = _unknown(data, _GARMENT_KEYS, where)
    pieces = _list(data.get("pieces"), f"{where}: pieces")
    if not pieces:
        raise SalvageError(f"{where}: it has no pieces. Measure again, or add a piece.")
    removed = _list(data.get("removed", []), f"{where}: removed")
    if len(pieces) > _MOST_PIECES:
        raise SalvageError(
            f"{where}: it has {len(pieces)} pieces, and a garment has {_MOST_PIECES} at most. Part it."
        )
    garment = Garment(
        name=_text(data.get("name", "garment"), f"{where}: name"),
        pieces=tuple(_piece(each, f"{where}: piece {number}") for number, each in enumerate(pieces, 1)),
        kind=_text(data.get("kind", ""), f"{where}: kind"),
        cautions=_texts(data.get("cautions", []), f"{where}: cautions"),
        warnings=_texts(data.get("warnings", []), f"{where}: warnings"),
        by_person=_texts(data.get("by_person", []), f"{where}: by_person"),
        unsaid=_texts(data.get("unsaid", []), f"{where}: unsaid"),
        removed=tuple(_piece(each, f"{where}: removed piece {n}") for n, each in enumerate(removed, 1)),
        questions=tuple(
            _question(each, f"{where}: question {number}")
            for number, each in enumerate(_list(data.get("questions", []), f"{where}: questions"), 1)
        ),
        hints=tuple(
            _hints(each, f"{where}: hints {number}")
            for number, each in enumerate(_list(data.get("hints", []), f"{where}: hints"), 1)
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


def _piece(data: Any, where: str) -> Piece:
    if not isinstance(data, dict):
        raise SalvageError(f"{where}: not an object. Give it a name and an outline.")
    name = _text(data.get("name", ""), f"{where}: name") or where.rsplit(": ", 1)[-1]
    where = f"{where} ({shown(name)})"
    extra = _unknown(data, _PIECE_KEYS, where) | _unknown_inside(
        data,
        {"photo": _PHOTO_KEYS, "plus_minus": _PLUS_MINUS_KEYS, "outline": _SHAPE_KEYS, "usable": _SHAPE_KEYS},
        where,
    )
    if "outline" not in data:
        raise SalvageError(f"{where}: it has no outline. Add one, a GeoJSON Polygon in mm.")
    outline = _outline(data["outline"], f"{where}: outline")
    layers = data.get("layers", 1)
    if not isinstance(layers, int) or isinstance(layers, bool) or not 1 <= layers <= 20:
        raise SalvageError(f"{where}: layers is {shown(layers)}. Write a whole number from 1 to 20.")
    one_way = data.get("one_way", False)
    if not isinstance(one_way, bool):
        raise SalvageError(f"{where}: one_way is {shown(one_way)}. Write true or false.")
    blocked = _list(data.get("blocked", []), f"{where}: blocked")
    given, drawn = (data.get(name) for name in ("usable", "usable_by_person"))
    if len(blocked) > _MOST_BLOCKED:
        raise SalvageError(
            f"{where}: it has {len(blocked)} blocked areas; {_MOST_BLOCKED} is the most. Measure again."
        )
    cleared = _list(data.get("cleared", []), f"{where}: cleared")
    piece = Piece(
        name=name,
        outline=outline,
        fabric=_text(data.get("fabric", "shell"), f"{where}: fabric") or "shell",
        layers=layers,
        grain=_number(data.get("grain", 90.0), f"{where}: grain") % 360.0,
        one_way=one_way,
        blocked=tuple(_blocked(each, f"{where}: blocked area {n}") for n, each in enumerate(blocked, 1)),
        plus_minus=_plus_minus(data.get("plus_minus"), f"{where}: plus_minus"),
        photo=_photo(data.get("photo"), f"{where}: photo"),
        confidence=_share(data.get("confidence", 1.0), f"{where}: confidence"),
        by_person=_texts(data.get("by_person", []), f"{where}: by_person"),
        cleared=tuple(sound for each in cleared for sound in _cleared(each, f"{where}: cleared")),
        number=_mark_number(data.get("mark", 0), f"{where}: mark"),
        extra=extra,
    )
    with _own_note(where):
        return by_hand.told_apart(
            piece,
            data,
            data.get("written"),
            recorded=None if given is None else _usable(given, outline, f"{where}: usable"),
            drawn=None if drawn is None else _usable(drawn, outline, f"{where}: usable_by_person"),
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
        geometry = _blocking(data["shape"], f"{where}: shape")
        kind = _choice(BlockedKind, data["kind"], f"{where}: kind") if "kind" in data else None
        return (Cleared(geometry, kind),)
    return tuple(Cleared(each, patch=True) for each in polygons_of(_geometry(data, where)))


def _blocked(data: Any, where: str) -> Blocked:
    extra = _unknown(data, _BLOCKED_KEYS, where) if isinstance(data, dict) else {}
    extra |= _unknown_inside(data, {"shape": _SHAPE_KEYS}, where) if isinstance(data, dict) else {}
    if not isinstance(data, dict) or "shape" not in data:
        raise SalvageError(f"{where}: it has no shape. Add one, a GeoJSON Polygon or LineString in mm.")
    kind = _choice(BlockedKind, data.get("kind", "other"), f"{where}: kind")
    margin = _number(data.get("margin", MARGIN[kind]), f"{where}: margin")
    if not 0 <= margin <= _LARGEST:
        raise SalvageError(f"{where}: margin is {margin:g}. Write 0 or more, in mm.")
    return Blocked(
        kind=kind,
        shape=_blocking(data["shape"], f"{where}: shape"),
        margin=margin,
        found_by=_choice(FoundBy, data.get("found_by", "person"), f"{where}: found_by"),
        what=_text(data.get("what", ""), f"{where}: what"),
        confidence=_share(data.get("confidence", 1.0), f"{where}: confidence"),
        id=_text(data.get("id", ""), f"{where}: id"),
        number=_mark_number(data.get("mark", 0), f"{where}: mark"),
        extra=extra,
    )


def _blocking(data: Any, where: str) -> Blocking:
    geometry = _geometry(data, where)
    if not isinstance(geometry, Polygon | MultiPolygon | LineString | MultiLineString):
        raise SalvageError(f"{where}: it is a {geometry.geom_type}. Give a Polygon or a LineString.")
    return _mended(geometry)


def _question(data: Any, where: str) -> Question:
    """A question with the answer that a person may have written into it by hand."""
    if not isinstance(data, dict) or not {"number", "about", "shape"} <= data.keys():
        raise SalvageError(f"{where}: it needs number, about and shape. Mend it, or take it out.")
    _unknown(data, _QUESTION_KEYS, where)
    number = data["number"]
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        raise SalvageError(f"{where}: number is {number!r}. Write a whole number from 1.")
    geometry = _geometry(data["shape"], f"{where}: shape")
    if not isinstance(geometry, Polygon | MultiPolygon | LineString | MultiLineString):
        raise SalvageError(f"{where}: its shape is a {geometry.geom_type}. Give a Polygon or a LineString.")
    return Question(
        number=number,
        text=_text(data.get("text", ""), f"{where}: text"),
        about=_text(data["about"], f"{where}: about"),
        shape=geometry,
        photo=_text(data.get("photo", ""), f"{where}: photo"),
        weight=_number(data.get("weight", 0.0), f"{where}: weight"),
        confidence=_share(data.get("confidence", 0.5), f"{where}: confidence"),
        answer=_answer(data.get("answer", ""), f"{where}: answer"),
    )


def _hints(data: Any, where: str) -> Hints:
    if not isinstance(data, dict) or "photo" not in data:
        raise SalvageError(f"{where}: they name no photo. Add its file, or take the hints out.")
    _unknown(data, _HINTS_KEYS, where)
    return Hints(
        _text(data["photo"], f"{where}: photo"),
        *(
            tuple(_stroke(each, f"{where}: {name}") for each in _list(data.get(name, []), f"{where}: {name}"))
            for name in ("cloth", "floor")
        ),
    )


def _stroke(data: Any, where: str) -> tuple[tuple[float, float], ...]:
    """Pixels [[x, y], ...]; a lone [x, y] is a stroke of one."""
    points = _list(data, where)
    points = [points] if len(points) == 2 and not any(isinstance(each, list) for each in points) else points
    if not 1 <= len(points) <= _MOST_POINTS or any(not isinstance(p, list) or len(p) != 2 for p in points):
        raise SalvageError(f"{where}: not a stroke. Write pixels, [[x, y], ...].")
    return tuple((_number(x, where), _number(y, where)) for x, y in points)


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


def _mended(geometry: Blocking) -> Blocking:
    """A blocked area that crosses itself blocks all it goes round, so mending may only add to it."""
    if geometry.is_valid or not isinstance(geometry, Polygon | MultiPolygon):
        return geometry
    parts = [geometry] if isinstance(geometry, Polygon) else list(geometry.geoms)
    filled = [shapely.make_valid(Polygon(each.exterior)) for each in parts]
    return MultiPolygon(polygons_of(shapely.union_all([*filled, *(shapely.make_valid(p) for p in parts)])))


def _outline(data: Any, where: str) -> Polygon:
    geometry = _geometry(data, where)
    if isinstance(geometry, MultiPolygon) and len(geometry.geoms) == 1:
        geometry = geometry.geoms[0]
    if not isinstance(geometry, Polygon):
        raise SalvageError(f"{where}: it is a {geometry.geom_type}. A piece's outline is one Polygon.")
    if (
        geometry.interiors
        and shapely.make_valid(Polygon(geometry.exterior)).difference(_holes(geometry)).area < 1.0
    ):
        raise SalvageError(
            f"{where}: its holes are as large as the outline, so no cloth is left. Its first ring is the edge, the others "
            "are holes: correct them."
        )
    parts = polygons_of(shapely.make_valid(geometry))
    if not parts or parts[0].area < 1.0:
        raise SalvageError(f"{where}: it encloses no cloth. Give at least three corners, in mm.")
    whole = geometry.is_valid
    if not whole and sum(p.area for p in parts[1:]) > parts[0].area * _HARMLESS_PERCENT / 100:
        raise SalvageError(f"{where}: it crosses itself. Draw it again without crossing, or as two pieces.")
    return geometry if whole else parts[0]


def _holes(polygon: Polygon) -> BaseGeometry:
    return shapely.union_all([shapely.make_valid(Polygon(ring)) for ring in polygon.interiors])


def _usable(data: Any, outline: Polygon, where: str) -> MultiPolygon:
    geometry = _geometry(data, where)
    if not isinstance(geometry, Polygon | MultiPolygon):
        raise SalvageError(f"{where}: it is a {geometry.geom_type}. Give a MultiPolygon, or leave it out.")
    geometry = geometry if geometry.is_valid else shapely.make_valid(geometry)
    if not outline.covers(geometry):
        geometry = geometry.intersection(outline)  # cloth can't be used where there is none
    return MultiPolygon(polygons_of(geometry))


def _geometry(data: Any, where: str) -> BaseGeometry:
    if not isinstance(data, dict) or "type" not in data or "coordinates" not in data:
        near = "" if not isinstance(data, dict) else _slip(data, {"type", "coordinates"})
        raise SalvageError(f"{where}: not a GeoJSON geometry. It needs a type and coordinates.{near}")
    if data["type"] not in _GEOMETRIES:
        raise SalvageError(
            f"{where}: its type is {shown(data['type'])!r}. Write one of {', '.join(_GEOMETRIES)}."
        )
    if _numbers_in(data["coordinates"]) > 3 * _MOST_POINTS:
        raise SalvageError(f"{where}: it has more than {_MOST_POINTS} points. Draw it with fewer.")
    try:
        geometry = shape(data)
    except (
        ArithmeticError,
        AttributeError,
        IndexError,
        KeyError,
        TypeError,
        ValueError,
        shapely.errors.ShapelyError,
    ) as error:
        raise SalvageError(f"{where}: its coordinates don't make a {data['type']}. Mend them.") from error
    points = shapely.get_coordinates(geometry)
    if points.size and not (abs(points) < _LARGEST).all():
        raise SalvageError(
            f"{where}: a coordinate lies beyond {_LARGEST / 1000:g} m or is no number. Coordinates are in mm."
        )
    return shapely.force_2d(geometry)


def _numbers_in(data: Any) -> int:
    return sum(map(_numbers_in, data)) if isinstance(data, list) else 1


def _photo(data: Any, where: str) -> PiecePhoto | None:
    if data is None:
        return None
    if not isinstance(data, dict) or "file" not in data:
        near = "" if not isinstance(data, dict) else _slip(data, _PHOTO_KEYS)
        raise SalvageError(f"{where}: it names no file. Add one, or leave photo out.{near}")
    return PiecePhoto(
        file=_text(data["file"], f"{where}: file"),
        side=_number(data.get("side", 0.0), f"{where}: side"),
        camera=_object(data.get("camera"), f"{where}: camera"),
        mm_to_pixel=_object(data.get("mm_to_pixel"), f"{where}: mm_to_pixel"),
        content=_text(data.get("content", ""), f"{where}: content"),
    )


def _plus_minus(data: Any, where: str) -> PlusMinus:
    values = _object(data, where)
    scale_percent = _number(values.get("scale_percent", 0.0), f"{where}: scale_percent")
    edge = _number(values.get("edge", 0.0), f"{where}: edge")
    grain = _number(values.get("grain", 0.0), f"{where}: grain")
    if min(scale_percent, edge, grain) < 0:
        raise SalvageError(f"{where}: a plus-minus can't be negative.")
    return PlusMinus(scale_percent, edge, grain)


def _unknown(data: Mapping[str, Any], known: set[str], where: str) -> dict[str, Any]:
    """Fields to keep. Raises SalvageError for one that is nearly a known one: it is a slip, and dropping it
    quietly could turn a blocked place into good cloth."""
    unknown = {key: value for key, value in data.items() if key not in known}
    for key, value in unknown.items():
        _finite(value, f"{where}: {shown(key)}")
        near = _slip([key], known)
        if near:
            raise SalvageError(f"{where}: {shown(key)!r} means nothing here.{near}")
    return unknown


def _unknown_inside(data: Mapping[str, Any], known: Mapping[str, set[str]], where: str) -> dict[str, Any]:
    """Fields to keep that stand inside known fields, under those fields' names."""
    found = {
        name: _unknown(data[name], keys, f"{where}: {name}")
        for name, keys in known.items()
        if isinstance(data.get(name), dict)
    }
    return {name: unknown for name, unknown in found.items() if unknown}


def _slip(keys: Iterable[str], known: set[str]) -> str:
    """` Did you mean 'one_way'?` where one of the keys is nearly a known one, else nothing."""
    plain = {_bare(each): each for each in known}
    for key in keys:
        bare = _bare(key[:100])
        near = [each for each in plain if sorted(each) == sorted(bare)]  # letters exchanged
        near = near or difflib.get_close_matches(bare, plain, n=1, cutoff=_NEARLY)
        if key not in known and near:
            return f" Did you mean {plain[near[0]]!r}?"
    return ""


def _bare(key: str) -> str:
    """A key without what people write differently: `oneWay`, `One-Way`."""
    return "".join(letter for letter in key.lower() if letter.isalnum())


def _object(data: Any, where: str) -> dict[str, Any]:
    if data is None:
        return {}
    if not isinstance(data, dict):
        raise SalvageError(f"{where}: not an object. Mend it, or leave it out.")
    _finite(data, where)
    return data


def _list(data: Any, where: str) -> list[Any]:
    if not isinstance(data, list):
        raise SalvageError(f"{where}: not a list. Mend it.")
    return data


def _text(data: Any, where: str) -> str:
    if not isinstance(data, str):
        raise SalvageError(f"{where}: {shown(data)} is not text. Put it in quotes.")
    most = (
        _LONGEST_TEXT if where.endswith(("cautions", "warnings", "what", "file", "text")) else _LONGEST_NAME
    )
    if len(data) > most:
        raise SalvageError(f"{where}: is a text of {len(data)} letters. Write {most} at most.")
    if any("\ud800" <= letter <= "\udfff" for letter in data):
        raise SalvageError(f"{where}: holds half a letter (\\ud800 to \\udfff alone). Write it anew.")
    return data


def _texts(data: Any, where: str) -> tuple[str, ...]:
    return tuple(_text(each, where) for each in _list(data, where))


def _number(data: Any, where: str) -> float:
    if isinstance(data, bool) or not isinstance(data, int | float) or not abs(data) < _FARTHEST:
        raise SalvageError(
            f"{where}: {shown(data)} is not a number to measure with. Write one in mm or degrees."
        )
    return float(data)


def _share(data: Any, where: str) -> float:
    value = _number(data, where)
    if not 0.0 <= value <= 1.0:
        raise SalvageError(f"{where}: {value:g} is not between 0 and 1.")
    return value


def _choice(kinds: Callable[[str], Any], data: Any, where: str) -> Any:
    try:
        return kinds(data)
    except ValueError as error:
        names = ", ".join(str(each) for each in kinds)  # type: ignore[attr-defined]
        raise SalvageError(f"{where}: {shown(data)!r} is not known. Write one of {names}.") from error


# --- writing ---------------------------------------------------------------------------------------

"""Writing a garment as a record: the JSON text, with a note of what was written."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from shapely.geometry import mapping
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, Cleared, Garment, Hints, Piece, PiecePhoto, Question
from salvage.cloth.record.anew import by_hand
from salvage.cloth.record.compact import Ready, compact_json, text_within
from salvage.cloth.record.numbers import numbered
from salvage.cloth.usable import usable
from salvage.same import Same

FORMAT = "salvage garment 1"


def garment_to_json(garment: Garment) -> str:
    """The record's text, ending in a newline. Usable cloth is computed where the piece has none, and what has no
    number yet is given one."""
    garment = numbered(garment)
    data: dict[str, Any] = {"format": FORMAT, "units": "mm", "name": garment.name}
    if garment.kind:
        data["kind"] = garment.kind
    data["pieces"] = [_piece_text(Same(each), number) for number, each in enumerate(garment.pieces)]
    for name in ("cautions", "warnings", "by_person", "unsaid"):
        if sentences := getattr(garment, name):
            data[name] = list(sentences)
    if garment.removed:
        data["removed"] = [_piece_text(Same(each), -1) for each in garment.removed]
    if garment.questions:
        data["questions"] = [_question_data(each) for each in garment.questions]
    if garment.hints:
        data["hints"] = [_hints_data(each) for each in garment.hints]
    data["marks"] = garment.numbers
    data["written"] = by_hand.garment_written(
        garment, [_photo_data(each) for each in by_hand.photographs(garment)]
    )
    return compact_json(_overlaid(data, garment.extra))


@lru_cache(maxsize=128)  # an edit changes a piece or two, and all are written
def _piece_text(piece: Same[Piece], number: int) -> Ready:
    return text_within(_piece_data(piece.thing, number), 2)


def _piece_data(piece: Piece, number: int) -> dict[str, Any]:
    data: dict[str, Any] = {
        "mark": piece.number,
        "name": piece.name,
        "fabric": piece.fabric,
        "layers": piece.layers,
        "grain": round(piece.grain, 2),
        "one_way": piece.one_way,
        "outline": geometry_data(piece.outline),
        "blocked": [_blocked_data(each) for each in piece.blocked],
        "usable": geometry_data(usable(piece)),
        "plus_minus": {
            "scale_percent": round(piece.plus_minus.scale_percent, 3),
            "edge": round(piece.plus_minus.edge, 2),
            **({"grain": round(piece.plus_minus.grain, 1)} if piece.plus_minus.grain else {}),
        },
    }
    if piece.photo is not None:
        data["photo"] = _photo_data(piece.photo)
    if piece.confidence < 1.0 or "confidence" in piece.by_person:
        data["confidence"] = round(piece.confidence, 3)
    if piece.by_person:
        data["by_person"] = list(piece.by_person)
    if piece.cleared:
        data["cleared"] = [_cleared_data(each) for each in piece.cleared]
    if piece.usable is not None:
        data["usable_by_person"] = geometry_data(piece.usable)
    data["written"] = by_hand.written(piece, data, number)
    return _overlaid(data, piece.extra)


def _photo_data(photo: PiecePhoto) -> dict[str, Any]:
    data: dict[str, Any] = {"file": photo.file, "side": photo.side}
    if photo.content:
        data["content"] = photo.content
    return data | {"camera": dict(photo.camera), "mm_to_pixel": dict(photo.mm_to_pixel)}


def _cleared_data(cleared: Cleared) -> dict[str, Any]:
    if cleared.patch:
        return geometry_data(cleared.shape)
    kind = {} if cleared.kind is None else {"kind": str(cleared.kind)}
    return {**kind, "shape": geometry_data(cleared.shape)}


def _overlaid(data: dict[str, Any], extra: Mapping[str, Any]) -> dict[str, Any]:
    """The data with the unknown fields among and inside its own, which are never replaced."""
    laid = dict(data)
    for name, value in extra.items():
        if name not in laid:
            laid[name] = value
        elif isinstance(laid[name], dict) and isinstance(value, Mapping):
            laid[name] = _overlaid(laid[name], value)
    return laid


def _blocked_data(blocked: Blocked) -> dict[str, Any]:
    data: dict[str, Any] = {
        "mark": blocked.number,
        "kind": str(blocked.kind),
        "margin": blocked.margin,
        "found_by": str(blocked.found_by),
        "shape": geometry_data(blocked.shape),
    }
    if blocked.what:
        data["what"] = blocked.what
    if blocked.confidence < 1.0:
        data["confidence"] = round(blocked.confidence, 3)
    if blocked.id:
        data["id"] = blocked.id
    return _overlaid(data, blocked.extra)


def _question_data(question: Question) -> dict[str, Any]:
    return {
        "number": question.number,
        "text": question.text,
        "answer": str(question.answer),
        "about": question.about,
        "confidence": round(question.confidence, 3),
        "weight": round(question.weight, 1),
        "photo": question.photo,
        "shape": geometry_data(question.shape),
    }


def _hints_data(hints: Hints) -> dict[str, Any]:
    strokes = {
        name: [[list(point) for point in stroke] for stroke in getattr(hints, name)]
        for name in ("cloth", "floor")
    }
    return {"photo": hints.photo, **{name: each for name, each in strokes.items() if each}}


def geometry_data(geometry: BaseGeometry) -> dict[str, Any]:
    """A GeoJSON geometry object of plain lists."""
    data = mapping(geometry)
    return {"type": data["type"], "coordinates": _lists(data["coordinates"])}


def _lists(value: Any) -> Any:
    if isinstance(value, tuple | list):
        return [_lists(each) for each in value]
    return round(float(value), 6)

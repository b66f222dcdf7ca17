"""What a person says of a numbered mark, of a piece or of the whole garment."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import shapely
from shapely.geometry import Point

from salvage.cloth.doubts import answered, asked
from salvage.cloth.garment import BlockedKind, Garment, Reply
from salvage.cloth.record import edits
from salvage.desk.edit.told import Said, piece_told
from salvage.errors import UsageError, shown

SETTABLE = ("name", "fabric", "layers", "one_way", "grain")
_REPLIES = {"yes": Reply.YES, "no": Reply.NO, "unsure": Reply.OPEN}


def take_off(garment: Garment, told: Said) -> Garment:
    mark = told.mark()
    places = [(piece, number) for piece, number in mark.places if number is not None]
    if not places:
        return edits.remove_piece(garment, mark.piece)
    ids = {garment.pieces[p].blocked[b].id for p, b in places} - {""}
    asks = next((q for q in garment.questions if q.about in ids and q.answer is Reply.OPEN), None)
    if asks is not None:
        garment = replace(
            garment,
            questions=tuple(replace(q, answer=Reply.NO) if q is asks else q for q in garment.questions),
        )
    return edits.take_off(garment, places)


def shape(garment: Garment, told: Said) -> Garment:
    mark = told.mark()
    places = [(piece, number) for piece, number in mark.places if number is not None]
    if not places:
        return edits.draw_outline_among(garment, mark.piece, told.ring())
    is_line = not mark.shape.area and "brush" not in told.action
    return edits.redraw(garment, places, told.line() if is_line else told.area())


def kind(garment: Garment, told: Said) -> Garment:
    mark = told.mark()
    kind = told.text("kind") or mark.kind
    if kind not in list(BlockedKind):
        raise UsageError(f"{kind!r} is no kind. Write one of {', '.join(BlockedKind)}.")
    fields: dict[str, Any] = {"kind": BlockedKind(kind), "confidence": 1.0}
    if "what" in told.action or kind != mark.kind:
        fields["what"] = told.text("what")
    if "margin" in told.action:
        fields["margin"] = told.number("margin")
        if not 0 <= fields["margin"] <= 500:
            raise UsageError("a margin is 0 to 500 mm.")
    for piece, number in mark.places:
        if number is None:
            raise UsageError(f"mark {mark.number} is a piece. Give the number of a seam or of another find.")
        garment = edits.at(garment, piece, lambda p, n=number: edits.change_blocked(p, n, **fields))  # type: ignore[misc]
    return garment


def answer(garment: Garment, told: Said) -> Garment:
    reply = told.text("reply").lower()
    if reply not in _REPLIES:
        raise UsageError(f"{reply!r} is no answer. Say yes, no or unsure.")
    garment = answered(garment, told.count("question"), _REPLIES[reply])
    return asked(garment, garment.questions)


def split(garment: Garment, told: Said) -> Garment:
    seam = told.action.get("seam", True)
    if not isinstance(seam, bool):
        raise UsageError("seam is true or false.")
    return edits.split_piece(garment, told.piece(), told.line(), seam=seam)


def join(garment: Garment, told: Said) -> Garment:
    pieces = told.action["pieces"]
    if not isinstance(pieces, Sequence) or isinstance(pieces, str) or len(pieces) != 2:
        raise UsageError("join takes two pieces.")
    first, second = (piece_told(garment, each) for each in pieces)
    return edits.join_pieces(garment, first, second)


def remove(garment: Garment, told: Said) -> Garment:
    return edits.remove_piece(garment, told.piece())


def put_back(garment: Garment, told: Said) -> Garment:
    value = told.action["removed"]
    if isinstance(value, str):
        names = [each.name.casefold() for each in garment.removed]
        if value.strip().casefold() not in names:
            there = ", ".join(each.name for each in garment.removed) or "none"
            raise UsageError(f"no piece called {shown(value)!r} was taken out; taken out were: {there}.")
        return edits.put_back(garment, names.index(value.strip().casefold()))
    return edits.put_back(garment, told.count("removed"))


def set_fields(garment: Garment, told: Said) -> Garment:
    number = told.piece()
    fields = {key: told.action[key] for key in SETTABLE if key in told.action}
    if not fields:
        raise UsageError("set needs one of name, fabric, layers, one_way, grain.")
    if "name" in fields:
        garment = edits.rename(garment, number, told.text("name"))
        del fields["name"]
    if "fabric" in fields:
        fields["fabric"] = told.text("fabric")
        if not fields["fabric"]:
            raise UsageError("a fabric needs a name, such as shell or lining.")
    if "layers" in fields:
        fields["layers"] = told.count("layers")
    if "one_way" in fields and not isinstance(fields["one_way"], bool):
        raise UsageError("one_way is true or false.")
    if "grain" in fields:
        fields["grain"] = told.number("grain")
    return edits.at(garment, number, lambda piece: edits.set_fields(piece, **fields)) if fields else garment


def grain(garment: Garment, told: Said) -> Garment:
    number = told.piece()
    points = told.points(2, "the grain")
    if len(points) != 2:
        raise UsageError("the grain is an arrow: two points, the second where it points.")
    (x0, y0), (x1, y1) = shapely.get_coordinates(
        shapely.MultiPoint([Point(shapely.get_coordinates(told.on_plane(Point(p)))[0]) for p in points])
    )
    if math.hypot(x1 - x0, y1 - y0) < 1.0:
        raise UsageError("the two ends of the grain lie on one place. Draw it along the thread, some way.")
    angle = math.degrees(math.atan2(y1 - y0, x1 - x0))
    return edits.at(garment, number, lambda piece: edits.set_fields(piece, grain=round(angle % 360.0, 2)))


def set_garment(garment: Garment, told: Said) -> Garment:
    if "kind" in told.action:
        from salvage.trade.kinds import kind_named

        garment = edits.set_kind(garment, kind_named(told.text("kind")).name if told.text("kind") else "")
    if "name" in told.action:
        if not told.text("name"):
            raise UsageError("a garment needs a name.")
        garment = replace(garment, name=told.text("name"))
    return garment

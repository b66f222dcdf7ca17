"""Questions about a piece or a garment as a whole: which way the grain runs, and whether it is padded.

They have no blocked area. Their `about` is GRAIN or PADDING, where others name a blocked area; lines of their
shape lie on the pieces they are about, along the grain as it is thought to run.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import shapely
from shapely.geometry import LineString, MultiLineString, Point

from salvage.cloth.garment import GRAIN_UNSURE, Garment, Piece, Question, Reply
from salvage.cloth.usable import usable_of
from salvage.trade.kinds import kind_named

GRAIN, PADDING = "grain", "padding"
OF_ALL = (GRAIN, PADDING)
PADDED = "padded"  # the kind of cloth that a yes stands for
_EITHER = 60.0  # degrees of doubt from which the grain may as well run across
_LOOKED = 3.0  # degrees that a person who looks at the threads may be off
_SMALLEST = 10_000.0  # mm^2 of a piece whose grain is asked about: on a smaller one it is easily seen
# Share of a piece's cloth that is at stake where its grain may be wrong, at most. Where it may be a few degrees off it is less:
# a panel turned by so much leaves about the sine of it of the cloth that it lay on.
_AT_STAKE = 0.25
_LINE = 60.0  # mm, half of the line drawn on a piece
_NAMED = 3  # pieces named in one question


def grain_questions(garment: Garment) -> list[Question]:
    """One question a photograph for the pieces whose grain is the garment's and unsure by some degrees; one
    for each piece whose grain may run either way. What a person set isn't asked."""
    unsure: dict[str, list[Piece]] = {}
    found = []
    for piece in garment.pieces:
        if not _is_asked(piece):
            continue
        if piece.plus_minus.grain >= _EITHER:
            text = (
                f"does the grain of the {piece.name} run as the line shows? Such pieces are cut across as often. "
                "Look at the threads, or pull one; no means across."
            )
            found.append(_question(text, [piece]))
        else:
            unsure.setdefault(_photo(piece), []).append(piece)
    for pieces in unsure.values():
        pieces = sorted(pieces, key=lambda each: -each.outline.area)
        named = ", ".join(each.name for each in pieces[:_NAMED])
        more = f" and {len(pieces) - _NAMED} more" if len(pieces) > _NAMED else ""
        off = math.ceil(max(each.plus_minus.grain for each in pieces))
        text = (
            f"does the grain of the {named}{more} run as the line{'s show' if len(pieces) > 1 else ' shows'}? It may be "
            f"{off} degrees off. Look at the threads; where it doesn't, set grain in the record."
        )
        found.append(_question(text, pieces))
    return found


def padding_question(pieces: Iterable[Piece], chance: float) -> Question:
    """Whether the garment is padded or quilted. pieces: of one photograph."""
    pieces = sorted(pieces, key=lambda each: -each.outline.area)
    area = sum(usable_of(each.outline, each.blocked).area for each in pieces)
    return Question(
        number=0,
        text=(
            "is this garment padded or quilted? Then nothing that is said of it holds: padding doesn't lie flat, and the "
            "filling comes out where it is cut."
        ),
        about=PADDING,
        shape=_line(pieces[0]),
        photo=_photo(pieces[0]),
        weight=round(4 * chance * (1 - chance) * area, 1),
        confidence=chance,
    )


def settled(garment: Garment, question: Question, reply: Reply) -> Garment:
    """The garment with what an answer to one of these questions says."""
    if question.about == PADDING:
        if "kind" in garment.by_person or reply is Reply.OPEN:
            return garment
        if reply is Reply.NO:
            return replace(garment, kind="")
        padded = kind_named(PADDED)
        said = dict.fromkeys((padded.not_suited, *padded.cautions, *garment.cautions))
        return replace(
            garment, kind=PADDED, cautions=tuple(each for each in said if each not in garment.unsaid)
        )
    pieces = tuple(
        _with_grain(piece, line, reply) if (line := _line_on(piece, question)) is not None else piece
        for piece in garment.pieces
    )
    return replace(garment, pieces=pieces)


def names_of_unsure(garment: Garment, question: Question) -> list[str]:
    """Names of the pieces that an open question on grain is about."""
    return [each.name for each in garment.pieces if _is_asked(each) and _line_on(each, question) is not None]


def is_settled(garment: Garment, question: Question) -> bool:
    """Whether an open question of these asks nothing any more: a person said it otherwise."""
    if question.about == PADDING:
        return bool(garment.kind) or "kind" in garment.by_person
    return question.about == GRAIN and not any(
        _is_asked(piece) and _line_on(piece, question) is not None for piece in garment.pieces
    )


def alike(one: Question, two: Question) -> bool:
    """Whether two questions ask the same, though measured anew."""
    if one.about != two.about or one.photo != two.photo:
        return False
    return one.about == PADDING or bool(one.shape.distance(two.shape) < _LINE)


def _is_asked(piece: Piece) -> bool:
    return (
        piece.plus_minus.grain > GRAIN_UNSURE
        and "grain" not in piece.by_person
        and piece.outline.area >= _SMALLEST
    )


def _question(text: str, pieces: list[Piece]) -> Question:
    stake = sum(
        min(_AT_STAKE, math.sin(math.radians(min(each.plus_minus.grain, 90.0))))
        * usable_of(each.outline, each.blocked).area
        for each in pieces
    )
    lines = [_line(each) for each in pieces]
    return Question(
        number=0,
        text=text,
        about=GRAIN,
        shape=lines[0] if len(lines) == 1 else MultiLineString(lines),
        photo=_photo(pieces[0]),
        weight=round(stake, 1),
        confidence=0.5,
    )


def _line(piece: Piece) -> LineString:
    """Along the grain, on the piece."""
    at = piece.outline.representative_point()
    dx, dy = math.cos(math.radians(piece.grain)), math.sin(math.radians(piece.grain))
    return LineString([(at.x - _LINE * dx, at.y - _LINE * dy), (at.x + _LINE * dx, at.y + _LINE * dy)])


def _line_on(piece: Piece, question: Question) -> LineString | None:
    """The line of a question on grain that lies on a piece."""
    if question.photo != _photo(piece):
        return None
    lines = getattr(question.shape, "geoms", [question.shape])
    return next(
        (each for each in lines if piece.outline.covers(Point(shapely.centroid(each).coords[0]))), None
    )


def _with_grain(piece: Piece, line: LineString, reply: Reply) -> Piece:
    if "grain" in piece.by_person or reply is Reply.OPEN:
        return piece
    (x1, y1), (x2, y2) = line.coords[0], line.coords[-1]
    way = math.degrees(math.atan2(y2 - y1, x2 - x1))
    across = reply is Reply.NO
    if across and piece.plus_minus.grain < _EITHER:
        return piece  # not so, but how it runs nobody said: it stays in doubt
    way += 90.0 if across else 0.0
    return replace(
        piece,
        grain=round(way % 360.0, 2),
        plus_minus=replace(piece.plus_minus, grain=min(piece.plus_minus.grain, _LOOKED)),
    )


def _photo(piece: Piece) -> str:
    return piece.photo.file if piece.photo else ""

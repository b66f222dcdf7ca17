"""What is doubtful on a garment, put to the person as numbered questions; and what their answers change.

A yes makes what was asked about the person's own. A no takes it off, notes the place as looked at and sound,
and lets pieces that only it parted hang together again. Both stay when the garment is measured again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth import unsure
from salvage.cloth.garment import (
    BETWEEN,
    DOUBTFUL,
    EDGE_LYING_OVER,
    MARK,
    MAY_BE_FLOOR,
    ON_EDGE,
    ONE_PLACE,
    OTHER_COLOUR,
    Blocked,
    BlockedKind,
    FoundBy,
    Garment,
    Piece,
    Question,
    Reply,
)
from salvage.cloth.record import edits
from salvage.cloth.record.together import together_along
from salvage.cloth.usable import usable_of
from salvage.errors import UsageError
from salvage.shapes import places_of

MOST = 9  # questions at once: who is asked more answers none
_STAYS = 2.0  # times as weighty a question must be to push out one that was asked before
_WORTH, _WORTH_OF_ALL = 1500.0, 0.005  # mm^2 at stake, at least; and share of all usable cloth
_PARTED = 0.25  # share of the smaller of two pieces that counts as at stake where a doubtful seam parts them
# What parts are called in questions, where their short name says little.
_PLAIN = {
    "left body": "left front",
    "right body": "right front",
    "inside": "lining or inside",
    "band": "waistband or hem band",
}
_SAME = 0.6  # share of a thing that lies where another was, to be that one again
_NEAR = 12.0  # mm from a line to the same line found again


def asked(garment: Garment, known: Iterable[Question] = ()) -> Garment:
    """The garment with its questions, the weightiest first.

    known: questions put before. What was answered stays, and what is asked again keeps its number.
    """
    before = {each.number: each for each in known}
    kept = [each for each in before.values() if each.answer is not Reply.OPEN]
    left = {number: each for number, each in before.items() if each.answer is Reply.OPEN}
    found = []
    for each in _open_doubts(garment, kept):
        same = next((n for n, old in left.items() if _same_question(old, each)), None)
        if same is not None:
            del left[same]
        found.append(replace(each, number=same or 0))
    # What was asked before goes on being asked, though an answer made another a little weightier.
    found.sort(key=lambda each: -each.weight * (_STAYS if each.number else 1.0))
    new = sorted(found[:MOST], key=lambda each: -each.weight)
    number = max(before, default=0)
    questions = []
    for each in new:
        if not each.number:
            number += 1
            each = replace(each, number=number)
        questions.append(each)
    return replace(garment, questions=tuple(questions + kept))


def unasked(garment: Garment) -> int:
    """How many more things are doubtful than are asked about."""
    kept = [each for each in garment.questions if each.answer is not Reply.OPEN]
    return max(0, len(_open_doubts(garment, kept)) - (len(garment.questions) - len(kept)))


def _open_doubts(garment: Garment, kept: Iterable[Question]) -> list[Question]:
    """All that is doubtful and was not answered, the weightiest first."""
    kept = [each for each in kept if each.about in unsure.OF_ALL]
    found = [each for each in _doubts(garment) if not any(_same_question(old, each) for old in kept)]
    return sorted(found, key=lambda each: -each.weight)


def _same_question(one: Question, two: Question) -> bool:
    if one.about in unsure.OF_ALL or two.about in unsure.OF_ALL:
        return unsure.alike(one, two)
    return _same_place(one.shape, two.shape)


def answered(garment: Garment, number: int, reply: Reply) -> Garment:
    """The garment with one question answered. Raises UsageError where there is no such question."""
    question = next((each for each in garment.questions if each.number == number), None)
    if question is None:
        there = ", ".join(
            str(each.number) for each in sorted(garment.questions, key=lambda each: each.number)
        )
        raise UsageError(
            f"there is no question {number} about this garment; {f'asked are {there}' if there else 'nothing is asked'}."
        )
    questions = tuple(replace(q, answer=reply) if q.number == number else q for q in garment.questions)
    garment = replace(garment, questions=questions)
    if question.about in unsure.OF_ALL:
        return unsure.settled(garment, question, reply)
    if reply is Reply.YES:
        return replace(garment, pieces=tuple(_confirmed(each, question) for each in garment.pieces))
    return without(garment, question) if reply is Reply.NO else garment


def answers_applied(garment: Garment) -> Garment:
    """The garment with what its answered questions say, without open ones that a person settled otherwise; once
    more changes nothing."""
    for each in garment.questions:
        if each.answer is not Reply.OPEN:
            garment = answered(garment, each.number, each.answer)
    left = tuple(
        q for q in garment.questions if q.answer is not Reply.OPEN or not unsure.is_settled(garment, q)
    )
    return garment if left == garment.questions else replace(garment, questions=left)


def carried(old: Garment, new: Garment) -> Garment:
    """A new measurement with the answers that a person gave to the old one.

    new: merged with the old one already. What was asked about is known again by where it lies.
    """
    known = []
    for each in old.questions:
        about = next(
            (b.id for p in new.pieces for b in p.blocked
             if b.id and _same_place(each.shape, _whole(new, b.id))), each.about
        )  # fmt: skip
        known.append(replace(each, about=about))
    # Whether it is padded the photograph tells, not the record's pieces: that question comes with the new measurement.
    known += [
        replace(each, number=max((old.number for old in known), default=0) + 1)
        for each in new.questions
        if each.about == unsure.PADDING and not any(unsure.alike(old, each) for old in known)
    ]
    return asked(answers_applied(replace(new, questions=tuple(known))), known)


def without(garment: Garment, question: Question) -> Garment:
    """The garment if what is asked about isn't there."""
    if question.about in unsure.OF_ALL:
        return unsure.settled(garment, question, Reply.NO)
    shape = question.shape
    pieces, touched = [], []
    for number, piece in enumerate(garment.pieces):
        mine = [b for b in piece.blocked if _is_about(b, question)]
        if mine or (_is_of(piece, question) and piece.outline.distance(shape) < 1.0):
            piece = replace(piece, blocked=tuple(b for b in piece.blocked if b not in mine))
            for gone in mine:
                piece = edits.remember_gone(piece, gone)
            touched.append(number)
        pieces.append(piece)
    return together_along(replace(garment, pieces=tuple(pieces)), touched, shape)


def _confirmed(piece: Piece, question: Question) -> Piece:
    blocked = tuple(
        replace(b, found_by=FoundBy.PERSON, confidence=1.0) if _is_about(b, question) else b
        for b in piece.blocked
    )
    return replace(piece, blocked=blocked) if blocked != piece.blocked else piece


def _is_about(blocked: Blocked, question: Question) -> bool:
    return bool(blocked.id) and blocked.id == question.about and blocked.found_by is not FoundBy.PERSON


def _is_of(piece: Piece, question: Question) -> bool:
    return (piece.photo.file if piece.photo else "") == question.photo


def _doubts(garment: Garment) -> list[Question]:
    """Every doubtful thing as a question without a number."""
    found = unsure.grain_questions(garment)
    found += [
        each
        for each in garment.questions
        if each.about == unsure.PADDING and each.answer is Reply.OPEN and not unsure.is_settled(garment, each)
    ]
    ids = dict.fromkeys(
        b.id
        for piece in garment.pieces
        for b in piece.blocked
        if b.id and b.found_by is not FoundBy.PERSON and b.confidence < DOUBTFUL
    )
    worth = max(_WORTH, _WORTH_OF_ALL * sum(usable_of(p.outline, p.blocked).area for p in garment.pieces))
    for about in ids:
        pairs = [(p, b) for p in garment.pieces for b in p.blocked if b.id == about]
        piece, first = pairs[0]
        question = Question(
            number=0,
            text=_text(first, piece, several=_is_several(garment, about)),
            about=about,
            shape=_whole(garment, about),
            photo=piece.photo.file if piece.photo else "",
            confidence=first.confidence,
        )
        doubt = 4 * first.confidence * (1 - first.confidence)
        weight = doubt * _at_stake(garment, question, [p for p, _ in pairs])
        if weight >= worth:
            found.append(replace(question, weight=round(weight, 1)))
    return found


def _at_stake(garment: Garment, question: Question, pieces: list[Piece]) -> float:
    """mm^2 that would be usable without it; and where it parts two pieces, a share of the smaller one."""
    gained = sum(
        usable_of(p.outline, [b for b in p.blocked if b.id != question.about]).area
        - usable_of(p.outline, p.blocked).area
        for p in pieces
    )
    areas = sorted((p.outline.area for p in pieces), reverse=True)
    # Taking it out of the garment takes long, and can only matter where it lies on two pieces.
    parts = len(areas) > 1 and len(without(garment, question).pieces) < len(garment.pieces)
    return float(gained + (_PARTED * areas[1] if parts else 0.0))


def _whole(garment: Garment, about: str) -> shapely.geometry.base.BaseGeometry:
    """The thing over all pieces."""
    return shapely.union_all([b.shape for p in garment.pieces for b in p.blocked if b.id == about])


def _same_place(one: BaseGeometry, two: BaseGeometry) -> bool:
    if one.is_empty or two.is_empty or (one.area > 0) != (two.area > 0):
        return False
    if one.area > 0:
        return bool(one.intersection(two).area > _SAME * min(one.area, two.area))
    return bool(
        two.intersection(one.buffer(_NEAR)).length > _SAME * two.length
        and one.intersection(two.buffer(_NEAR)).length > _SAME * one.length
    )


def _is_several(garment: Garment, about: str) -> bool:
    """Whether it lies at several places: one question for both sleeves' ends."""
    return len(places_of([_whole(garment, about)], ONE_PLACE)) > 1


def _text(blocked: Blocked, piece: Piece, *, several: bool) -> str:
    """The question in words."""
    at = f"at the mark, on the {piece.name}"
    if blocked.found_by is FoundBy.TRADE:
        what = blocked.what.removesuffix(", assumed")
        also = " The answer goes for its like elsewhere on the garment too." if several else ""
        return f"is there {_article(what)} {at}? None was seen, but such a garment has one.{also}"
    if blocked.kind is BlockedKind.WORN:
        what = "torn, rubbed or stained" if blocked.what == MARK else "worn or stained"
        return f"is the cloth {what} {at}?"
    if blocked.what == ON_EDGE:
        return (
            f"is the edge of the {piece.name} at the mark sewn, a side seam say, or turned under? No means that it is a cut or "
            "folded edge that can be used right up to it."
        )
    if blocked.what == MAY_BE_FLOOR:
        return f"is it the floor or a sheet {at}, rather than the garment? No means that it is the garment's own cloth."
    named = blocked.what or str(blocked.kind)
    if not blocked.shape.area and (line := _of_line(blocked, at)):
        return line
    if blocked.kind in (BlockedKind.SEAM, BlockedKind.HEM, BlockedKind.OTHER) and not blocked.shape.area:
        other = "or only a crease" if blocked.kind is BlockedKind.SEAM else "or nothing that hinders cutting"
        return f"is there {_article(named)} {at}, {other}?"
    return f"is there {_article(named)} {at}?"


def _of_line(blocked: Blocked, at: str) -> str:
    """The question about a line that is named by what meets there; "" where it isn't."""
    if blocked.kind is BlockedKind.CLOSURE:
        return f"does an opening (a zip, a placket, a row of buttons) run along the line {at}, or is it only a crease?"
    if blocked.what == EDGE_LYING_OVER:
        return f"does one layer of cloth end {at} and lie over another? No means that it is only a crease."
    if blocked.what.startswith(BETWEEN):
        one, _, other = blocked.what.removeprefix(BETWEEN).partition(" and ")
        if one == OTHER_COLOUR:
            return f"does cloth of another colour begin {at}, or is it a print or a shade?"
        if other:
            return f"do the {_plainly(one)} and the {_plainly(other)} of the garment meet {at}, or is it only a crease?"
    return ""


def _plainly(part: str) -> str:
    return _PLAIN.get(part, part)


def _article(name: str) -> str:
    return f"{'an' if name[:1] in 'aeiou' else 'a'} {name}"


def mark_of(question: Question) -> tuple[float, float]:
    """Where to put the question's number, mm: a point on the thing itself."""
    shape = question.shape
    longest = max(getattr(shape, "geoms", [shape]), key=lambda each: max(each.area, each.length))
    point: Point
    if isinstance(longest, LineString):
        point = longest.interpolate(0.5, normalized=True)
    elif isinstance(longest, Polygon):
        point = longest.representative_point()
    else:
        point = longest.centroid
    return point.x, point.y

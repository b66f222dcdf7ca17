"""A garment on the rail as people see it: a card. Pure functions: choosing, sorting, and the words on it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from salvage.fit.material.lay import same_fabric
from salvage.rail.answer.copies import Copies
from salvage.rail.known.facts import Fabric, Facts, Rect, Strip
from salvage.rail.known.room import has_room, may_have_room
from salvage.rail.known.saved import saved_words
from salvage.report.say.summary import long_length
from salvage.units import Unit, format_area, format_exact, format_length, format_size

HAIR = 0.01  # mm; what is found of a rectangle is less than its true size by no more than rounding
STRIP = 40.0  # mm cut width, or the next there is: binding and ties; what the table's strip column tells

Size = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Card:
    """A garment on the rail. file: of its record, as seen from the folder; content: hash of that file.

    made: how many of each project asked about.
    """

    file: str
    content: str
    facts: Facts
    made: tuple[Copies, ...] = ()

    @property
    def name(self) -> str:
        return self.facts.name

    @property
    def kind(self) -> str:
        return self.facts.kind

    @property
    def suits(self) -> bool:
        return self.facts.suits

    @property
    def why_not(self) -> str:
        return self.facts.why_not

    @property
    def fabrics(self) -> tuple[Fabric, ...]:
        return self.facts.fabrics

    @property
    def used(self) -> str:
        return self.facts.used

    @property
    def rest_of(self) -> str:
        return self.facts.rest_of

    @property
    def photographed(self) -> str:
        return self.facts.photographed

    @property
    def questions(self) -> int:
        return self.facts.questions

    @property
    def area(self) -> float:
        """mm^2 usable, of all fabrics."""
        return sum(each.area for each in self.facts.fabrics)

    @property
    def largest(self) -> Rect | None:
        """The largest clear rectangle of any fabric."""
        found = [each.largest for each in self.facts.fabrics if each.largest is not None]
        return max(found, key=lambda each: each.area, default=None)

    @property
    def strip(self) -> float:
        """mm of strip of STRIP, or the next width there is, in all."""
        return sum(of_width.total for each in self.fabrics if (of_width := strip_of(each)) is not None)

    @property
    def number(self) -> int:
        """How many of the first project asked about."""
        return self.made[0].least if self.made else 0


def strip_of(fabric: Fabric) -> Strip | None:
    """The strip of STRIP or the next width that there is."""
    return min(fabric.strips, key=lambda each: (abs(each.width - STRIP), each.width), default=None)


SORTS: dict[str, Callable[[Card], Any]] = {
    "name": lambda card: card.name.casefold(),
    "area": lambda card: -card.area,
    "largest": lambda card: -(card.largest.area if card.largest else 0.0),
    "strip": lambda card: -card.strip,
    "kind": lambda card: card.kind,
    "date": lambda card: tuple(-ord(letter) for letter in card.photographed),
    "number": lambda card: -card.number,
}


def sorted_by(cards: Iterable[Card], by: str = "area") -> tuple[Card, ...]:
    """The cards in the order of one of SORTS, the most or the latest first; used-up ones and those that don't suit
    come last. by: KeyError for another name."""
    key = SORTS[by]
    return tuple(
        sorted(
            cards,
            key=lambda each: (bool(each.used), not each.suits, key(each), each.name.casefold(), each.file),
        )
    )


def filtered(
    cards: Iterable[Card],
    *,
    text: str = "",
    fabric: str = "",
    kind: str = "",
    least: Size | None = None,
    since: str = "",
    until: str = "",
    used: bool | None = None,
    suits: bool | None = None,
) -> tuple[Card, ...]:
    """The cards that fit all that is told.

    text: in its name or file. fabric: one of its fabrics, or its kind, as people say "denim" for both. least:
    (width, length) along the grain, mm, of a clear rectangle of that fabric. since, until: days, YYYY-MM-DD, both
    counted in; a garment without a date is in neither. used, suits: None for all.
    """
    wanted = text.strip().casefold()
    return tuple(
        each
        for each in cards
        if (not wanted or wanted in each.name.casefold() or wanted in each.file.casefold())
        and (not kind or each.kind == kind.strip().casefold())
        and (used is None or bool(each.used) is used)
        and (suits is None or each.suits is suits)
        and (not since or each.photographed >= since)
        and (not until or (bool(each.photographed) and each.photographed <= until))
        and _holds(each, fabric, least)
    )


def _holds(card: Card, fabric: str, least: Size | None) -> bool:
    kind_of_it = bool(fabric) and same_fabric(fabric) == card.kind
    there = [
        each
        for each in card.fabrics
        if not fabric or kind_of_it or same_fabric(each.fabric) == same_fabric(fabric)
    ]
    if least is None:
        return bool(there) or not fabric
    return any(is_large(each, least) for each in there)


def is_large(fabric: Fabric, least: Size) -> bool:
    """Whether a clear rectangle of this size surely lies on the cloth.

    From the raster that the index keeps: one that fits by less than its 10 mm at an edge may be missed, unless it is
    the largest there is.
    """
    if not may_have_room(fabric.most_room, *least):
        return False
    largest = fabric.largest
    if largest is not None and largest.width >= least[0] - HAIR and largest.length >= least[1] - HAIR:
        return True
    return has_room(fabric.least_room, *least)


# --- words -----------------------------------------------------------------------------------------


def card_data(card: Card, unit: Unit = Unit.MM) -> dict[str, Any]:
    """The card as plain values and ready words, for a page or for JSON."""
    return {
        "file": card.file,
        "content": card.content,
        "name": card.name,
        "kind": card.kind,
        "suits": card.suits,
        "why_not": card.why_not,
        "pieces": card.facts.pieces,
        "area": round(card.area, 1),
        "area_words": format_area(card.area, unit),
        "largest": None if card.largest is None else [round(card.largest.width, 1), round(card.largest.length, 1)],
        "largest_area": round(card.largest.area, 1) if card.largest else 0.0,
        "largest_words": "" if card.largest is None else rect_words(card.largest, unit),
        "strip": round(card.strip, 1),
        "strip_words": metres(card.strip, unit) if card.strip else "",
        "fabrics": [_fabric_data(each, unit) for each in card.fabrics],
        "saved": list(saved_words(card.facts.saved, unit)),
        "photographed": card.photographed,
        "used": card.used,
        "rest_of": card.rest_of,
        "questions": card.questions,
        "warnings": list(card.facts.warnings),
        "cautions": list(card.facts.cautions),
        "made": [
            {
                "project": each.project, "least": each.least, "most": each.most, "words": made_words(each, card.suits),
                "why": each.why,
            }
            for each in card.made
        ],
    }  # fmt: skip


def _fabric_data(fabric: Fabric, unit: Unit) -> dict[str, Any]:
    return {
        "fabric": fabric.fabric,
        "area": round(fabric.area, 1),
        "area_words": format_area(fabric.area, unit),
        "pieces": fabric.pieces,
        "largest": None if fabric.largest is None else [round(fabric.largest.width, 1), round(fabric.largest.length, 1)],
        "largest_piece": "" if fabric.largest is None else fabric.largest.piece,
        "largest_words": "" if fabric.largest is None else rect_words(fabric.largest, unit),
        "strips": [
            {
                "width": each.width, "longest": round(each.longest, 1), "longest_bias": round(each.longest_bias, 1),
                "total": round(each.total, 1),
                "words": (
                    format_exact(each.width, unit), format_length(each.longest, unit), metres(each.total, unit),
                ),
            }
            for each in fabric.strips if each.total > 0
        ],
        "uncounted": fabric.uncounted,
    }  # fmt: skip


def rect_words(rect: Rect, unit: Unit) -> str:
    """`246 × 541 mm`, never more than there is."""
    return format_size((rect.width, rect.length), unit)


def made_words(made: Copies, suits: bool = True) -> str:
    """`3`, `3 to 5`, `0`; `not suited` where the cloth isn't."""
    return made.words if suits else "not suited"


def metres(length: float, unit: Unit) -> str:
    """A length summed from many, down to what matters."""
    return long_length(length, unit)


def totals(cards: Sequence[Card]) -> dict[str, float]:
    """mm^2 of each fabric, as first spelled, on all cards that are there and suit."""
    found: dict[str, float] = {}
    spelled: dict[str, str] = {}
    for card in cards:
        if card.used or not card.suits:
            continue
        for each in card.fabrics:
            name = spelled.setdefault(same_fabric(each.fabric), each.fabric)
            found[name] = found.get(name, 0.0) + each.area
    return dict(sorted(found.items(), key=lambda each: -each[1]))

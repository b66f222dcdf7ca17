"""What the rail knows of one garment without looking at it again: plain data that goes into the index and comes back.

All of it follows from the record; `facts_of` is the slow way to it (about a second), once for each record.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from salvage.cloth.garment import Garment, Reply
from salvage.fit.material.amount import fabrics_of
from salvage.fit.material.holds import FabricHolds, Rectangle, StripHold, holds
from salvage.fit.material.lay import lay_of, same_fabric
from salvage.fit.material.outer import outer_lay
from salvage.rail.known.room import Room, least_room, most_room
from salvage.rail.known.saved import Saved, saved
from salvage.rail.note import photographed, rest_named, used_of
from salvage.trade.kinds import KINDS
from salvage.units import Unit

_SECONDS = 30.0  # for counting strips: time enough that what is told doesn't hang on how busy a machine is


@dataclass(frozen=True, slots=True)
class Rect:
    """A clear rectangle: width across, length along the grain; the piece it lies on."""

    width: float
    length: float
    piece: str

    @property
    def area(self) -> float:
        """mm^2."""
        return self.width * self.length


@dataclass(frozen=True, slots=True)
class Strip:
    """Strip of one cut width: the longest along the grain and on the bias, and the total found side by side."""

    width: float
    longest: float
    longest_bias: float
    total: float


@dataclass(frozen=True, slots=True)
class Fabric:
    """What a garment holds of one fabric. area: mm^2 usable.

    uncounted: stretches whose strips weren't counted. least_room, most_room: see salvage.rail.known.room. most_area: mm^2,
    no less than there is with the plus-minus let out.
    """

    fabric: str
    area: float
    pieces: int
    largest: Rect | None
    strips: tuple[Strip, ...]
    uncounted: int
    least_room: Room
    most_room: Room
    most_area: float


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known of a garment. kind: of cloth, "" if not known; why_not: why its kind doesn't suit, else "".

    questions: how many are open. photographed: day of the photograph. used: in words, "" while its cloth is there.
    rest_of: the name of what it was cut from, "" for a whole garment. named: every fabric that a piece is of, also
    those of which nothing is usable.
    """

    name: str
    kind: str
    why_not: str
    fabrics: tuple[Fabric, ...]
    saved: tuple[Saved, ...]
    pieces: int
    questions: int
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    photographed: str
    used: str
    rest_of: str
    named: tuple[str, ...] = ()

    @property
    def suits(self) -> bool:
        return not self.why_not

    def of(self, fabric: str) -> Fabric | None:
        """What there is of a fabric; None where there is none."""
        return next((each for each in self.fabrics if same_fabric(each.fabric) == same_fabric(fabric)), None)


def facts_of(garment: Garment, unit: Unit = Unit.MM) -> Facts:
    """Everything the rail keeps of a garment. unit: for whose rulers the strips are cut."""
    found = holds([garment], unit, seconds=_SECONDS)
    used, rest = used_of(garment), rest_named(garment)
    kind = KINDS.get(garment.kind)
    return Facts(
        name=garment.name,
        kind=garment.kind,
        why_not="" if kind is None else kind.not_suited,
        fabrics=_fabrics(garment, found.fabrics),
        saved=saved(garment),
        pieces=len(garment.pieces),
        questions=sum(each.answer is Reply.OPEN for each in garment.questions),
        warnings=garment.warnings,
        cautions=garment.cautions,
        photographed=photographed(garment),
        used="" if used is None else used.words,
        rest_of="" if rest is None else rest.name,
        named=tuple(fabrics_of([garment]).values()),
    )


def _fabrics(garment: Garment, held: Sequence[FabricHolds]) -> tuple[Fabric, ...]:
    least = lay_of([garment])
    most = outer_lay([garment], grown=True)
    made = []
    for each in held:
        name = same_fabric(each.fabric)
        outer = [cloth for cloth in most.cloths if cloth.fabric == name]
        made.append(
            Fabric(
                fabric=each.fabric,
                area=each.area,
                pieces=each.pieces,
                largest=None if each.largest is None else _rect(each.largest),
                strips=tuple(_strip(strip) for strip in each.strips),
                uncounted=each.uncounted,
                least_room=least_room(cloth for cloth in least.cloths if cloth.fabric == name),
                most_room=most_room(outer),
                most_area=sum(cloth.polygon.area for cloth in outer),
            )
        )
    return tuple(made)


def _rect(found: Rectangle) -> Rect:
    return Rect(found.width, found.length, found.piece)


def _strip(found: StripHold) -> Strip:
    return Strip(found.width, found.longest, found.longest_bias, found.total)


def facts_to_data(facts: Facts) -> dict[str, Any]:
    """Plain lists, numbers and strings."""
    return asdict(facts)


def facts_from_data(data: Mapping[str, Any]) -> Facts:
    """The facts again. Raises KeyError, TypeError or ValueError for data of another shape."""
    return Facts(
        **{
            **data,
            "fabrics": tuple(_fabric_from(each) for each in data["fabrics"]),
            "saved": tuple((str(name), length) for name, length in data["saved"]),
            "named": tuple(data["named"]),
            "warnings": tuple(data["warnings"]),
            "cautions": tuple(data["cautions"]),
        }
    )


def _fabric_from(data: Mapping[str, Any]) -> Fabric:
    largest = data["largest"]
    return Fabric(
        **{
            **data,
            "largest": None if largest is None else Rect(**largest),
            "strips": tuple(Strip(**each) for each in data["strips"]),
            "least_room": tuple(data["least_room"]),
            "most_room": tuple(data["most_room"]),
        }
    )

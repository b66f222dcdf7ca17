"""What a person tells beside the photograph. Plain data, light to import."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from salvage.errors import UsageError
from salvage.scale.known import KnownLength
from salvage.trade.paper import AS_REFERENCE
from salvage.units import parse_length

Point = tuple[float, float]

LEAST_SIDE, MOST_SIDE = 20.0, 1000.0  # mm, of a reference square
HIGHEST = 100.0  # mm of the cloth's face above the floor; more is a slip
SHORTEST_KNOWN, LONGEST_KNOWN = 20.0, 5000.0  # mm
NEAREST_ENDS_PX = 40.0  # nearer, pointing alone makes the scale some 7 % unsure
_EVERY = 0.015  # of the picture's longer side, between the points of a stroke that are told to the finder
_MOST = 60  # of them; it follows each over even ground, and more would only cost time


@dataclass(frozen=True, slots=True)
class Telling:
    """What the person told beyond the photograph itself.

    side: mm of the reference square; None if unknown (then there is no scale). paper: a standard sheet
    or card used instead. known: lengths on the cloth that the person knows, instead of a square or beside
    one. square_at: pixels pointing at the squares. cloth_at, floor_at: hints for the
    outline, pixels. height: mm of the cloth's face above the floor; kind: a cloth kind of salvage.trade.
    fabric: what the main cloth is called. layers: equal layers lying there.
    """

    side: float | None = None
    paper: str | None = None
    known: tuple[KnownLength, ...] = ()
    square_at: tuple[Point, ...] = ()
    cloth_at: tuple[Point, ...] = ()
    floor_at: tuple[Point, ...] = ()
    height: float | None = None
    kind: str = ""
    fabric: str = "shell"
    layers: int = 1

    def to_record(self) -> dict[str, Any]:
        """What was told of this one photograph, as its record keeps it; only what was told."""
        data: dict[str, Any] = {}
        if self.side is not None:
            data["side"] = self.side
        if self.paper is not None:
            data["paper"] = self.paper
        if self.height is not None:
            data["height"] = self.height
        if self.known:
            data["known"] = [one.row for one in self.known]
        for name, places in (("square", self.square_at), ("cloth", self.cloth_at), ("floor", self.floor_at)):
            if places:
                data[name] = [list(place) for place in places]
        return data

    def with_record(self, data: Mapping[str, Any]) -> Telling:
        """This with what a record keeps of a photograph, for what wasn't told anew: a new side or known length
        replaces all that gave the scale, a new hint those of its kind. Raises ValueError for what makes no sense."""
        told = self
        if self.side is None and self.paper is None and not self.known:
            side, paper, known = data.get("side"), data.get("paper"), data.get("known", ())
            told = replace(
                told,
                side=None if side is None else _number(side),
                paper=None if paper is None else str(paper),
                known=tuple(_known(row) for row in known),
            )
        if self.height is None and "height" in data:
            told = replace(told, height=_number(data["height"]))
        if not self.square_at:
            told = replace(told, square_at=_places(data.get("square", ())))
        if not self.cloth_at and not self.floor_at:
            told = replace(
                told, cloth_at=_places(data.get("cloth", ())), floor_at=_places(data.get("floor", ()))
            )
        return told


def side_told(text: str, said: str = "") -> float:
    """The side of a reference square as a person writes it, in mm; inches are not taken for millimetres. said: the
    option it was told by, with a space. Raises UsageError."""
    value = parse_length(text)
    if not LEAST_SIDE <= value <= MOST_SIDE:
        raise UsageError(
            f"{said}{text} is {value:.0f} mm; a reference square is between 20 mm and 1 m. Write its unit too, such as 6in."
        )
    return value


def height_told(text: str, said: str = "") -> float:
    """The height of the cloth's face above the floor; 0 is the floor itself. Raises UsageError for one that no flat
    cloth has."""
    value = parse_length(text)
    if value > HIGHEST:
        raise UsageError(
            f"{said}{text} is {value:.0f} mm; cloth that lies flat is a few mm high, padded cloth some 30 mm. "
            "Write its unit too, such as 8mm."
        )
    return value


def paper_told(name: str, said: str = "") -> str:
    """A standard sheet or card by its name, as it is spelt. Raises UsageError for an unknown one."""
    named = {size.lower(): size for size in AS_REFERENCE}
    if name.lower() not in named:
        raise UsageError(f"{said}{name}: choose one of {', '.join(AS_REFERENCE)}.")
    return named[name.lower()]


def of_one_picture(count: int, told: Telling) -> None:
    """Raise UsageError where pixels are told and it isn't plain of which photograph. count: of photographs."""
    if count > 1 and (told.known or told.square_at or told.cloth_at or told.floor_at):
        raise UsageError(
            "--known, --square, --cloth and --floor are pixels of one picture: measure one photograph at a time."
        )


def require_photograph(count: int, told: Telling) -> None:
    """Raise UsageError where something is told about a photograph and none is given."""
    about = {
        "--known": told.known, "--square": told.square_at, "--cloth": told.cloth_at, "--floor": told.floor_at, "--kind": told.kind,
        "--height": told.height is not None, "--layers": told.layers > 1, "--fabric": told.fabric != "shell",
    }  # fmt: skip
    given = [option for option, value in about.items() if value]
    if given and not count:
        raise UsageError(
            f"{given[0]} is about a photograph, and only records are given, which say it themselves. "
            "Measure the photograph with it, or correct the record."
        )


def require_inside(told: Telling, size_px: tuple[int, int], name: str) -> None:
    """Raise UsageError where a hint points beside the picture. size_px: of the upright picture; name: what to call it."""
    width, height = size_px
    ends = tuple(end for one in told.known for end in (one.from_px, one.to_px))
    hints = {"--known": ends, "--square": told.square_at, "--cloth": told.cloth_at, "--floor": told.floor_at}
    for option, places in hints.items():
        for x, y in places:
            # A length may end at the frame, where an outline does: half a pixel beyond the last one's middle.
            beyond = 0.5 if option == "--known" else 0.0
            if not (-beyond <= x < width + beyond and -beyond <= y < height + beyond):
                raise UsageError(
                    f"{option} {x:g},{y:g} lies outside {name}, which is {width} x "
                    f"{height} pixels. Pixels count from the top left of the upright picture."
                )


def known_told(text: str, said: str = "--known") -> KnownLength:
    """`X1,Y1,X2,Y2,LENGTH`, as a person writes it. Raises UsageError."""
    *ends, last = text.split(",", 4)
    try:
        x1, y1, x2, y2 = (float(end) for end in ends)
        if not all(map(math.isfinite, (x1, y1, x2, y2))):
            raise ValueError
    except ValueError:
        raise UsageError(
            f"{said} {text!r}: write both ends in pixels and the length between them, for example "
            f"{said} 310,540,1890,560,560mm."
        ) from None
    return known_between((x1, y1), (x2, y2), last, f"{said} {text!r}: ")


def known_between(one: Point, other: Point, length: str, said: str = "") -> KnownLength:
    """Two places in the picture, and the length between them as a person writes it. said: what errors begin with.
    Raises UsageError."""
    try:
        told = parse_length(length)
    except UsageError as error:
        raise UsageError(f"{said}{error}") from None
    if not SHORTEST_KNOWN <= told <= LONGEST_KNOWN:
        raise UsageError(
            f"{said}{told:.4g} mm is no length of a garment to measure by ({SHORTEST_KNOWN:.0f} mm to "
            f"{LONGEST_KNOWN / 1000:.0f} m). Write its unit too, such as 560mm or 22in."
        )
    if math.dist(one, other) < NEAREST_ENDS_PX:
        raise UsageError(
            f"{said}its ends are {math.dist(one, other):.0f} pixels apart and need {NEAREST_ENDS_PX:.0f}. Point at the two "
            "ends of something long."
        )
    return KnownLength(one, other, told)


def along(strokes: Iterable[Iterable[Point]], longer_px: float) -> tuple[Point, ...]:
    """Points along strokes, so near to each other that a finder which obeys each obeys the strokes. longer_px: the
    picture's longer side."""
    every = max(1.0, _EVERY * longer_px)
    found: list[Point] = []
    for stroke in strokes:
        places = list(stroke)
        found += places[:1]
        for (x0, y0), (x1, y1) in pairwise(places):
            parts = max(1, round(math.dist((x0, y0), (x1, y1)) / every))
            for k in range(1, parts + 1):
                point = (x0 + (x1 - x0) * k / parts, y0 + (y1 - y0) * k / parts)
                if math.dist(found[-1], point) >= every / 2:
                    found.append(point)
    return tuple(found[:: max(1, math.ceil(len(found) / _MOST))])


def _number(value: Any) -> float:
    number = float(value)
    if not math.isfinite(number) or number < 0:
        raise ValueError(f"{value!r} is no length")
    return number


def _known(row: Any) -> KnownLength:
    x1, y1, x2, y2, length = (float(each) for each in row)
    if not all(map(math.isfinite, (x1, y1, x2, y2))) or _number(length) == 0:
        raise ValueError(f"{row!r} is no known length")
    return KnownLength((x1, y1), (x2, y2), length)


def _places(rows: Any) -> tuple[Point, ...]:
    places = tuple((float(x), float(y)) for x, y in rows)
    if not all(math.isfinite(each) for place in places for each in place):
        raise ValueError("a hint is no pixel of the picture")
    return places

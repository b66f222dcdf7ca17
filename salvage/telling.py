"""What a person tells beside the photograph. Plain data, light to import."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from salvage.scale.known import KnownLength

Point = tuple[float, float]

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

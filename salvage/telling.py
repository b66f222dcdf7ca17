"""What a person tells beside the photograph. Plain data, light to import."""

from __future__ import annotations

from dataclasses import dataclass

from salvage.scale.known import KnownLength

Point = tuple[float, float]


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

"""What a drawing is made of: areas, lines and words. Drawings declare them, a pen puts them on its ground.

There are three who draw them: `pdf` and `svg` what was put on a `leaf` of paper, `paint` pictures of pixels.

Coordinates are page units, y up; widths and sizes are points of paper (1/72 in). Colours are #rrggbb or #rrggbbaa.
What has the higher order lies on top; of the same order, what was put later.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

Run: TypeAlias = NDArray[np.float64]  # (n, 2) points of a line
Dashes: TypeAlias = tuple[float, ...]  # lengths drawn and left out in turn, in widths of the line
Across: TypeAlias = Literal["left", "center", "right"]
Up: TypeAlias = Literal["baseline", "bottom", "center", "center_baseline", "top"]

NO_COLOUR = "none"
# Of the letters' size: what stands above the line they are written on and what hangs below it, as of "l" and "p".
ASCENT, DESCENT = 0.76, 0.208
_NAMED = {"black": "#000000", "white": "#ffffff"}


@dataclass(frozen=True, slots=True)
class Casing:
    """What is drawn under a line, on both its sides. width: of all of it."""

    colour: str
    width: float
    alpha: float


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """Polygons as one, holes left open. hatch: one of `salvage.report.pen.palette`, in the colour of the edge."""

    parts: tuple[Polygon, ...]
    face: str = NO_COLOUR
    edge: str = NO_COLOUR
    width: float = 0.0
    dashes: Dashes = ()
    hatch: str = ""
    alpha: float = 1.0
    order: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """Lines drawn as one. A run that ends where it begins is a ring."""

    runs: tuple[Run, ...]
    colour: str
    width: float
    dashes: Dashes = ()
    casing: Casing | None = None
    order: float = 1.0


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text. across, up: which part of it lies at (x, y).

    anchored: it is brought there lying flat and then turned about that point; else it is turned first, and the box round
    it is brought there. halo: colour round the letters, None for none; halo_width: of the line that draws it.
    """

    x: float
    y: float
    text: str
    size: float
    colour: str
    bold: bool = False
    across: Across = "center"
    up: Up = "center"
    rotation: float = 0.0
    anchored: bool = False
    halo: str | None = None
    halo_width: float = 0.0
    order: float = 3.0


Mark: TypeAlias = Area | Stroke | Words


class Pen(Protocol):
    """Puts marks on its ground."""

    def put(self, mark: Mark) -> None: ...


class NoPen:
    """For a page on which room is measured and nothing is drawn."""

    def put(self, mark: Mark) -> None:
        raise AssertionError("this page is only measured")


def line_start(words: Words, wide: float, size: float) -> tuple[float, float]:
    """Where the line begins that words are written on, from their point, y up. wide: of the words; both in one unit."""
    up, down = ASCENT * size, DESCENT * size
    across = {"left": 0.0, "center": wide / 2, "right": wide}[words.across]
    above = {  # the line, where the point lies
        "baseline": 0.0,
        "bottom": -down,
        "center": (up - down) / 2,
        "center_baseline": up / 2,
        "top": up,
    }[words.up]
    cos, sin = math.cos(math.radians(words.rotation)), math.sin(math.radians(words.rotation))
    turn = np.array([[cos, -sin], [sin, cos]])
    if words.anchored or words.rotation == 0.0:
        held = turn @ (across, above)
    else:
        corners = np.array([(x, y) for x in (0.0, wide) for y in (-down, up)]) @ turn.T
        low, high = corners.min(axis=0), corners.max(axis=0)
        share = {"left": 0.0, "center": 0.5, "right": 1.0}[words.across]
        share_up = {"top": 1.0, "bottom": 0.0, "baseline": 0.0}.get(words.up, 0.5)
        held = low + (high - low) * (share, share_up)
    return -float(held[0]), -float(held[1])


def rgba(colour: str) -> tuple[float, float, float, float]:
    """Red, green, blue and opacity, each 0 to 1. Raises ValueError for what is no colour of ours."""
    digits = _NAMED.get(colour, colour).removeprefix("#")
    if len(digits) not in (6, 8):
        raise ValueError(f"{colour!r} is no colour: write #rrggbb or #rrggbbaa")
    red, green, blue, alpha = bytes.fromhex(digits if len(digits) == 8 else digits + "ff")
    return red / 255, green / 255, blue / 255, alpha / 255


def hex_of(red: float, green: float, blue: float, alpha: float) -> str:
    """A colour written as #rrggbbaa."""
    return "#" + bytes(round(255 * each) for each in (red, green, blue, alpha)).hex()

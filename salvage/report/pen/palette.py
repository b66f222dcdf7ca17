"""Colours, hatchings and line conventions of everything that is drawn.

Stroke conventions are the trade's: cut line solid, stitching line dashed, grain line straight with
arrowheads. Panels differ by colour and by hatching, so that a grey print and a colour-blind reader
lose nothing. Colours after Okabe and Ito, "Color Universal Design" (2008), darkened or lightened to
read on paper and on cloth.
"""

from __future__ import annotations

from dataclasses import dataclass

from salvage.cloth.garment import BlockedKind
from salvage.fit.answer import Verdict

INK = "#22303c"
FAINT = "#8b8f90"
PAPER = "#fffdf8"
WASTE = "#e4e0d6"  # cloth that can't be used
SOUND = "#ffffff"  # usable cloth
CHALK = "#ffffff"  # lines on a photograph, and
CASING = "#10161c"  # what is drawn round them so that they show on pale cloth
USABLE_EDGE = "#9be8c8"
TAPE = "#9a3d00"  # tape lengths on the plan
ATTENTION = "#ffd400"  # "look at this edge"


@dataclass(frozen=True, slots=True)
class Filling:
    """How one panel is drawn: fill colour and hatching."""

    colour: str
    hatch: str


_COLOURS = ("#56b4e9", "#e69f00", "#35b08f", "#cc79a7", "#f0e442", "#6f8fd6", "#d98a5b", "#b5b5ad")
_HATCHES = ("//", "\\\\", "..", "--", "xx", "||", "oo")


def panel_filling(index: int) -> Filling:
    """A look for the index-th panel; the first 56 all differ (8 colours and 7 hatchings, coprime)."""
    return Filling(_COLOURS[index % len(_COLOURS)], _HATCHES[index % len(_HATCHES)])


@dataclass(frozen=True, slots=True)
class BlockedLook:
    """How a blocked area is drawn."""

    colour: str
    hatch: str


BLOCKED_LOOK: dict[BlockedKind, BlockedLook] = {
    BlockedKind.SEAM: BlockedLook("#7fd4ff", ""),
    BlockedKind.HEM: BlockedLook("#7fd4ff", ""),
    BlockedKind.CLOSURE: BlockedLook("#b79cff", "||"),
    BlockedKind.POCKET: BlockedLook("#4f9be0", "//"),
    BlockedKind.WORN: BlockedLook("#ff7a45", "xx"),
    BlockedKind.OTHER: BlockedLook("#c9c9c9", ".."),
}

VERDICT_COLOUR: dict[Verdict, str] = {
    Verdict.YES: "#14624f",
    Verdict.YES_WITH_JOINS: "#14624f",
    Verdict.TOO_CLOSE: "#7a5200",
    Verdict.NO: "#8a2f16",
    Verdict.UNSETTLED: "#3f4b63",
}

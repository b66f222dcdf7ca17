"""The project: what is to be cut. Plain data; reading the file is salvage.project.read."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from salvage.units import Unit

Point = tuple[float, float]


class Grain(StrEnum):
    """How a panel's own +y may lie to the piece's grain."""

    ALONG = "along"  # 0, 180; on one-way cloth only 0
    ACROSS = "across"  # 90, 270
    EITHER = "either"  # 0, 90, 180, 270; on one-way cloth not 180
    BIAS = "bias"  # 45, 135, 225, 315; on one-way cloth 45, 315
    ANY = "any"  # every angle


class Join(StrEnum):
    BIAS = "bias"
    STRAIGHT = "straight"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Panel:
    """A shape to be cut once or more.

    outline: cut outline, mm, counter-clockwise, first point not repeated, seam allowance included;
        x across, y along the panel's own length.
    cut: how many in all. many: as many as there is cloth for; cut is then the least, one or a pair.
    mirrored: half of the copies are mirror images.
    flip: may be cut from the wrong side, that is mirrored at will.
    joins: how many joins this panel may be pieced with.
    rotations: turns from the piece's grain in degrees, instead of grain; None if grain rules.
    off_grain: tolerance in degrees, either way.
    finished: (width, length) in mm after sewing, None if the drawing says only what is cut.
    narrowest_part: mm; a joined part may not be narrower.
    pieces: names of the pieces it may be cut from; empty: from any of its fabric.
    seam_allowance: mm on each side (at each join too).
    """

    name: str
    outline: tuple[Point, ...]
    fabric: str = "shell"
    cut: int = 1
    grain: Grain = Grain.ALONG
    mirrored: bool = False
    flip: bool = False
    joins: int = 0
    rotations: tuple[float, ...] | None = None
    off_grain: float = 0.0
    finished: tuple[float, float] | None = None
    narrowest_part: float = 40.0
    seam_allowance: float = 0.0
    pieces: tuple[str, ...] = ()
    many: bool = False


@dataclass(frozen=True, slots=True)
class Strip:
    """A long narrow panel that may be joined from lengths.

    cut_width, length: mm, length as sewn together (allowance at both ends included).
    finished_width and folds: None and 1 where only the cut width was given.
    shortest: a length shorter than this isn't worth joining.
    many: as many as there is cloth for; cut is then 1. longest: as long as can be; length is then the least.
    grain: of each length. pieces: names of the pieces the lengths may be cut from; empty: from any.
    """

    name: str
    cut_width: float
    length: float
    fabric: str = "shell"
    cut: int = 1
    join: Join = Join.BIAS
    shortest: float = 100.0
    grain: Grain = Grain.ALONG
    finished_width: float | None = None
    folds: int = 1
    seam_allowance: float = 0.0
    pieces: tuple[str, ...] = ()
    many: bool = False
    longest: bool = False


@dataclass(frozen=True, slots=True)
class Project:
    """A project file, all lengths in mm. unit: what the person wrote in and wants to see."""

    name: str
    panels: tuple[Panel, ...]
    strips: tuple[Strip, ...] = ()
    unit: Unit = Unit.MM
    seam_allowance: float = 0.0
    cutting_gap: float = 0.0
    notes: tuple[str, ...] = ()

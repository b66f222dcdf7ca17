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
class Notch:
    """A mark in the allowance that comes to lie on the mark of the same label on another panel.

    at: on the cut outline, in its frame; inward: unit direction from there to the stitching line.
    """

    at: Point
    inward: Point
    label: str


@dataclass(frozen=True, slots=True)
class Guide:
    """A line to draw on a panel besides its edges. what: `fold`, `boxed corner`, `zip opening`; mm, the outline's frame."""

    what: str
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Notion:
    """Something to buy or to take off the garment beside cloth. length: mm, None for what is counted."""

    what: str
    length: float | None = None
    count: int = 1


@dataclass(frozen=True, slots=True)
class Part:
    """What a [[part]] of the project gave. items: names of its panels and strips.

    formulas: how their finished sizes follow from the measures, in words; source: where that stands.
    """

    name: str
    kind: str
    items: tuple[str, ...]
    formulas: tuple[str, ...]
    source: str
    notions: tuple[Notion, ...] = ()


@dataclass(frozen=True, slots=True)
class Seam:
    """What is sewn to what: a side (`top`, `bottom`, `left`, `right`) of one panel to a side of another, or its own."""

    first: str
    first_side: str
    second: str
    second_side: str


@dataclass(frozen=True, slots=True)
class Around:
    """Something of the garment that a panel is cut round: it comes to lie whole inside the panel, sewn.

    what: `pocket`, `zip`, any kind of what is blocked, a word of its name, or its number on the marked picture.
    at: where its middle comes to lie, in the frame of the panel's outline; None: anywhere inside. tolerance: mm, either way.
    """

    what: str
    at: Point | None = None
    tolerance: float = 10.0


@dataclass(frozen=True, slots=True)
class Edge:
    """A finished edge of the garment, a hem, used as it is: a side of the panel lies on it, without allowance.

    what: `hem`, or a word of its name. side: `bottom`, `top`, `left` or `right` of the panel.
    """

    what: str
    side: str = "bottom"


@dataclass(frozen=True, slots=True)
class Panel:
    """A shape to be cut once or more.

    outline: cut outline, mm, counter-clockwise, first point not repeated, seam allowance included;
        x across, y along the panel's own length.
    cut: how many in all. many: as many as there is cloth for; cut is then the least, one or a pair.
    mirrored: half of the copies are mirror images.
    flip: may be cut from the wrong side, that is mirrored at will.
    joins: how many joins this panel may be pieced with. joins_where: the side (`bottom`, `top`, `left`, `right`) in whose
        half of the panel they all lie, along that side; "" for anywhere.
    rotations: turns from the piece's grain in degrees, instead of grain; None if grain rules.
    off_grain: tolerance in degrees, either way.
    finished: (width, length) in mm after sewing, None if the drawing says only what is cut.
    narrowest_part: mm; a joined part may not be narrower.
    pieces: names of the pieces it may be cut from; empty: from any of its fabric.
    seam_allowance: mm on each side (at each join too).
    stitching: the stitching line in the outline's frame, where it isn't everywhere seam_allowance inside the
        outline (a hem is deeper); else empty, and project.stitching works it out.
    notches, guides: what else is marked on it.
    around, edge: what of the garment it keeps, if anything; not both.
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
    stitching: tuple[Point, ...] = ()
    notches: tuple[Notch, ...] = ()
    guides: tuple[Guide, ...] = ()
    around: Around | None = None
    edge: Edge | None = None
    joins_where: str = ""

    @property
    def keeps(self) -> str:
        """The word for what of the garment it keeps, whichever way; "" for nothing."""
        return self.around.what if self.around else self.edge.what if self.edge else ""


@dataclass(frozen=True, slots=True)
class Strip:
    """A long narrow panel that may be joined from lengths.

    cut_width, length: mm, length as sewn together (allowance at both ends included).
    finished_width and folds: None and 1 where only the cut width was given.
    shortest: a length shorter than this isn't worth joining.
    many: as many as there is cloth for; cut is then 1. longest: as long as can be; length is then the least.
    grain: of each length. pieces: names of the pieces the lengths may be cut from; empty: from any.
    notches: in the frame of cut_width x length, lower left corner (0, 0).
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
    notches: tuple[Notch, ...] = ()


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
    parts: tuple[Part, ...] = ()
    seams: tuple[Seam, ...] = ()

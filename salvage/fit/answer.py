"""The answer to a fit question, as a person and the report get it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from shapely.geometry import Polygon

from salvage.fit.claim import Proof

# What a value of the project file may be: a text, a number, a pair of lengths, a list of names.
Value = str | int | float | tuple[float, ...] | tuple[str, ...]


class Verdict(StrEnum):
    """What is said of a project on some garments, in a word."""

    YES = "yes"
    YES_WITH_JOINS = "yes-with-joins"
    TOO_CLOSE = "too-close"  # a layout exists, but its spare is smaller than the plus-minus
    NO = "no"  # proven
    UNSETTLED = "unsettled"  # neither a layout nor a proof in the time given

    @property
    def is_yes(self) -> bool:
        """Whether the project can be cut, with joins or without."""
        return self in (Verdict.YES, Verdict.YES_WITH_JOINS)

    @property
    def rank(self) -> int:
        """Higher for the better of two that could be told of one project: not knowing leaves hope, a proven no none."""
        return _WORST_FIRST.index(self)


_WORST_FIRST = (Verdict.NO, Verdict.UNSETTLED, Verdict.TOO_CLOSE, Verdict.YES_WITH_JOINS, Verdict.YES)


@dataclass(frozen=True, slots=True)
class Placement:
    """One cut shape on one piece.

    panel: name of the panel or strip; copy from 1; part: None, or the number of the part (or strip
    length) from 1. garment: index of the garment; piece: its name; layer from 1.
    shape: cut outline in the piece's plane coordinates, mm. angle: degrees on the plane.
    """

    panel: str
    copy: int
    part: int | None
    garment: int
    piece: str
    layer: int
    angle: float
    flipped: bool
    shape: Polygon


@dataclass(frozen=True, slots=True)
class LeftOver:
    """What remains of one fabric. area: mm^2; rectangles: the largest, as (width, length, garment, piece)."""

    area: float
    rectangles: tuple[tuple[float, float, int, str], ...] = ()


@dataclass(frozen=True, slots=True)
class FabricAnswer:
    """What holds for the panels of one fabric, whatever the others do. reasons: sentences for the person."""

    verdict: Verdict
    reasons: tuple[str, ...]
    proof: Proof | None = None


class HelpKind(StrEnum):
    """What kind of change makes a project fit."""

    ANYWHERE = "anywhere"  # may be cut from other pieces too
    JOIN = "join"  # pieced, or joined from more or shorter lengths
    TURN = "turn"  # may lie otherwise to the grain
    SHRINK = "shrink"  # made smaller
    MIXED = "mixed"  # several panels, each changed in its own way
    FABRIC = "fabric"  # cut from another of the fabrics there are
    OTHER_CLOTH = "other-cloth"  # cut from cloth that isn't there, or left out
    GARMENT = "garment"  # with one more garment of the kind
    SCALE = "scale"  # the whole project made smaller


@dataclass(frozen=True, slots=True)
class Edit:
    """A value of the project file that a change gives another value.

    item: name of the panel or strip. key: as the project file has it; mm where it is a length. A `cut` of 0 means that it
    is left out, or cut from cloth that isn't there.
    """

    item: str
    key: str
    before: Value
    after: Value


@dataclass(frozen=True, slots=True)
class Help:
    """A change of the project that makes it fit; a layout of the changed project was found and checked.

    text: the change as a sentence. percent: of the whole project, where that is what changes. garments: how many like the
    garment, where more of them are what helps.
    """

    kind: HelpKind
    text: str
    edits: tuple[Edit, ...] = ()
    percent: float | None = None
    garments: int = 0


@dataclass(frozen=True, slots=True)
class Answer:
    """spare and plus_minus in mm; spare is None where there is no layout.

    reasons: sentences for the person. helps: changes that would make it fit.
    not_placed: names of panels left out of the best partial layout, one entry a copy.
    largest_scale_percent: of the whole project, allowances kept; None if not found.
    join_plan: how parts and lengths are joined, in sentences such as "strap: 3 lengths ...".
    suffices: indices of garments that suffice alone.
    many, longest: copies, and mm of length, of the panels and strips that leave them to the cloth.
    fabrics: what holds for each fabric that the project asks for, as the project spells it.
    doubts: what the recheck could not confirm of proofs that were found; those don't count.
    """

    verdict: Verdict
    reasons: tuple[str, ...]
    placements: tuple[Placement, ...] = ()
    not_placed: tuple[str, ...] = ()
    spare: float | None = None
    plus_minus: float = 0.0
    seconds: float = 0.0
    proof: Proof | None = None
    largest_scale_percent: float | None = None
    left_over: Mapping[str, LeftOver] = field(default_factory=dict)
    helps: tuple[Help, ...] = ()
    join_plan: tuple[str, ...] = ()
    suffices: tuple[int, ...] = ()
    fabrics: Mapping[str, FabricAnswer] = field(default_factory=dict)
    many: Mapping[str, int] = field(default_factory=dict)
    longest: Mapping[str, float] = field(default_factory=dict)
    doubts: tuple[str, ...] = ()

    @property
    def is_yes(self) -> bool:
        """Whether the project can be cut, with joins or without."""
        return self.verdict.is_yes

    @property
    def suggestions(self) -> tuple[str, ...]:
        """The changes that would make it fit, as sentences."""
        return tuple(each.text for each in self.helps)

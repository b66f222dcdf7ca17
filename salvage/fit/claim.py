"""What a no rests on, as plain data: a frozen dataclass for each kind of proof, with all that makes it checkable.

A *claim* speaks of the shapes and cloths of a *relaxed question* by their index: one that asks for no more,
on no less cloth, than the project does on the garments. salvage/fit/proof/README.md gives each argument;
salvage/fit/recheck/ looks at it a second time. Lengths in mm, areas in mm^2, angles in degrees.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, ClassVar, TypeAlias

from salvage.fit.question import Question, allowed_turns, angle_of_turn, takes


class ProofKind(StrEnum):
    AREA = "area"
    NO_PLACE = "no-place"
    EXHAUSTED = "exhausted"


@dataclass(frozen=True, slots=True)
class Copies:
    """`count` copies of a shape of the question, each to lie flipped in one of these ways."""

    shape: int
    flips: tuple[bool, ...]
    count: int


@dataclass(frozen=True, slots=True)
class TooLittleCloth:
    """The shapes of a fabric ask for more area than its cloths have.

    grown_by: both are grown by so much, half of the cutting gap, before they are measured.
    panels: names of what asks for it.
    """

    kind: ClassVar[ProofKind] = ProofKind.AREA
    fabric: str
    asked: float
    there: float
    grown_by: float = 0.0
    panels: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Nearest:
    """How near a shape that has no place comes to one, for people; no part of the proof.

    run: longest clear stretch of its width. percent: of its size at which it has a place.
    only: "face-down" or "against-grain" if it would fit so.
    """

    run: float | None = None
    percent: float | None = None
    only: str = ""


@dataclass(frozen=True, slots=True)
class NoPlace:
    """A shape lies nowhere on any cloth that takes it, at no allowed angle, flipped in none of these ways."""

    kind: ClassVar[ProofKind] = ProofKind.NO_PLACE
    shape: int
    flips: tuple[bool, ...]
    near: Nearest = Nearest()


@dataclass(frozen=True, slots=True)
class NoPart:
    """However a panel is pieced, one part of it lies nowhere. least: by way of joining, that part's extent."""

    kind: ClassVar[ProofKind] = ProofKind.NO_PLACE
    panel: str
    joins: int
    least: Mapping[str, float]


Alone: TypeAlias = tuple[int, int]  # (index in copies, cloth): none of these copies lies there
Apart: TypeAlias = tuple[int, int, int]  # (two indices in copies, cloth): no two of them lie there together


@dataclass(frozen=True, slots=True)
class Pigeonhole:
    """Copies of which no two lie on one cloth, and more of them than cloths that take one (takers)."""

    kind: ClassVar[ProofKind] = ProofKind.EXHAUSTED
    fabric: str
    copies: tuple[Copies, ...]
    takers: tuple[int, ...]
    no_place: tuple[Alone, ...]
    apart: tuple[Apart, ...]


@dataclass(frozen=True, slots=True)
class Counted:
    """A cloth, turned so that its grain is up, holds `points` points of the lattice through (x, y)."""

    cloth: int
    points: int
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Inside:
    """Where in a shape, turned so from the grain and perhaps flipped, the middle of the rectangle lies."""

    shape: int
    turn: float
    flipped: bool
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Lattice:
    """Each of the copies, however it lies, holds an upright rectangle (width, height), and each such one a
    point of a lattice of a hair less pitch; so no cloth takes more of them than it holds such points.
    """

    copies: tuple[int, ...]  # indices in the claim's copies
    rectangle: tuple[float, float]
    counted: tuple[Counted, ...]
    inside: tuple[Inside, ...]


@dataclass(frozen=True, slots=True)
class TooMany:
    """More copies than lattice points on all cloths, leaving out those cloths that none of them lies on."""

    kind: ClassVar[ProofKind] = ProofKind.EXHAUSTED
    fabric: str
    copies: tuple[Copies, ...]
    lattice: Lattice
    no_place: tuple[Alone, ...]


@dataclass(frozen=True, slots=True)
class NoSharing:
    """However the copies are shared out among the cloths, one of these limits is broken: its area, what has
    no place on it, what is not together on it, or its lattice points.
    """

    kind: ClassVar[ProofKind] = ProofKind.EXHAUSTED
    fabric: str
    copies: tuple[Copies, ...]
    no_place: tuple[Alone, ...]
    apart: tuple[Apart, ...]
    lattices: tuple[Lattice, ...]


@dataclass(frozen=True, slots=True)
class OnAGrid:
    """The copies hold squares of this side, side by side, in rows along the grain or across it; and on grids as
    large as the cloths' bounding boxes there is no way to put them so that no square is covered twice.
    """

    kind: ClassVar[ProofKind] = ProofKind.EXHAUSTED
    fabric: str
    copies: tuple[Copies, ...]
    side: float


Claim: TypeAlias = TooLittleCloth | NoPlace | NoPart | Pigeonhole | TooMany | NoSharing | OnAGrid


@dataclass(frozen=True, slots=True)
class Site:
    """Where a cloth of the relaxed question comes from: index of the garment, its piece, layer from 1."""

    garment: int
    piece: str
    layer: int


@dataclass(frozen=True, slots=True)
class Proof:
    """Why there is no layout.

    question: what the claim is about; without shapes where it speaks of the project as it stands.
    sites: of its cloths, in order; empty for a question that came from no garment.
    grown: the cloth is larger by its plus-minus, so that the no holds wherever in it the truth lies.
    """

    claim: Claim
    question: Question
    sites: tuple[Site, ...] = ()
    grown: bool = False

    @property
    def kind(self) -> ProofKind:
        return self.claim.kind

    @property
    def panels(self) -> tuple[str, ...]:
        """Names of the panels and strips that it is about."""
        match self.claim:
            case TooLittleCloth(panels=panels):
                return panels
            case NoPart(panel=panel):
                return (panel,)
            case NoPlace(shape=shape):
                return (self._shape(shape),)
            case TooMany(copies=copies, lattice=lattice):
                return self._names(copies[k] for k in lattice.copies)
            case Pigeonhole(copies=copies) | NoSharing(copies=copies) | OnAGrid(copies=copies):
                return self._names(copies)

    @property
    def fabric(self) -> str:
        """The fabric that it is about, as cloths name it."""
        match self.claim:
            case NoPlace(shape=shape):
                return self.question.shapes[shape].fabric
            case NoPart():
                return self.question.cloths[0].fabric if self.question.cloths else ""
            case claim:
                return claim.fabric

    @property
    def pieces(self) -> tuple[str, ...]:
        """Names of the pieces that it is about, each once."""
        if self.sites:
            return tuple(dict.fromkeys(self.sites[g].piece for g in self._cloths()))
        return tuple(dict.fromkeys(self.question.cloths[g].name for g in self._cloths()))

    @property
    def numbers(self) -> dict[str, Any]:
        """What makes it checkable by another program, as JSON has it."""
        more = {"panels": list(self.panels), "pieces": list(self.pieces), "grown": self.grown}
        return _NUMBERS[type(self.claim)](self, self.claim) | more

    def _shape(self, index: int) -> str:
        return self.question.shapes[index].name

    def _cloth(self, index: int) -> str:
        return self.question.cloths[index].name

    def _names(self, copies: Iterable[Copies]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(self._shape(each.shape) for each in copies))

    def _cloths(self) -> tuple[int, ...]:
        """Indices of the cloths that it is about."""
        cloths = enumerate(self.question.cloths)
        if isinstance(self.claim, NoPlace):
            shape = self.question.shapes[self.claim.shape]
            return tuple(g for g, cloth in cloths if takes(cloth, shape))
        return tuple(g for g, cloth in cloths if cloth.fabric == self.fabric)


# --- as JSON has it ----------------------------------------------------------------------------------


def _area(proof: Proof, claim: TooLittleCloth) -> dict[str, Any]:
    return {
        "fabric": claim.fabric,
        "asked": claim.asked,
        "there": claim.there,
        "grown_by": claim.grown_by,
    }


def _no_place(proof: Proof, claim: NoPlace) -> dict[str, Any]:
    shape = proof.question.shapes[claim.shape]
    return {
        "shape": shape.name,
        "fabric": shape.fabric,
        "outline": [list(point) for point in shape.outline],
        "flipped": list(claim.flips),
        "cloths": [
            {"cloth": cloth.name, "angles": _angles(proof.question, claim.shape, g)}
            for g, cloth in enumerate(proof.question.cloths)
            if takes(cloth, shape)
        ],
        "nearest": {"run": claim.near.run, "percent": claim.near.percent, "only": claim.near.only},
    }


def _angles(question: Question, index: int, g: int) -> list[dict[str, float]]:
    shape, cloth = question.shapes[index], question.cloths[g]
    turns = allowed_turns(shape, cloth)
    if turns is None:
        return [{"from": 0.0, "to": 360.0}]
    off = 0.0 if shape.angles is not None else shape.off_grain
    middles = sorted(angle_of_turn(turn, cloth) for turn in turns)
    return [{"from": round(middle - off, 6), "to": round(middle + off, 6)} for middle in middles]


def _no_part(proof: Proof, claim: NoPart) -> dict[str, Any]:
    return {"panel": claim.panel, "joins": claim.joins, "least_part": dict(claim.least)}


def _copies(proof: Proof, copies: Iterable[Copies]) -> list[dict[str, Any]]:
    return [
        {"shape": proof._shape(each.shape), "count": each.count, "flips": list(each.flips)} for each in copies
    ]


def _facts(
    proof: Proof, copies: tuple[Copies, ...], no_place: Iterable[Alone], apart: Iterable[Apart]
) -> dict[str, Any]:
    def name(k: int) -> str:
        return proof._shape(copies[k].shape)

    return {
        "no_place": [[name(k), proof._cloth(g)] for k, g in no_place],
        "not_together": [[name(k), name(m), proof._cloth(g)] for k, m, g in apart],
    }


def _lattice(proof: Proof, lattice: Lattice, without: Iterable[int] = ()) -> dict[str, Any]:
    most = Counter[str]()  # stretches of one piece share its name
    for each in lattice.counted:
        most[proof._cloth(each.cloth)] += 0 if each.cloth in without else each.points
    return {"rectangle": list(lattice.rectangle), "most": dict(most)}


def _pigeonhole(proof: Proof, claim: Pigeonhole) -> dict[str, Any]:
    return {
        "rule": "pigeonhole",
        "fabric": claim.fabric,
        "shapes": _copies(proof, claim.copies),
        "copies": sum(each.count for each in claim.copies),
        "cloths_that_take_one": [proof._cloth(g) for g in claim.takers],
        "gap": proof.question.gap,
    } | _facts(proof, claim.copies, claim.no_place, claim.apart)


def _too_many(proof: Proof, claim: TooMany) -> dict[str, Any]:
    group = [claim.copies[k] for k in claim.lattice.copies]
    barred = empty_cloths(claim.lattice.copies, claim.no_place)
    return {
        "rule": "lattice",
        "fabric": claim.fabric,
        "shapes": _copies(proof, group),
        "copies": sum(each.count for each in group),
        "gap": proof.question.gap,
    } | _lattice(proof, claim.lattice, barred)


def empty_cloths(copies: Iterable[int], no_place: Iterable[tuple[int, ...]]) -> set[int]:
    """Cloths that none of these copies lies on."""
    facts, wanted = {fact for fact in no_place if len(fact) == 2}, tuple(copies)
    return {g for _, g in facts if all((k, g) in facts for k in wanted)}


def _no_sharing(proof: Proof, claim: NoSharing) -> dict[str, Any]:
    return {
        "rule": "assignment",
        "fabric": claim.fabric,
        "shapes": _copies(proof, claim.copies),
        "cloth_areas": {proof._cloth(g): proof.question.cloths[g].polygon.area for g in proof._cloths()},
        "most": [
            {"shapes": list(proof._names(claim.copies[k] for k in each.copies))} | _lattice(proof, each)
            for each in claim.lattices
        ],
        "gap": proof.question.gap,
    } | _facts(proof, claim.copies, claim.no_place, claim.apart)


def _on_a_grid(proof: Proof, claim: OnAGrid) -> dict[str, Any]:
    return {
        "rule": "grid",
        "fabric": claim.fabric,
        "shapes": _copies(proof, claim.copies),
        "copies": sum(each.count for each in claim.copies),
        "side": claim.side,
        "gap": proof.question.gap,
    }


_NUMBERS: Mapping[type, Any] = {
    TooLittleCloth: _area,
    NoPlace: _no_place,
    NoPart: _no_part,
    Pigeonhole: _pigeonhole,
    TooMany: _too_many,
    NoSharing: _no_sharing,
    OnAGrid: _on_a_grid,
}

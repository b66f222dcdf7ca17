"""The bare question the search and the proofs work on: can all these shapes be cut from this cloth?

Words: a *cloth* is one connected stretch of usable cloth (a polygon with holes); a *shape* is what must
be cut from it, once or more; a *turn* is the angle from the cloth's grain to the shape's +y; its *angle*
is how far the shape is turned counter-clockwise on the plane, so angle = turn + grain - 90.
A placement takes the shape's outline, mirrors it (x -> -x) if flipped, turns it by the angle about
(0, 0), then moves it by (x, y); it must then lie within the cloth.
"""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry import Polygon

from salvage.project.project import Grain, Point


@dataclass(frozen=True, slots=True)
class Cloth:
    """One connected stretch of usable cloth, mm. One-way cloth has its up along grain.

    piece: by which shapes that are limited to some pieces know it.
    """

    name: str
    polygon: Polygon
    fabric: str = "shell"
    grain: float = 90.0
    one_way: bool = False
    piece: str = ""


@dataclass(frozen=True, slots=True)
class Shape:
    """What is to be cut. outline: mm, counter-clockwise, first point not repeated.

    turns: allowed turns in degrees instead of grain. angles: allowed angles on the plane whatever the
    grain (public nesting instances). off_grain: tolerance in degrees around each turn.
    mirrored_pair: half of the count as drawn, half mirrored. may_flip: mirrored at will.
    pieces: may be cut from cloth of these pieces only; empty: from any.
    """

    name: str
    outline: tuple[Point, ...]
    fabric: str = "shell"
    count: int = 1
    grain: Grain = Grain.ALONG
    turns: tuple[float, ...] | None = None
    angles: tuple[float, ...] | None = None
    off_grain: float = 0.0
    mirrored_pair: bool = False
    may_flip: bool = False
    pieces: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """gap: least distance in mm between two shapes on one cloth; none is asked to the cloth's edge."""

    cloths: tuple[Cloth, ...]
    shapes: tuple[Shape, ...]
    gap: float = 0.0


@dataclass(frozen=True, slots=True)
class Placed:
    """Where one copy of a shape lies. shape and cloth are indices into the question."""

    shape: int
    cloth: int
    angle: float
    flipped: bool
    x: float
    y: float


_TURNS = {
    Grain.ALONG: ((0.0, 180.0), (0.0,)),
    Grain.ACROSS: ((90.0, 270.0), (90.0, 270.0)),
    Grain.EITHER: ((0.0, 90.0, 180.0, 270.0), (0.0, 90.0, 270.0)),
    Grain.BIAS: ((45.0, 135.0, 225.0, 315.0), (45.0, 315.0)),
}


def takes(cloth: Cloth, shape: Shape) -> bool:
    """Whether the shape may be cut from this cloth at all: of its fabric, and of a piece it may come from."""
    return cloth.fabric == shape.fabric and (not shape.pieces or cloth.piece in shape.pieces)


def allowed_turns(shape: Shape, cloth: Cloth) -> tuple[float, ...] | None:
    """Turns from the cloth's grain allowed for the shape, degrees in [0, 360); None means every angle.

    None at all, (), on cloth of a piece that the shape may not be cut from.
    """
    if shape.pieces and cloth.piece not in shape.pieces:
        return ()
    if shape.angles is not None:
        return tuple((90.0 + angle - cloth.grain) % 360 for angle in shape.angles)
    if shape.turns is not None:
        return tuple(turn % 360 for turn in shape.turns)
    if shape.grain is Grain.ANY:
        return None
    return _TURNS[shape.grain][1 if cloth.one_way else 0]


def angle_of_turn(turn: float, cloth: Cloth) -> float:
    """The angle on the plane, degrees in [0, 360), that gives this turn from the cloth's grain."""
    return (turn + cloth.grain - 90.0) % 360

"""How a shape may lie, worked out anew from the words of the project: turns, arcs of angles, flips.

An *arc* is (middle, half-width) of angles on the plane, degrees.
"""

from __future__ import annotations

import math

from shapely import affinity
from shapely.geometry import Polygon

from salvage.fit.claim import Copies
from salvage.fit.question import Cloth, Shape
from salvage.project.project import Grain

Arc = tuple[float, float]

_FOR_GRAIN = {
    Grain.ALONG: (0, 180),
    Grain.ACROSS: (90, 270),
    Grain.EITHER: (0, 90, 180, 270),
    Grain.BIAS: (45, 135, 225, 315),
}
_UPSIDE_DOWN = {Grain.ALONG: (180,), Grain.EITHER: (180,), Grain.BIAS: (135, 225)}


def takes(cloth: Cloth, shape: Shape) -> bool:
    """Whether the project lets the shape be cut from the cloth at all."""
    return cloth.fabric == shape.fabric and (not shape.pieces or cloth.piece in shape.pieces)


def arcs(shape: Shape, cloth: Cloth) -> list[Arc]:
    """Every angle at which the shape may lie on the cloth."""
    if not takes(cloth, shape):
        return []
    if shape.angles is not None:
        return [(float(angle), 0.0) for angle in shape.angles]
    turns: tuple[float, ...]
    if shape.turns is not None:
        turns = shape.turns
    elif shape.grain is Grain.ANY:
        return [(22.5 + 45 * k, 22.5) for k in range(8)]
    else:
        banned = _UPSIDE_DOWN.get(shape.grain, ()) if cloth.one_way else ()
        turns = tuple(turn for turn in _FOR_GRAIN[shape.grain] if turn not in banned)
    # a shape's own +y is at 90 degrees, so turned by `turn` from the grain it lies at turn + grain - 90
    return [((turn + cloth.grain - 90) % 360, shape.off_grain) for turn in turns]


def copies_of(shape: Shape, index: int) -> tuple[Copies, ...]:
    """The copies that must be cut, by how each may be flipped."""
    if shape.may_flip:
        return (Copies(index, (False, True), shape.count),)
    if shape.mirrored_pair:
        half = shape.count // 2
        return (Copies(index, (False,), shape.count - half), Copies(index, (True,), half))
    return (Copies(index, (False,), shape.count),)


def lying(outline: Polygon, angle: float, flipped: bool) -> Polygon:
    """Mirrored (x -> -x) if flipped, then turned about (0, 0) counter-clockwise; exact at quarter turns."""
    quarters, rest = divmod(angle % 360, 90)
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    if rest == 0:
        cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters) % 4]
    sign = -1.0 if flipped else 1.0
    return affinity.affine_transform(outline, [sign * cos, -sin, sign * sin, cos, 0, 0])

"""Angles at which a shape may just have a place: what is left of all angles once the proof has ruled out the rest.

The search tries a sample of angles. Where a shape that may lie at any angle has a place at hardly any, no sample
hits it, but the halving that proves most angles impossible closes in on those that are not.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from shapely import affinity
from shapely.geometry import Polygon

from salvage.fit.geometry.turning import turned
from salvage.fit.proof.place import flips_of, intervals
from salvage.fit.proof.region import SHRINK, is_empty, region, shrunk
from salvage.fit.question import Cloth, Question, Shape, takes

_FINE = 0.003  # degrees; half an interval of angles is not divided below this
_BEAM, _NARROW, _NARROW_BEAM = (
    48,
    1.0,
    16,
)  # intervals kept at each level, those with most room; degrees, and then
_KEPT = 6  # angles handed on, of a shape on a cloth


def closer(question: Question, shapes: Sequence[int], ended: Callable[[], bool]) -> Question | None:
    """The question with these shapes at the few angles only at which they may have a place; None if none is left.

    A layout of it is a layout of the question. shapes: indices of such as may lie at more angles than can be tried.
    """
    changed = list(question.shapes)
    for s in shapes:
        shape = question.shapes[s]
        turns = [
            turn
            for cloth in question.cloths
            if takes(cloth, shape)
            for flipped in flips_of(shape)
            for turn in surviving(shape, cloth, flipped, ended)
        ]
        if turns:
            changed[s] = replace(shape, turns=tuple(dict.fromkeys(turns)), off_grain=0.0)
    return None if tuple(changed) == question.shapes or ended() else replace(question, shapes=tuple(changed))


def surviving(shape: Shape, cloth: Cloth, flipped: bool, ended: Callable[[], bool]) -> list[float]:
    """Turns from the grain, degrees, in the middle of the intervals that are left, those with the most room first."""
    outline = Polygon(shape.outline)
    level = [each for each in intervals(shape, cloth) if each[1] > 0]
    if not level or outline.area > cloth.polygon.area:
        return []
    centre = outline.centroid
    middle = affinity.translate(outline, -centre.x, -centre.y)
    reach = max(math.hypot(x, y) for x, y in middle.exterior.coords)
    while level and level[0][1] > _FINE:
        roomy = []
        for angle, half in level:
            for side in (-half / 2, half / 2):
                if ended():
                    return []
                moved = 2 * reach * math.sin(math.radians(half / 2) / 2)
                core = shrunk(turned(middle, angle + side, flipped), SHRINK + moved)
                room = region(cloth.polygon, core)
                if core.is_empty or not is_empty(room):
                    area = math.inf if core.is_empty else room.area
                    roomy.append((-area, angle + side, half / 2))
        beam = _BEAM if level[0][1] > _NARROW else _NARROW_BEAM
        level = [(angle, half) for _, angle, half in sorted(roomy)[:beam]]
    return [(angle - cloth.grain + 90.0) % 360 for angle, _ in level[:_KEPT]]

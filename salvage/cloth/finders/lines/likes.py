"""Both halves of a garment compared: a seam, a dart, an edge on one half, and on the other hardly a trace of its like.

On 340 drawn garments kept apart (fixtures/train/count_likes.py) 718 stretches of lines, 95 m, were found on one half alone.
Their like is there, within WIDE of its place, in 0.23 of that length only: most were creases, or are cut so. What tells is
the trace that the look at the whole garment sees where the like would lie, too ragged to be traced as a line: where its mean
chance is below 0.1, 0.06 of the likes are there, from 0.1 to 0.5 0.15 to 0.35, from LEAST 0.87 (52 of the 718, 3.3 m). Only
these are laid, in doubt, for the person to say.
"""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.finders.found import Found, Seam
from salvage.cloth.finders.lines.beside import joined_lines, running_along
from salvage.cloth.finders.lines.evidence import LineWitness, along_the_middle, points_along
from salvage.cloth.finders.sight import Sight
from salvage.cloth.flat.axis import Axis
from salvage.cloth.flat.whole import Whole
from salvage.cloth.garment import BETWEEN, EDGE_LYING_OVER, LIKE, BlockedKind, FoundBy

WIDE = 20.0  # mm: garments seldom lie quite even, and the axis is off too
LEAST = 0.6  # chance from which a like is laid: it blocks four times as wide as a seam, so it must be there most times
MOST = 0.75  # confidence: nobody saw it, so it is asked about
SHORTEST = 45.0  # mm
_BESIDE = 30.0  # mm, within which a line is the like: garments seldom lie quite even
_MAY_BE_QUILTED = 0.3  # chance from which a person is asked whether it is padded, too
_EDGE = 1.2  # grid steps from the outline, within which a line is the outline


def of_other_half(sight: Sight, found: Found) -> list[Seam]:
    """The likes of what was found, but on a sharp photograph, which would show them, and on a garment that may be quilted:
    its lines are its quilting, whose halves need not be alike."""
    if sight.sharp or sight.whole.padded >= _MAY_BE_QUILTED:
        return []
    blocked = shapely.union_all([each.shape for each in found.fittings])
    return lacking_their_like(found.seams, sight.cloth, sight.axis, sight.whole, blocked)


def lacking_their_like(
    seams: Sequence[Seam], cloth: Polygon, axis: Axis, whole: Whole, known: BaseGeometry | None = None
) -> list[Seam]:
    """The likes, on the other half, of lines that have none there and that most likely have one.

    seams: all that was seen or laid, in mm. known: places where the cloth is blocked anyway.
    """
    witness = LineWitness(whole, cloth, axis)
    laid = []
    for seam, line in one_sided(seams, cloth, axis, whole.step):
        chance = witness.about(line)
        if chance >= LEAST and (known is None or not known.covers(line)):
            laid.append(_like_of(seam, line, chance))
    return laid


def one_sided(
    seams: Sequence[Seam], cloth: Polygon, axis: Axis, step: float
) -> list[tuple[Seam, LineString]]:
    """Each line that has no like, and where that would lie, as far as nothing was seen there. step: mm, of the look at the
    whole garment."""
    if not axis.compares:
        return []
    inner = cloth.buffer(-_EDGE * step)
    lines = [each.line for each in seams]
    found: list[tuple[Seam, LineString]] = []
    for seam in seams:
        if seam.on_outline or seam.found_by is not FoundBy.PHOTO or seam.kind is BlockedKind.CLOSURE:
            continue
        if along_the_middle(axis.own(points_along(seam.line, step))):
            continue
        for part in joined_lines(axis.like_of(seam.line).intersection(inner)):
            near = [zone for each in lines if not (zone := running_along(each, part, _BESIDE)).is_empty]
            left = part.difference(shapely.union_all(near)) if near else part
            found += [(seam, each) for each in joined_lines(left) if each.length >= SHORTEST]
    return found


def _like_of(seam: Seam, line: LineString, chance: float) -> Seam:
    between = seam.what.startswith(BETWEEN) and seam.what != EDGE_LYING_OVER
    named = "" if between else seam.what
    what = named or str(BlockedKind.HEM if seam.hem else BlockedKind.SEAM)
    return Seam(line, min(chance, MOST), hem=seam.hem, what=what + LIKE, wide=WIDE, kind=seam.kind)

"""Both sides of a garment compared: a pocket on one and none on the other is doubtful on the other.

Pockets at the hip, and slits and zips off the middle wherever they are, come in pairs; a patch pocket on the
chest is often alone (common practice), unless its like left a trace that was too faint to be a pocket by itself.
A tab or strap of which only the button is seen on the other side comes in pairs as surely as its button does. What is laid here wasn't seen: it is for the person to say.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import shapely
from shapely.geometry import Polygon

from salvage.cloth.finders.found import Found, Spot
from salvage.cloth.finders.sight import Sight
from salvage.cloth.finders.weigh import points_in
from salvage.cloth.flat.areas import sides
from salvage.cloth.flat.axis import Axis
from salvage.cloth.flat.chances import EVERY, Chances
from salvage.cloth.flat.picture import Flat, rasterise
from salvage.cloth.flat.whole import Whole
from salvage.cloth.garment import LIKE, BlockedKind

_OFF_MIDDLE = 20.0  # mm from the axis, at least: nearer it is a fly, a placket or a kangaroo pocket
_BELIEVED, _DOUBTFUL = 0.5, 0.4  # confidence a pocket must have to ask for its like, and that of the like
_SLIM = 2.2  # times longer than wide is a slit or a zip
_SHORTEST = 80.0  # mm: a hand goes in
_NEAR = 30.0  # mm from where its like would lie: garments seldom lie quite even
# mm: a tab or strap is so long at least, for what is shorter has no like that matters beside its button; and so wide at most.
_TAB, _TAB_WIDE = 28.0, 60.0
# Mean chance of a pocket, near by or by the look at the whole garment, where a like would lie, from which one is asked about,
# and its confidence then. On 60 drawings that no training had (fixtures/train/count_pockets.py) 12 pockets had no like found:
# with a trace below 0.05 nothing was there (4), from 0.29 up 0.36 to 0.92 of the place was a drawn pocket (8).
_TRACE, _TRACED, TRACED_LONG = 0.25, 0.7, 60.0
SEEN = 0.5  # share of a like that what is there covers, from which it is seen itself
ON_CLOTH = 0.95  # share of it that must lie on cloth
_ABOUT = 8.0  # mm added to the margin, for the same reason


def find(sight: Sight, found: Found) -> Found:
    """The likes, on the other side, of pockets that have none."""

    def trace(like: Polygon) -> float:
        return trace_of(like, sight.chances, sight.flat, sight.whole)

    new = lacking_their_like(found.fittings, sight.cloth, sight.axis, trace)
    return replace(found, fittings=(*found.fittings, *new))


def lacking_their_like(
    fittings: Sequence[Spot], cloth: Polygon, axis: Axis, trace: Callable[[Polygon], float] = lambda _: 0.0
) -> list[Spot]:
    """For each pocket that should have its like on the other side and has none there, that like, in doubt.

    trace: how much of a pocket is seen in a place, 0 to 1.
    """
    if not axis.compares:
        return []
    middle = float(shapely.transform(cloth, axis.own).centroid.y)
    there = shapely.union_all(
        [each.shape for each in fittings if each.kind in (BlockedKind.POCKET, BlockedKind.CLOSURE)]
        + [Polygon()]
    )
    found = []
    for each in fittings:
        pair, tab = _comes_in_pairs(each, axis, middle), _is_tab(each, axis)
        pocket = each.kind is BlockedKind.POCKET and is_aside(each, axis, TRACED_LONG)
        if not pair and not tab and not pocket:
            continue
        like = axis.like_of(each.shape)
        if like.intersection(cloth).area < ON_CLOTH * like.area:
            continue
        covered = like.intersection(there).area / like.area
        traced = pocket and covered < SEEN and trace(like) >= _TRACE
        is_missing = pair and like.distance(there) >= _NEAR
        if (
            not traced
            and not is_missing
            and not (tab and 0.0 < covered < SEEN and _has_button(each, fittings))
        ):
            continue
        name = each.what or str(each.kind)
        found.append(
            replace(
                each,
                shape=like,
                wide=each.wide + _ABOUT,
                what=name + LIKE,
                confidence=min(each.confidence, _TRACED if traced else _DOUBTFUL),
                fine=False,
            )
        )
    return found


def trace_of(like: Polygon, chances: Chances, flat: Flat, whole: Whole) -> float:
    """The mean chance of a pocket there, near by or by the look at the whole garment, whichever is more."""
    near = chances.pocket
    inside = rasterise(like, (near.shape[0], near.shape[1]), EVERY * flat.step, flat.left, flat.top)
    seen = float(near[inside].mean()) if inside.any() else 0.0
    return max(seen, float(whole.at(whole.spots["pocket"], points_in(like, whole.step)).mean()))


def is_aside(fitting: Spot, axis: Axis, long: float) -> bool:
    """Whether it lies off the middle and is so long at least."""
    left, _, right, _ = shapely.transform(fitting.shape, axis.own).bounds
    return min(abs(left), abs(right)) >= _OFF_MIDDLE and left * right > 0 and sides(fitting.shape)[0] >= long


def _has_button(fitting: Spot, fittings: Sequence[Spot]) -> bool:
    """Whether another, smaller thing lies on it, as a button does on a tab."""
    return any(
        each is not fitting and each.shape.area < fitting.shape.area and each.shape.intersects(fitting.shape)
        for each in fittings
    )


def _is_tab(fitting: Spot, axis: Axis) -> bool:
    """Whether it may be a tab or a strap that comes in pairs: off the middle, sewn on and narrow."""
    sewn_on = fitting.kind in (BlockedKind.POCKET, BlockedKind.CLOSURE)
    return sewn_on and is_aside(fitting, axis, _TAB) and sides(fitting.shape)[1] <= _TAB_WIDE


def _comes_in_pairs(fitting: Spot, axis: Axis, middle: float) -> bool:
    own = shapely.transform(fitting.shape, axis.own)
    left, _, right, _ = own.bounds
    if fitting.confidence < _BELIEVED or min(abs(left), abs(right)) < _OFF_MIDDLE or left * right < 0:
        return False
    long, short = sides(own)
    slim = long > _SLIM * short
    if long < _SHORTEST:
        return False
    if fitting.kind is BlockedKind.CLOSURE:
        return slim and fitting.what == "zip"
    return fitting.kind is BlockedKind.POCKET and (slim or own.centroid.y < middle)

"""Both sides of a garment compared: a pocket on one and none on the other is doubtful on the other.

Pockets at the hip, and slits and zips off the middle wherever they are, come in pairs; a patch pocket on the
chest is often alone (common practice). A tab or strap of which only the button is seen on the other side comes in pairs as
surely as its button does. What is laid here wasn't seen: it is for the person to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely import affinity
from shapely.geometry import Polygon

from salvage.cloth.finders.found import Found, Spot
from salvage.cloth.finders.sight import Sight
from salvage.cloth.flat.areas import sides
from salvage.cloth.flat.axis import Axis
from salvage.cloth.garment import LIKE, BlockedKind

_ASKEW = 8.0  # degrees the axis may be off at most
_OFF_MIDDLE = 20.0  # mm from the axis, at least: nearer it is a fly, a placket or a kangaroo pocket
_BELIEVED, _DOUBTFUL = 0.5, 0.4  # confidence a pocket must have to ask for its like, and that of the like
_SLIM = 2.2  # times longer than wide is a slit or a zip
_SHORTEST = 80.0  # mm: a hand goes in
_NEAR = 30.0  # mm from where its like would lie: garments seldom lie quite even
# mm: a tab or strap is so long at least, for what is shorter has no like that matters beside its button; and so wide at most.
_TAB, _TAB_WIDE = 28.0, 60.0
_SEEN = 0.5  # share of a like that what is there covers, from which it is seen itself
_ON_CLOTH = 0.95  # share of it that must lie on cloth
_ABOUT = 8.0  # mm added to the margin, for the same reason


def find(sight: Sight, found: Found) -> Found:
    """The likes, on the other side, of pockets that have none."""
    new = lacking_their_like(found.fittings, sight.cloth, sight.axis)
    return replace(found, fittings=(*found.fittings, *new))


def lacking_their_like(fittings: Sequence[Spot], cloth: Polygon, axis: Axis) -> list[Spot]:
    """For each pocket that should have its like on the other side and has none there, that like, in doubt."""
    if not axis.is_symmetric or axis.plus_minus > _ASKEW:
        return []
    middle = float(shapely.transform(cloth, axis.own).centroid.y)
    there = shapely.union_all(
        [each.shape for each in fittings if each.kind in (BlockedKind.POCKET, BlockedKind.CLOSURE)]
        + [Polygon()]
    )
    found = []
    for each in fittings:
        pair, tab = _comes_in_pairs(each, axis, middle), _is_tab(each, axis)
        if not pair and not tab:
            continue
        mirrored = affinity.scale(shapely.transform(each.shape, axis.own), -1.0, 1.0, origin=(0.0, 0.0))
        like = shapely.transform(mirrored, axis.on_plane)
        if like.intersection(cloth).area < _ON_CLOTH * like.area:
            continue
        in_part = 0.0 < like.intersection(there).area < _SEEN * like.area
        is_missing = pair and like.distance(there) >= _NEAR
        if not is_missing and not (tab and in_part and _has_button(each, fittings)):
            continue
        name = each.what or str(each.kind)
        found.append(
            replace(
                each,
                shape=like,
                wide=each.wide + _ABOUT,
                what=name + LIKE,
                confidence=min(each.confidence, _DOUBTFUL),
                fine=False,
            )
        )
    return found


def _has_button(fitting: Spot, fittings: Sequence[Spot]) -> bool:
    """Whether another, smaller thing lies on it, as a button does on a tab."""
    return any(
        each is not fitting and each.shape.area < fitting.shape.area and each.shape.intersects(fitting.shape)
        for each in fittings
    )


def _is_tab(fitting: Spot, axis: Axis) -> bool:
    """Whether it may be a tab or a strap that comes in pairs: off the middle, sewn on and narrow."""
    left, _, right, _ = shapely.transform(fitting.shape, axis.own).bounds
    far = min(abs(left), abs(right)) >= _OFF_MIDDLE and left * right > 0
    sewn_on = fitting.kind in (BlockedKind.POCKET, BlockedKind.CLOSURE)
    long, short = sides(fitting.shape)
    return far and sewn_on and long >= _TAB and short <= _TAB_WIDE


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

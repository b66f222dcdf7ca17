"""Closures and pockets that are none: along a turned edge the threads look like a zip's or a button's, and nothing is sewn on.

A cuff's or a sleeve's edge stands up from the floor, lit on one side and rolled. The network near by, which sees a few
centimetres, takes that for a band or a button; the look at the whole garment knows what a cuff is. So what lies along the
edge must be borne out by it, and so must a tab of which only straight lines are seen, or it is hardly believed. Of a cut
piece, whose zips lie at its edge, the look at the whole garment knows too little: there all stays.

Counted on garments drawn from seeds that no training had (fixtures/train/count_closures.py). On the 59 that were looked at while
building this takes out 6 of the 48 closures that weren't there, and 1 of the 79 that were; 16 tabs more that weren't there are
hardly believed, and none that was; of 6 pockets that weren't there one goes, of 33 that were none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from salvage.cloth.finders.found import Found, Spot
from salvage.cloth.finders.sewn.fittings import TAB_OR_LOOP
from salvage.cloth.finders.sight import Sight
from salvage.cloth.finders.weigh import points_in
from salvage.cloth.flat.picture import Flat
from salvage.cloth.flat.whole import Whole
from salvage.cloth.garment import BlockedKind

_EDGE = 14.0  # mm from the cloth's edge, on the mean: so a turned edge or the edge of a cuff lies
_SEEN = 0.15  # chance, at its likeliest point, from which the look at the whole garment bears a closure out
_CLEAR = 0.75  # chance of the threads from which they are believed alone
_HARDLY = 0.2  # confidence of a tab that straight lines alone show: of 26 such on drawings none was there
_PIECE = "cloth"  # what a cut piece is called among the kinds of garments
_WITNESSES = {BlockedKind.CLOSURE: ("hardware", "loops"), BlockedKind.POCKET: ("pocket",)}  # of spots


def find(sight: Sight, found: Found) -> Found:
    """Without the closures and pockets that are turned edges, and with tabs hardly believed that only straight lines show."""
    kept = borne_out(found.fittings, sight.whole, sight.plain)
    return replace(found, fittings=tuple(kept))


def borne_out(fittings: Sequence[Spot], whole: Whole, flat: Flat) -> list[Spot]:
    """Without the closures and pockets along the cloth's edge that the look at the whole garment sees nothing of, and with
    little confidence in tabs elsewhere of which it sees nothing."""
    if whole.kind == _PIECE:
        return list(fittings)
    kept = []
    for each in fittings:
        faint = each.fine and each.kind in _WITNESSES and each.confidence < _CLEAR
        if faint and witnessed(each, whole) < _SEEN:
            if _from_edge(each, flat) < _EDGE:
                continue
            if each.what == TAB_OR_LOOP:
                each = replace(each, confidence=min(each.confidence, _HARDLY))
        kept.append(each)
    return kept


def witnessed(sewn_on: Spot, whole: Whole) -> float:
    """The greatest chance, in a place, of anything that closes or is tied, or of a pocket, by the look at the whole garment."""
    points = points_in(sewn_on.shape, whole.step)
    maps = [whole.spots[name] for name in _WITNESSES[sewn_on.kind]]
    if sewn_on.kind is BlockedKind.CLOSURE:
        maps.append(whole.lines["closure"])
    return max(float(whole.at(each, points).max()) for each in maps)


def _from_edge(sewn_on: Spot, flat: Flat) -> float:
    """mm from the cloth's edge to a place, on the mean; 0 of one that the picture doesn't hold."""
    inside = flat.raster(sewn_on.shape)
    return float(flat.depth_px[inside].mean()) * flat.step if inside.any() else 0.0

"""Straps and bindings: strips that are folded lengthwise."""

from __future__ import annotations

from salvage.project.parts.measures import Made, Measures
from salvage.project.project import Grain
from salvage.trade.sewing import FOLDS_OF_A_STRAP, strip_cut_width

BINDING_OVER = 100.0  # mm longer than the edge, for the corners and the closing join; common practice


def strap(m: Measures) -> Made:
    """A strap folded to its middle from both sides and once more: four layers."""
    width, length = m.size("width"), m.size("length")
    layers = m.count("folds", FOLDS_OF_A_STRAP, 2, 8)
    strip = m.strip(
        "", strip_cut_width(width, layers), length + 2 * m.allowance, finished_width=width, folds=layers
    )
    return Made(strips=(strip,), formulas=(f"strap = {layers} × width wide, length + 2 × allowance long",))


def binding(m: Measures) -> Made:
    """A binding that shows `width` on each side of an edge.

    Single: both raw edges folded to the middle and once more, four times the width. Double: folded in half
    first, sewn on with both raw edges, so that each layer is three times the width.
    """
    width, around = m.size("width"), m.size("around")
    double, straight = m.flag("double"), m.flag("straight")
    times = 6 if double else 4
    over = m.length("over", BINDING_OVER)
    grain = Grain.ALONG if straight else Grain.BIAS
    strip = m.strip("", times * width, around + over, grain=grain, finished_width=width, folds=times)
    way = "along the grain, for straight edges only" if straight else "on the bias"
    return Made(strips=(strip,), formulas=(f"binding = {times} × width wide, around + over long, cut {way}",))

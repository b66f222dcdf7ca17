"""Odd places that neither network sees anything in are light and shade, most of them, however odd their colour.

The two networks know what stains, bleach and holes look like, the one near by, the other from afar; the finder of odd
places knows only what is rare on this cloth. The chance of an odd place by all three was fitted on drawn garments that no
training saw (fixtures/train/fit_odd.py, which says how).
"""

from __future__ import annotations

import math

from salvage.cloth.finders.found import Spot
from salvage.cloth.finders.sight import Sight
from salvage.cloth.finders.weigh import logit, points_in
from salvage.cloth.flat.chances import EVERY

# Of 1, and of the logits of the finder's own confidence and of the greatest chance of worn cloth there, near by and from
# afar. On 127 odd places of 40 drawings, 55 of them there, each half looked at with the other's factors: Brier 0.079, by the
# confidence alone 0.138.
FACTORS = (0.173, 1.197, 0.217, 0.719)
# Chance below which an odd place is cloth like any other: so were 42 of 43 places, 425 of 431 cm^2, of those drawings.
LEAST = 0.1


def chance_of_odd(spot: Spot, sight: Sight) -> float:
    """The chance that an odd place is worn or stained, 0 to 1."""
    return chance(spot.confidence, *witnessed(spot, sight))


def witnessed(spot: Spot, sight: Sight) -> tuple[float, float]:
    """The greatest chance of worn cloth in a place, near by and from afar."""
    near, whole = sight.chances.worn, sight.whole
    inside = sight.plain.raster(spot.shape, EVERY)[: near.shape[0], : near.shape[1]]
    by_near = float(near[: inside.shape[0], : inside.shape[1]].max(initial=0.0, where=inside))
    return by_near, float(whole.at(whole.spots["worn"], points_in(spot.shape, whole.step)).max())


def chance(confidence: float, near: float, afar: float) -> float:
    terms = (1.0, logit(confidence), logit(near), logit(afar))
    return 1.0 / (1.0 + math.exp(-sum(factor * term for factor, term in zip(FACTORS, terms, strict=True))))

"""What the confidence of the fine finders is worth: from their mean chance to the share that was truly there.

The constants were fitted on drawn garments that no training saw (fixtures/train/fit_fine.py, which says how); they
stand in confidence.json beside this.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from salvage.cloth.finders.found import Found, Seam, Spot

_LEAST = 0.01  # of a chance, and of what it lacks to 1


@lru_cache(maxsize=1)
def _constants() -> dict[str, tuple[float, float]]:
    card = json.loads(Path(__file__).with_name("confidence.json").read_text())
    return {kind: (float(a), float(b)) for kind, (a, b) in card["constants"].items()}


def worth(kind: str, raw: float) -> float:
    """The chance that a find is truly there. kind: "seam", "edge" (a seam on the outline), "closure", "pocket" or
    "worn"; of another the raw chance is given back."""
    if kind not in _constants():
        return raw
    a, b = _constants()[kind]
    chance = min(max(raw, _LEAST), 1 - _LEAST)
    return 1 / (1 + math.exp(-(a * math.log(chance / (1 - chance)) + b)))


def weighed(found: Found) -> Found:
    """What was found, with the confidence that it deserves: once nothing hangs on the raw one any more."""
    return replace(
        found,
        seams=tuple(map(seam_worth, found.seams)),
        fittings=tuple(map(spot_worth, found.fittings)),
        worn=tuple(map(spot_worth, found.worn)),
    )


def seam_worth(seam: Seam) -> Seam:
    """A seam with the confidence that it deserves; of other finders' as it is."""
    if not seam.fine:
        return seam
    return replace(seam, confidence=worth("edge" if seam.on_outline else "seam", seam.confidence))


def spot_worth(spot: Spot) -> Spot:
    """The same of a spot."""
    if not spot.fine:
        return spot
    return replace(spot, confidence=worth(str(spot.kind), spot.confidence))

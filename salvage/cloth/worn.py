"""Worn and spoilt places: where the cloth doesn't look like itself."""

from __future__ import annotations

import numpy as np

from salvage.cloth.areas import find_areas
from salvage.cloth.flat import Flat
from salvage.cloth.garment import Blocked, BlockedKind
from salvage.cloth.look import EVERY, Chances

_LOW, _HIGH, _SMALLEST = 0.3, 0.5, 16.0  # chance it stays above, chance it reaches, mm^2


def find_worn(chances: Chances, flat: Flat, margin: float) -> list[Blocked]:
    """Stains, faded and bleached patches, abrasion, paint, holes and tears."""
    chance = np.where(flat.mask[::EVERY, ::EVERY], chances.worn, 0).astype(np.float32)
    return [
        Blocked(BlockedKind.WORN, shape, margin, what="worn or stained", confidence=believed)
        for shape, believed in find_areas(chance, flat, EVERY, _LOW, _HIGH, _SMALLEST)
    ]

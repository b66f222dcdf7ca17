"""What the networks that look at the cloth see of its colours."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from salvage.cloth.card import NetworkCard

Map = NDArray[np.float32]


def own_colours(rgb: Map, mask: Map, card: NetworkCard, smooth: Callable[[Map], Map]) -> list[Map]:
    """Five planes (h, w): the cloth's colours against its own mean and spread, its grey against its surroundings, and
    the mask. rgb: (h, w, 3) from 0 to 1. smooth: the network's own blur. The floor is left out of every figure."""
    far = float(card["farthest"])
    count = max(float(mask.sum()), 1.0)
    mean = (rgb * mask[..., None]).sum((0, 1)) / count
    spread = float(np.sqrt((((rgb - mean) ** 2) * mask[..., None]).sum() / (3 * count)))
    whole = np.clip((rgb - mean) / max(spread, float(card["least_spread"])), -far, far) * mask[..., None]
    grey = rgb.mean(2)
    share = np.maximum(smooth(mask), 1e-3)
    local = smooth(grey * mask) / share
    deviation = np.sqrt(np.maximum(smooth(grey**2 * mask) / share - local**2, 0))
    near = (
        np.clip((grey - local) / np.maximum(deviation, float(card["least_local_spread"])), -far, far) * mask
    )
    return [*whole.transpose(2, 0, 1), near, mask]

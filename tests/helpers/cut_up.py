"""A sheet cut up without waste: that its parts fit it again is known without any search."""

from __future__ import annotations

import numpy as np


def cut_up(rng: np.random.Generator, width: float, length: float, count: int) -> list[tuple[float, float]]:
    """Sizes of `count` rectangles that a sheet falls into when cut straight through, again and again."""
    parts = [(width, length)]
    while len(parts) < count:
        parts.sort(key=lambda size: -size[0] * size[1])
        w, h = parts.pop(0)
        share = rng.uniform(0.3, 0.7)
        parts += [(w * share, h), (w * (1 - share), h)] if w > h else [(w, h * share), (w, h * (1 - share))]
    return parts

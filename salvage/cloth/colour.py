"""How different two colours of cloth look."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from skimage.color import deltaE_ciede2000

TEXTILE_LIGHTNESS = 2.0  # parametric factor kL as textile mills use it: light and shade count half


def difference(first: ArrayLike, second: ArrayLike, *, lightness: float = TEXTILE_LIGHTNESS) -> float:
    """CIEDE2000 difference of two CIELAB colours; about 1 can just be seen side by side.

    lightness: the formula's parametric factor kL (1 for the published test pairs).
    Source: G. Sharma, W. Wu, E. N. Dalal, Color Research and Application 30 (2005) 21-30; computed by
    scikit-image.
    """
    return float(deltaE_ciede2000(np.asarray(first, float), np.asarray(second, float), kL=lightness))

"""Colours of cloth: how different two look, and what they would be in equal light."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from skimage.color import deltaE_ciede2000

from salvage.photo import srgb

_BRIGHT = np.array([0.2126, 0.7152, 0.0722], np.float32)
TEXTILE_LIGHTNESS = 2.0  # parametric factor kL as textile mills use it: light and shade count half


def difference(first: ArrayLike, second: ArrayLike, *, lightness: float = TEXTILE_LIGHTNESS) -> float:
    """CIEDE2000 difference of two CIELAB colours; about 1 can just be seen side by side.

    lightness: the formula's parametric factor kL (1 for the published test pairs).
    Source: G. Sharma, W. Wu, E. N. Dalal, Color Research and Application 30 (2005) 21-30; computed by
    scikit-image.
    """
    return float(deltaE_ciede2000(np.asarray(first, float), np.asarray(second, float), kL=lightness))


def linear_from_lab(lab: NDArray[np.float32]) -> NDArray[np.float32]:
    """CIELAB colours (h, w, 3) as amounts of light, 0 to 1."""
    encoded = np.clip(cv2.cvtColor(np.asarray(lab, np.float32), cv2.COLOR_LAB2RGB), 0, 1)
    return np.asarray(srgb.linear(encoded), np.float32)


def luminance(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Of linear light (..., 3): how bright it is (ITU-R BT.709 weights)."""
    return light @ _BRIGHT


def in_equal_light(light: NDArray[np.float32], bright: float) -> NDArray[np.float32]:
    """CIELAB colours (h, w, 3) that linear light would have if all of it were equally bright. Shadows and
    folds change how much light falls on a cloth, hardly its colour."""
    equal = light * (bright / np.maximum(luminance(light), 1e-4))[..., None]
    return np.asarray(cv2.cvtColor(srgb.encoded(equal).astype(np.float32), cv2.COLOR_RGB2LAB), np.float32)

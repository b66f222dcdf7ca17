"""Light and tint: the two ways in which a photograph holds what an edge looks like, and how they shift it."""

from __future__ import annotations

import math
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.photo import srgb

Array = NDArray[Any]

# ITU-T T.871 (JFIF): encoded RGB to Y', and to Cr and Cb over their span.
_YCC = np.array([[0.299, 0.587, 0.114], [0.5, -0.4187, -0.0813], [-0.1687, -0.3313, 0.5]])
_TINT_BLUR_PX = 1.05  # what halving chroma's resolution and doubling it again amounts to, sigma


def light_and_tint(pixels: NDArray[Any]) -> NDArray[Any]:
    """sRGB bytes (h, w, 3) to (h, w, 3) float: linear light of the luma, and the two chroma differences.

    JPEG keeps luma and chroma apart (ITU-T T.871), and chroma mostly at half the resolution. Linear RGB made of
    both puts the edge of a coloured card up to half a pixel wrong; apart they can be understood.
    """
    ycc = cv2.cvtColor(pixels, cv2.COLOR_RGB2YCrCb)
    light = srgb.LINEAR_OF_BYTE[ycc[..., 0]]
    return np.dstack([light, (ycc[..., 1:].astype(np.float32) - 128.0) / 255.0])


def blurred_step(inner: Array, outer: Array, blur_px: Array, across_px: Array) -> Array:
    """(b, m, 3) light and tint across a perfect edge at 0 between two colours, for each blur.

    inner, outer: (3,) light and tint of either side. blur_px: (b,) sigmas. across_px: (m,) places, positive
    outward, evenly spaced. Light is mixed by the blur as light; what is written of the mixture is not linear
    in it, and that shifts where the edge seems to lie.
    """
    part = _below(-across_px[None, :] / blur_px[:, None])[..., None]  # of the inner colour
    mixed = _decode(part * _rgb(inner) + (1 - part) * _rgb(outer))
    step = float(across_px[1] - across_px[0])
    for b in range(len(mixed)):
        mixed[b, :, 1:] = cv2.GaussianBlur(
            np.ascontiguousarray(mixed[b, :, 1:]), (1, 0), sigmaX=1e-3, sigmaY=_TINT_BLUR_PX / step
        ).reshape(-1, 2)
    return mixed


def _below(sds: Array) -> Array:
    """Share of a normal distribution below so many standard deviations; SciPy's takes long to load for so few."""
    shares = [0.5 * math.erfc(-each / math.sqrt(2.0)) for each in sds.ravel().tolist()]
    return np.array(shares).reshape(sds.shape)


def _decode(rgb: Array) -> Array:
    """Linear RGB to light and tint."""
    ycc = srgb.encoded(rgb) @ _YCC.T
    ycc[..., 0] = srgb.linear(ycc[..., 0])
    return ycc


def _rgb(light_tint: Array) -> Array:
    """Light and tint back to linear RGB."""
    luma = srgb.encoded(np.array(light_tint[0], dtype=np.float64))
    encoded = np.linalg.solve(_YCC, np.array([luma, light_tint[1], light_tint[2]], dtype=np.float64))
    return srgb.linear(np.clip(encoded, 0.0, 1.0))

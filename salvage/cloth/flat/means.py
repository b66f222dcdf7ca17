"""Gaussian means of a picture on a coarse grid, worked out only there."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Map = NDArray[np.float32]


def means_at(picture: Map, sigma_px: float, every: int) -> Map:
    """(h', w', n): what `cv2.GaussianBlur` makes of a picture (h, w) or (h, w, n) at every such pixel down and across,
    the first one half of that from the corner. Blurring all of it only to take one pixel of 64 costs three times as much.
    """
    height, width = picture.shape[:2]
    down, across = _weights(height, sigma_px, every), _weights(width, sigma_px, every)
    rows = (down @ picture.reshape(height, -1)).reshape(len(down), width, -1)
    return np.ascontiguousarray(np.moveaxis(np.tensordot(across, rows, axes=(1, 1)), 0, 1), np.float32)


def _weights(length: int, sigma_px: float, every: int) -> Map:
    """(length', length): how much each pixel counts at each place; beyond the ends it is mirrored, as OpenCV does."""
    reach = round(8 * sigma_px + 1) // 2
    kernel = cv2.getGaussianKernel(2 * reach + 1, sigma_px, cv2.CV_32F)[:, 0]
    places = np.arange(every // 2, length, every)
    pixel = np.abs(places[:, None] + np.arange(-reach, reach + 1)) % max(1, 2 * (length - 1))
    pixel = np.minimum(pixel, 2 * (length - 1) - pixel)
    found = np.zeros((len(places), length), np.float32)
    np.add.at(found, (np.arange(len(places))[:, None], pixel), kernel)
    return found

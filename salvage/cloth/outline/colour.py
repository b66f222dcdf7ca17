"""Cloth and floor told apart by colour alone: the frame of the picture is floor, and so is what looks like it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]  # OpenCV types its results so; each docstring says what is in it

WORK_PX = 400  # long side at which the graph is cut; finer costs time and gains nothing here
FRAME = 0.02  # of the short side: the strip along the frame taken as floor
SAME = (
    0.95  # share of its colours that the middle has in common with the frame from which colour tells nothing
)
STEP = 16  # of 255: colours nearer than this are counted as one
ROUNDS = 5


def shrink(pixels: Array, long_px: int) -> Array:
    """The picture with its long side at most long_px, by area averaging."""
    factor = long_px / max(pixels.shape[:2])
    if factor >= 1:
        return np.ascontiguousarray(pixels)
    size = (max(8, round(pixels.shape[1] * factor)), max(8, round(pixels.shape[0] * factor)))
    return cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)


def to_grid(
    points: NDArray[np.float64], from_size: tuple[int, int], to_size: tuple[int, int]
) -> NDArray[np.float64]:
    """Pixel coordinates (n, 2) of one picture in another size of it; sizes are (width, height)."""
    factor = np.array(to_size, float) / np.array(from_size, float)
    return (np.asarray(points, float).reshape(-1, 2) + 0.5) * factor - 0.5


def split_by_colour(
    pixels: Array,
    references_px: Sequence[NDArray[np.float64]] = (),
    cloth_at: Sequence[tuple[float, float]] = (),
    floor_at: Sequence[tuple[float, float]] = (),
    work_px: int = WORK_PX,
) -> Array:
    """Cut the picture in two by colour models of its frame and its middle.

    pixels: (h, w, 3) uint8 RGB. Returns (h', w') float32, 1 cloth, 0 floor, at the working size.
    Source: Rother, Kolmogorov and Blake, "GrabCut", ACM Transactions on Graphics 23 (2004).
    """
    small = shrink(pixels, work_px)
    height, width = small.shape[:2]
    size, full = (width, height), (pixels.shape[1], pixels.shape[0])
    edge = max(2, round(FRAME * min(size)))
    labels = np.full((height, width), cv2.GC_BGD, np.uint8)
    labels[edge:-edge, edge:-edge] = cv2.GC_PR_FGD
    for corners in references_px:
        quad = np.round(to_grid(corners, full, size)).astype(np.int32)
        cv2.fillPoly(labels, [quad], cv2.GC_BGD)
    radius = max(2, min(size) // 100)
    for at, label in [*((p, cv2.GC_FGD) for p in cloth_at), *((p, cv2.GC_BGD) for p in floor_at)]:
        column, row = np.round(to_grid(np.array(at), full, size)[0]).astype(int)
        cv2.circle(labels, (int(column), int(row)), radius, int(label), -1)
    if _in_common(small, edge) > SAME:
        # White paper or a chessboard: there is no cut to be found, and looking for one takes half a minute.
        return (labels == cv2.GC_FGD).astype(np.float32)
    cv2.setRNGSeed(0)
    models = np.zeros((2, 1, 65))
    picture = cv2.cvtColor(small, cv2.COLOR_RGB2BGR)
    mode = cv2.GC_INIT_WITH_MASK
    cv2.grabCut(picture, labels, None, models[0], models[1], ROUNDS, mode)  # type: ignore[call-overload]
    return ((labels == cv2.GC_FGD) | (labels == cv2.GC_PR_FGD)).astype(np.float32)


def _in_common(small: Array, edge: int) -> float:
    """The share of colours, 0 to 1, that the frame of the picture (edge px wide) and its middle have in common."""
    number = (small // STEP).astype(np.intp) @ np.array([256, 16, 1])
    middle = np.zeros(number.shape, dtype=bool)
    middle[edge:-edge, edge:-edge] = True
    shares = [np.bincount(number[side], minlength=4096) / side.sum() for side in (middle, ~middle)]
    return float(np.minimum(*shares).sum())

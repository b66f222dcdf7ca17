"""Worn and spoilt places: where the cloth doesn't look like itself."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from skimage.color import deltaE_ciede2000

from salvage.cloth.flat import Flat
from salvage.cloth.garment import Blocked, BlockedKind
from salvage.cloth.usable import polygons_of
from salvage.trade.margins import MARGIN

_COARSE = 4.0  # mm, pattern and weave are averaged over this much and more
_ODD = 9.0  # CIEDE2000; a just noticeable difference is about 1, shading and pattern take several
_SMALLEST = 40.0  # mm^2


def odd_places(flat: Flat) -> list[Blocked]:
    """Patches whose local colour is far from that of most of the cloth (CIEDE2000)."""
    every = max(1, round(_COARSE / flat.step))
    mask = flat.mask[::every, ::every]
    if mask.sum() < 25:
        return []
    local = _mean_inside(flat, every)
    usual = np.median(local[mask], axis=0)
    difference = deltaE_ciede2000(local, np.broadcast_to(usual, local.shape))
    inner = cv2.erode(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    odd = (difference > _ODD) & inner
    return [
        Blocked(BlockedKind.WORN, shape, MARGIN[BlockedKind.WORN], what="odd colour", confidence=0.5)
        for shape in outlines(odd, flat, every)
        if shape.area >= _SMALLEST
    ]


def _mean_inside(flat: Flat, every: int) -> NDArray[np.float32]:
    """Mean CIELAB of the cloth round each coarse pixel, floor left out."""
    sigma = 2.0 * every
    weight = flat.mask.astype(np.float32)
    share = cv2.GaussianBlur(weight, (0, 0), sigma)[::every, ::every]
    total = cv2.GaussianBlur(flat.lab() * weight[..., None], (0, 0), sigma)[::every, ::every]
    return np.asarray(total / np.maximum(share, 1e-3)[..., None], np.float32)


def outlines(found: NDArray[np.bool_], flat: Flat, every: int) -> list[Polygon]:
    """Outlines in mm of the areas in a mask that has one pixel for each `every` flat pixels."""
    contours, _ = cv2.findContours(found.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    shapes: list[Polygon] = []
    for contour in contours:
        points = flat.to_mm(contour[:, 0, :].astype(float) * every)
        ring = points if len(points) >= 3 else np.repeat(points, 3, axis=0)
        grown = Polygon(ring).buffer(0.5 * every * flat.step, join_style="mitre")
        shapes += polygons_of(grown.simplify(0.5 * flat.step))
    return shapes

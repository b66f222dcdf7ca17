"""Chances of cloth made sharp by the colours round about.

The network knows roughly where the cloth is, not where exactly it ends. Cloth and floor are then learnt
from this very picture: each pixel's colour and roughness is one of a few dozen looks, and for each look
it is counted how often it turns up in what is held for cloth, and for floor, in that neighbourhood. The
counts change from place to place, so one-sided light and carpets with many colours do no harm. Hues are
counted as well: what is the floor's hue and darker is its shadow.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.cloth.outline.alike import kinds
from salvage.cloth.outline.colour import Array, shrink, to_grid

Point = tuple[float, float]

# Looked at by `python -m fixtures.train.fit_figures outline`, whose curves stand in fixtures/train/figures.md: on ten drawn
# scenes the outlines overlap by 0.984, and 0.6 to 1.6 times any of these moves that by 0.002 at most.
WORK_PX = 400  # long side at which it is counted
ROUNDS = 2  # each counts again with the chances of the one before
NEAR = 0.10  # of the long side: spread of a neighbourhood
COARSE = 4  # neighbourhoods are counted on a grid this much coarser
FAR = 0.5  # weight of the whole picture's counts beside the neighbourhood's
RARE = 0.004  # a look rarer than this says nothing
NET, COLOUR = 0.75, 0.7  # weights of the network and of the colours
NET_MOST, COLOUR_MOST = 6.0, 3.0  # neither says more than this, as a logit
SHADOW, SHADOW_MOST = 1.5, 3.0  # weight and limit of what the floor's hue says where it is darker
DARKER = 8.0  # L* below the floor nearby from which a place counts fully as shaded
SMOOTH_PX, SMOOTH_EPS = 4, 3e-3  # guided filter
HINT_LOGIT = 8.0  # what a person says outweighs everything else
HINT_REACH = 0.12  # of the long side: how far a hint is felt across even ground
HINT_EDGE = 12.0  # how much an edge stops it


def logit(chance: Array) -> Array:
    kept = np.clip(chance, 1e-4, 1 - 1e-4)
    return np.log(kept / (1 - kept)).astype(np.float32)


def chance(values: Array) -> Array:
    return (1 / (1 + np.exp(-np.clip(values, -30, 30)))).astype(np.float32)


def _box(values: Array, radius: int) -> Array:
    return cv2.blur(values, (2 * radius + 1, 2 * radius + 1), borderType=cv2.BORDER_REFLECT)


def guided(guide: Array, values: Array, radius: int, eps: float) -> Array:
    """Smooth values (h, w) without crossing the edges of a colour guide (h, w, 3) in 0..1.

    Source: He, Sun and Tang, "Guided Image Filtering", IEEE PAMI 35 (2013), equations 19 to 21.
    """
    mean_guide, mean = _box(guide, radius), _box(values, radius)
    across = _box(guide * values[..., None], radius) - mean_guide * mean[..., None]
    squares = np.empty((*values.shape, 3, 3), np.float32)
    for i in range(3):
        for j in range(i, 3):
            both = _box(guide[..., i] * guide[..., j], radius) - mean_guide[..., i] * mean_guide[..., j]
            squares[..., i, j] = squares[..., j, i] = both
    slope = np.linalg.solve(squares + eps * np.eye(3, dtype=np.float32), across[..., None])[..., 0]
    offset = mean - (slope * mean_guide).sum(-1)
    return (_box(slope, radius) * guide).sum(-1) + _box(offset, radius)


def _told(small: Array, at: Sequence[Point], full: tuple[int, int]) -> Array:
    """How strongly hints are felt at each pixel, 0..1: near, and with no edge in between."""
    from skimage.graph import MCP_Geometric

    height, width = small.shape[:2]
    if not at:
        return np.zeros((height, width), np.float32)
    lab = cv2.cvtColor(cv2.GaussianBlur(small, (0, 0), 1).astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    rise = [cv2.Sobel(lab, cv2.CV_32F, dx, dy, ksize=3) / 8 for dx, dy in ((1, 0), (0, 1))]
    edge = np.sqrt((rise[0] ** 2 + rise[1] ** 2).sum(2)) / 10
    starts = np.round(to_grid(np.array(at, float), full, (width, height)))[:, ::-1]
    starts = np.clip(starts, 0, [height - 1, width - 1]).astype(int)
    far, _ = MCP_Geometric(1.0 + HINT_EDGE * edge).find_costs([tuple(s) for s in starts])
    return np.exp(-((far / (HINT_REACH * max(height, width))) ** 2)).astype(np.float32)


def sharpen(
    pixels: Array,
    rough: Array,
    references_px: Sequence[NDArray[np.float64]] = (),
    cloth_at: Sequence[Point] = (),
    floor_at: Sequence[Point] = (),
    work_px: int = WORK_PX,
) -> Array:
    """Chance of cloth (h', w') at the working size, from a rough chance (any size) and the picture's colours."""
    small = shrink(pixels, work_px)
    height, width = small.shape[:2]
    full, size = (pixels.shape[1], pixels.shape[0]), (width, height)
    coarse = (-(-width // COARSE), -(-height // COARSE))
    near = NEAR * max(size) / COARSE
    open_floor = np.ones((height, width), np.uint8)  # reference squares teach nothing about the floor
    for corners in references_px:
        cv2.fillPoly(open_floor, [np.round(to_grid(corners, full, size)).astype(np.int32)], 0)
    learn = open_floor.astype(np.float32)
    told = HINT_LOGIT * (_told(small, cloth_at, full) - _told(small, floor_at, full))
    net = np.clip(cv2.resize(logit(rough), size, interpolation=cv2.INTER_CUBIC), -NET_MOST, NET_MOST)
    guide = small.astype(np.float32) / 255
    masks, shades = (
        [(numbers == k).astype(np.float32) * learn for k in range(int(numbers.max()) + 1)]
        for numbers in kinds(small)
    )
    light = cv2.cvtColor(guide, cv2.COLOR_RGB2LAB)[..., 0]

    def around(values: Array) -> Array:
        return cv2.GaussianBlur(cv2.resize(values, coarse, interpolation=cv2.INTER_AREA), (0, 0), near)

    now = chance(net + told)
    for _ in range(ROUNDS):
        sides = [
            (side, around(side * learn) + 1e-3, float((side * learn).mean()) + 1e-4)
            for side in (now, 1 - now)
        ]

        def counted(of: list[Array], sides: list[tuple[Array, Array, float]] = sides) -> Array:
            """How much oftener each pixel's kind turns up in cloth than on floor hereabouts, a logarithm."""
            out = np.zeros((height, width), np.float32)
            for mask in of:
                often = []
                for side, total, whole in sides:
                    seen = side * mask
                    often.append(around(seen) / total + FAR * float(seen.mean()) / whole + RARE)
                out += mask * cv2.resize(np.log(often[0] / often[1]), size, interpolation=cv2.INTER_LINEAR)
            return out

        # The floor's hue, but darker than the floor nearby: a shadow rather than cloth.
        floor = (1 - now) * learn
        lit = cv2.resize(around(light * floor) / (around(floor) + 1e-3), size)
        shaded = np.clip((lit - light) / DARKER, 0, 1) * np.clip(-counted(shades), 0, SHADOW_MOST)
        colour = np.clip(counted(masks), -COLOUR_MOST, COLOUR_MOST)
        seen = NET * net + COLOUR * colour - SHADOW * shaded + told
        now = np.clip(guided(guide, chance(seen), SMOOTH_PX, SMOOTH_EPS), 0, 1).astype(np.float32) * learn
    return now

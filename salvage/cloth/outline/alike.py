"""What looks alike on the two sides of an outline.

A shadow taken for cloth has the floor's hue; a plain field of a rug looks like the same field elsewhere; a
sleeve left out looks like the garment. So it is counted how often each look, and each hue, turns up inside
and outside, whatever the network said.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.cloth.outline.colour import Array, shrink

ALIKE_PX = 240  # long side at which this is counted
LOOKS, HUES = 40, 24  # different ones told apart
ROUGH = 6.0  # weight of roughness beside colour
RARE = 0.004  # a look rarer than this says nothing
DARK = 0.03  # light added, so that the hue of black is grey
PATCH_PX = 5  # what is narrower is pattern, not a mistake
BESIDE = 0.12  # of the long side: how far round the outline cloth left out is looked for
FLOOR_SEEN = -0.5  # a hole shows the floor if its looks and hues speak so clearly for it

Mask = NDArray[np.bool_]


def _clusters(found: Array, count: int, still: float) -> Array:
    """The number of each row's group, (n,), by k-means; found: (n, d) float32."""
    some = found[np.random.default_rng(0).permutation(len(found))[:8000]]
    cv2.setRNGSeed(0)
    rule = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 12, still)
    most, start = min(count, len(some)), cv2.KMEANS_PP_CENTERS
    _, _, centres = cv2.kmeans(some, most, None, rule, 1, start)  # type: ignore[call-overload]
    return ((centres**2).sum(1)[None] - 2 * found @ centres.T).argmin(1)


def looks(small: Array) -> Array:
    """The number of each pixel's look, (h, w), by k-means of colour and roughness."""
    lab = cv2.cvtColor(small.astype(np.float32) / 255, cv2.COLOR_RGB2LAB) * np.array([0.7, 1, 1], np.float32)
    lab = cv2.GaussianBlur(lab, (0, 0), 0.7)
    light = lab[..., 0]
    mean = cv2.GaussianBlur(light, (0, 0), 3)
    spread = np.sqrt(np.maximum(cv2.GaussianBlur(light * light, (0, 0), 3) - mean * mean, 0))
    found = np.dstack([lab, np.log1p(spread) * ROUGH]).reshape(-1, 4).astype(np.float32)
    return _clusters(found, LOOKS, 0.5).reshape(small.shape[:2])


def hues(small: Array) -> Array:
    """The number of each pixel's hue, (h, w): the same in a shadow as in the light."""
    linear = (cv2.GaussianBlur(small, (0, 0), 1.0).astype(np.float32) / 255) ** 2.2
    share = (linear + DARK / 3) / (linear.sum(2, keepdims=True) + DARK)
    return _clusters(share.reshape(-1, 3).astype(np.float32), HUES, 1e-3).reshape(small.shape[:2])


def kinds(small: Array) -> tuple[Array, Array]:
    """looks and hues of a picture; one and the same is asked about several times."""
    return _kinds(small.tobytes(), small.shape)


@lru_cache(maxsize=2)
def _kinds(pixels: bytes, shape: tuple[int, ...]) -> tuple[Array, Array]:
    small = np.frombuffer(pixels, np.uint8).reshape(shape)
    return looks(small), hues(small)


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """inside, outside: (h, w); pixels that are neither (reference squares, holes in question) teach nothing.

    by_look, by_hue: (h, w) logarithm of how much oftener a pixel's look or hue turns up inside.
    """

    inside: Mask
    outside: Mask
    by_look: Array
    by_hue: Array


def count_sides(pixels: Array, inside: Mask, outside: Mask) -> Sides:
    """Count looks and hues. pixels: (h, w, 3) uint8 RGB; the masks are of any one size."""
    small = shrink(pixels, ALIKE_PX)
    size = (small.shape[1], small.shape[0])
    one, other = (
        cv2.resize(m.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0 for m in (inside, outside)
    )

    def ratio(numbers: Array) -> Array:
        count = int(numbers.max()) + 1
        often = [
            np.bincount(numbers[side], minlength=count) / max(1, int(side.sum())) + RARE
            for side in (one, other)
        ]
        return np.log(often[0] / often[1])[numbers]

    look, hue = kinds(small)
    return Sides(one, other, ratio(look), ratio(hue))


def _patches(mask: Mask, area: int) -> float:
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (PATCH_PX, PATCH_PX))
    kept = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, kernel)
    return float(np.log(kept.sum() / max(1, area) + 0.01))


def alike(sides: Sides) -> tuple[float, float, float, float]:
    """How alike the sides are, each larger for a worse outline.

    Share of the cloth's looks, and of its hues, that the floor has too; patches within that look more like
    the floor, and patches beside that look more like the cloth (logarithms of their areas over the cloth's).
    """
    area = int(sides.inside.sum())
    if area == 0 or not sides.outside.any():
        return (1.0, 1.0, 0.0, 0.0)

    def shared(ratio: Array) -> float:
        return float(np.minimum(1, np.exp(-ratio[sides.inside])).mean())

    reach = 2 * round(BESIDE * max(sides.inside.shape) / 2) + 1
    near = cv2.dilate(sides.inside.astype(np.uint8), np.ones((reach, reach), np.uint8)) > 0
    return (
        shared(sides.by_look),
        shared(sides.by_hue),
        _patches(sides.inside & (sides.by_look < 0), area),
        _patches(sides.outside & near & (sides.by_look > 0), area),
    )


def shows_floor(sides: Sides, hole: Mask) -> bool:
    """Whether a hole shows the floor, rather than a dark band or a lining. hole: of the size of sides."""
    if not hole.any():
        return False
    return float((sides.by_look + sides.by_hue)[hole].mean()) < FLOOR_SEEN

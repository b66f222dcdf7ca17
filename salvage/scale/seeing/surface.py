"""What the surface of a region looks like: how even it is, and how it stands out from what lies round it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.photo.srgb import linear_of_bytes
from salvage.scale.seeing.corners import counter_clockwise
from salvage.scale.seeing.regions import Region

Array = NDArray[Any]

_LOOKED_AT_PX = 80.0  # size that larger regions are brought down to
_RIM = 0.13  # how far out the surroundings are looked at, of the region's size
_INSET = 0.05
_ALIKE_COLOUR, _ALIKE_SIZE = (
    0.15,
    1.5,
)  # sRGB distance (0 to 1) and ratio within which regions are one pattern's
_MANY_PLACES = 8


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """texture: roughness inside over the typical step to the outside. contrast: the step (sRGB, 0 to 1), the
    mean of the two edges where it is least, so that a line (grout, a seam) or a shadow doesn't pass for it.
    colour: (3,) linear RGB inside. two_tone: part of the inside that is near one of two colours.
    """

    texture: float
    contrast: float
    colour: Array
    two_tone: float


@dataclass(frozen=True, slots=True, eq=False)
class Glance:
    """A whole region at first sight. colour: (3,) sRGB, 0 to 1. evenness: fill less roughness, higher is better.

    places: at how many places regions of about its size and colour lie, its own included; a pattern has more
    than a person has reference squares.
    """

    region: Region
    colour: Array
    evenness: float
    places: int


def glance(picture: NDArray[Any], regions: Sequence[Region]) -> list[Glance]:
    """Those of many whole regions that are worth a closer look: a cheap form of `surface_of`, all at once."""
    if not regions:
        return []
    corners = np.stack([counter_clockwise(region.corners_px) for region in regions])
    inner, outer = _bands(picture, corners, -0.12, -0.06), _bands(picture, corners, 0.07, 0.13)
    steps = np.sort(np.linalg.norm(inner - outer, axis=-1), axis=1)
    grid = (np.arange(14) + 1.5) / 16
    across = corners[:, None, 0] + grid[:, None] * (corners[:, None, 1] - corners[:, None, 0])
    far = corners[:, None, 3] + grid[:, None] * (corners[:, None, 2] - corners[:, None, 3])
    spots = across[:, :, None] + grid[:, None] * (far - across)[:, :, None]
    inside = _nearest(picture, spots)
    rough = np.linalg.norm(np.diff(inside, axis=1), axis=-1).mean(axis=(1, 2))
    relative = rough / np.maximum(steps[:, 1:3].mean(axis=1), 1e-3)
    worth = np.flatnonzero((steps[:, :2].mean(axis=1) > 0.02) & (relative < 0.5))
    colours = np.median(inside.reshape(len(inside), -1, 3), axis=1)[worth]
    kept = [regions[int(i)] for i in worth]
    places = _places_alike(kept, colours)
    return [
        Glance(region, colours[k], region.fill - float(relative[worth[k]]), places[k])
        for k, region in enumerate(kept)
    ]


def _places_alike(regions: Sequence[Region], colours: Array) -> list[int]:
    """For each region at how many places, its own included, there are regions of its size and colour."""
    if not regions:
        return []
    centres = np.array([region.corners_px.mean(axis=0) for region in regions])
    sizes = np.array([region.size_px for region in regions])
    counts = []
    for i in range(len(regions)):
        alike = np.linalg.norm(colours - colours[i], axis=1) < _ALIKE_COLOUR
        alike &= np.abs(np.log(sizes / sizes[i])) < np.log(_ALIKE_SIZE)
        left = centres[alike]
        places = 0
        while len(left) and places < _MANY_PLACES:
            left = left[np.abs(left - left[0]).max(axis=1) > 0.7 * sizes[i]]
            places += 1
        counts.append(places)
    return counts


def _bands(picture: NDArray[Any], corners: Array, near: float, far: float) -> Array:
    """(n, 4, 3) median colour along each edge of (n, 4, 2) quads, between two distances outward (of the size)."""
    start, end = corners, np.roll(corners, -1, axis=1)
    along = end - start
    outward = np.stack([-along[..., 1], along[..., 0]], axis=-1)
    t = np.linspace(0.15, 0.85, 16)[:, None, None]
    out = np.linspace(near, far, 3)[None, :, None]
    places = start[:, :, None, None] + t * along[:, :, None, None] + out * outward[:, :, None, None]
    return np.median(_nearest(picture, places.reshape(*corners.shape[:2], -1, 2)), axis=2)


def _nearest(picture: NDArray[Any], places: Array) -> Array:
    """Colours (..., 3), 0 to 1, of the nearest pixels; outside the picture those of its edge."""
    columns = np.clip(np.rint(places[..., 0]), 0, picture.shape[1] - 1).astype(np.intp)
    rows = np.clip(np.rint(places[..., 1]), 0, picture.shape[0] - 1).astype(np.intp)
    return picture[rows, columns].astype(np.float32) / 255.0


def surface_of(picture: NDArray[Any], region: Region) -> Surface | None:
    """Look at a region of a picture (h, w, 3) sRGB bytes. None where too little of it or its rim is in view."""
    crop, corners, size = _crop(picture, region)
    values = crop.astype(np.float32) / 255.0
    inset = max(_INSET * size, 1.5)
    inside: NDArray[Any] = np.zeros(values.shape[:2], np.float32)
    cv2.fillConvexPoly(inside, np.rint(corners * 16).astype(np.int32), 1.0, shift=4)
    inside = cv2.erode(inside, np.ones((3, 3), np.uint8), iterations=max(round(inset), 1), borderValue=1.0)
    if inside.sum() < 20:
        return None
    steps = []
    for i, free in enumerate(region.free):
        if free:
            step = _step(values, corners[i], corners[(i + 1) % len(corners)], inset, max(_RIM * size, 3.0))
            if step is not None:
                steps.append(step)
    if len(steps) < 2:
        return None
    typical = max(float(np.median(steps)), 1e-3)
    smooth = cv2.GaussianBlur(values * inside[..., None], (0, 0), size / 12)
    weight = cv2.GaussianBlur(inside, (0, 0), size / 12)
    rough = np.square(values - smooth / np.maximum(weight, 1e-3)[..., None]).sum(axis=-1)[inside > 0]
    within = values[inside > 0]
    colour = linear_of_bytes(np.rint(np.median(within, axis=0) * 255).astype(np.uint8))
    return Surface(
        texture=float(np.sqrt(rough.mean())) / typical,
        contrast=float(np.mean(sorted(steps)[:2])),
        colour=colour.astype(np.float64),
        two_tone=_two_tone(within.mean(axis=-1)),
    )


def _crop(picture: NDArray[Any], region: Region) -> tuple[NDArray[Any], Array, float]:
    """The region with its surroundings, brought down to a moderate size; its corners and size there."""
    corners = counter_clockwise(region.corners_px)
    size = region.size_px
    margin = _RIM * size + 6
    height, width = picture.shape[:2]
    low = np.maximum(np.floor(corners.min(axis=0) - margin).astype(int), 0)
    high = np.minimum(np.ceil(corners.max(axis=0) + margin).astype(int) + 1, (width, height))
    crop = picture[low[1] : high[1], low[0] : high[0]]
    corners = corners - low
    factor = _LOOKED_AT_PX / size
    if factor < 0.7:
        crop = cv2.resize(crop, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        corners, size = (corners + 0.5) * factor - 0.5, size * factor
    return crop, corners, size


def _step(values: NDArray[Any], a: Array, b: Array, inset: float, rim: float) -> float | None:
    """Colour distance between a band just inside and one outside of the edge from a to b."""
    length = float(np.hypot(*(b - a)))
    along = (b - a) / max(length, 1e-6)
    outward = np.array(
        [-along[1], along[0]]
    )  # outside of a polygon that runs counter-clockwise on the picture
    t = np.linspace(0.1, 0.9, 24) * length
    sides = []
    for near, far in ((-2.5 * inset, -inset), (0.5 * rim, rim)):
        points = a + t[:, None, None] * along + np.linspace(near, far, 4)[None, :, None] * outward
        rows, columns = (
            np.rint(points[..., 1]).astype(int).ravel(),
            np.rint(points[..., 0]).astype(int).ravel(),
        )
        seen = (rows >= 0) & (columns >= 0) & (rows < values.shape[0]) & (columns < values.shape[1])
        if seen.sum() < 24:
            return None
        sides.append(np.median(values[rows[seen], columns[seen]], axis=0))
    return float(np.linalg.norm(sides[0] - sides[1]))


def _two_tone(lightness: Array) -> float:
    """Part of the values that lie near the mean of their darker or of their lighter half (a marker's are)."""
    low, high = (float(v) for v in np.quantile(lightness, (0.03, 0.97)))
    if high - low < 0.15:
        return 1.0
    middle = (low + high) / 2
    dark, bright = lightness[lightness < middle], lightness[lightness >= middle]
    if min(len(dark), len(bright)) < 0.1 * len(lightness):
        return 0.0
    near = 0.22 * (high - low)
    close = np.abs(dark - np.median(dark)) < near, np.abs(bright - np.median(bright)) < near
    return float((close[0].sum() + close[1].sum()) / len(lightness))

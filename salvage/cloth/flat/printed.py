"""Takes a print that repeats (checks, stripes, small motifs) off the flat picture.

The cloth's print comes again one repeat further on; a seam, a pocket, a button or a stain doesn't. Each
place is compared with the places one repeat away, and what they have in common is taken off, light and
shade kept. Cloth without a repeat is left as it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.flat.picture import Flat
from salvage.shapes import polygons_of

_REPEAT = (7.0, 110.0)  # mm, shortest and longest repeat looked for
_LIKE = 0.35  # correlation with itself one repeat further on, at least
_AGAIN = 0.25  # and two repeats further on
_CONTRAST = 5.0  # grey levels (of 255) of spread that a print has at least
_STRAY = 2.0  # times its usual spread, the most that a place counts
_RAY, _RIDGE = (
    (8.0, 60.0),
    0.5,
)  # mm along which stripes are like themselves, and how much of one repeat further on
_REPEATS, _OFF_REPEAT = 4, 1.2  # repeats over which it is measured, and pixels that each step may be off
_ASIDE = 30.0  # degrees between the two ways a check repeats, at least
_SQUARE = 12.0  # degrees off a right angle that a check's two ways may be
_HIGH = 30.0  # mm, slower changes are light and shade
_SLEEVE = 0.16  # half width of a sleeve, in square roots of the cloth's area
_SMALLEST = 15_000.0  # mm^2, of a part whose print is taken off by itself
_COARSE = 2  # flat pixels between points the repeat is looked for with

Array = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Repeat:
    """A print on one part of the cloth. ways: one or two vectors in flat pixels by which it repeats."""

    part: BaseGeometry
    ways: tuple[NDArray[np.float64], ...]

    @property
    def lines(self) -> tuple[float, ...]:
        """Degrees, 0 to 180, in which the lines of a stripe or a check run; none where that isn't clear."""
        angles = [float(np.degrees(np.arctan2(-way[1], way[0]))) % 180 for way in self.ways]
        if len(angles) == 1:
            return ((angles[0] + 90) % 180,)
        return tuple(angles) if abs(abs(angles[0] - angles[1]) - 90) < _SQUARE else ()


def repeats_of(flat: Flat, cloth: Polygon) -> tuple[Repeat, ...]:
    """The repeating prints of the cloth, body and sleeves each by themselves; none on plain cloth."""
    found: list[Repeat] = []
    for part in _parts(cloth):
        if ways := _repeats(flat, flat.raster(part)):
            found.append(Repeat(part, tuple(ways)))
        elif not found:
            break  # the body, which comes first, is plain: so are its sleeves
    return tuple(found)


def without_print(flat: Flat, repeats: tuple[Repeat, ...]) -> Flat:
    """The flat picture with repeating prints taken off."""
    rgb = flat.rgb
    for each in repeats:
        rgb = _taken_off(rgb, flat.raster(each.part), each.ways)
    return replace(flat, rgb=rgb) if repeats else flat


def _parts(cloth: Polygon) -> list[BaseGeometry]:
    """Body and sleeves: their prints run different ways."""
    width = _SLEEVE * np.sqrt(cloth.area)
    body = polygons_of(cloth.buffer(-width).buffer(width))[:1]
    if not body or body[0].area < 0.4 * cloth.area:
        return [cloth]
    sleeves = [each for each in polygons_of(cloth.difference(body[0])) if each.area >= _SMALLEST]
    return [cloth.difference(shapely.union_all(sleeves)), *sleeves] if sleeves else [cloth]


def _repeats(flat: Flat, mask: NDArray[np.bool_]) -> list[NDArray[np.float64]]:
    """One or two vectors in flat pixels by which the print repeats; none for plain cloth."""
    rows, columns = ndimage.find_objects(mask.astype(np.int8))[0]
    grey = cv2.cvtColor(flat.rgb[rows, columns], cv2.COLOR_RGB2GRAY).astype(np.float32)
    inside = mask[rows, columns].astype(np.float32)
    sigma = _HIGH / flat.step
    share = np.maximum(cv2.GaussianBlur(inside, (0, 0), sigma), 1e-3)
    fast = (grey - cv2.GaussianBlur(grey * inside, (0, 0), sigma) / share) * inside
    fast = cv2.GaussianBlur(fast, (0, 0), 1.2)[::_COARSE, ::_COARSE] * inside[::_COARSE, ::_COARSE]
    weight = inside[::_COARSE, ::_COARSE]
    low, high = np.percentile(fast[weight > 0], (16, 84))
    if high - low < 2 * _CONTRAST:
        return []
    ways = _ways(np.asarray(fast, np.float32), weight, flat.step)
    held = np.clip(fast, _STRAY * low, _STRAY * high)  # a few bright threads that come again are no print
    return ways if ways and _ways(np.asarray(held, np.float32), weight, flat.step) else []


def _ways(fast: Array, weight: Array, step: float) -> list[NDArray[np.float64]]:
    """One or two vectors in flat pixels by which a picture repeats. weight: 1 on the cloth, 0 elsewhere."""
    like, enough = _self_likeness(fast, weight)
    middle = np.array(like.shape) // 2
    y, x = np.indices(like.shape) - middle[:, None, None]
    away = np.hypot(x, y) * step * _COARSE
    peaks = (like == ndimage.maximum_filter(like, size=5)) & enough & (y >= 0)
    peaks &= (away >= _REPEAT[0]) & (away <= _REPEAT[1]) & (like > _LIKE)
    found = [(like[r, c], np.array([x[r, c], y[r, c]], float)) for r, c in np.argwhere(peaks)]
    found = [(value, way) for value, way in found if _at(like, middle + 2 * way[::-1]) > _AGAIN]
    if not found:
        return []
    best = max(value for value, _ in found)
    near = sorted(
        (way for value, way in found if value > 0.75 * best), key=lambda way: float(np.linalg.norm(way))
    )
    first = near[0]
    if (stripe := _stripe(like, best, step * _COARSE)) is not None:
        across = np.array([-stripe[1], stripe[0]])
        return [_finer(like, float(abs(first @ across)), across) * across * _COARSE]
    second = [way for way in near if _angle(first, way) > _ASIDE]
    return [way * _COARSE for way in (first, *second[:1])]


def _finer(like: Array, repeat: float, across: NDArray[np.float64]) -> float:
    """The repeat of stripes to a fraction of a pixel: seen over several of them, a small error adds up and shows.

    across: the unit vector in which they repeat.
    """
    middle = np.array(like.shape, float)[::-1] // 2
    steps = np.arange(-_OFF_REPEAT, _OFF_REPEAT + 0.01, 0.1)
    for times in range(1, _REPEATS + 1):
        at = times * repeat + steps
        places = (middle + at[:, None] * across).astype(np.float32)
        values = np.asarray(cv2.remap(like, places[None, :, 0], places[None, :, 1], cv2.INTER_CUBIC))[0]
        if values.max() < _AGAIN:
            break
        repeat = float(at[int(values.argmax())]) / times
    return repeat


def _stripe(like: Array, best: float, step: float) -> NDArray[np.float64] | None:
    """The unit vector along which stripes run; None where the print isn't striped.

    Stripes are like themselves at every shift along their own way, so that a second repeat found there is noise;
    a check is like itself again only one repeat further on. best: likeness one repeat away. step: mm to a pixel.
    """
    middle = np.array(like.shape, float) // 2
    away = np.arange(_RAY[0], _RAY[1], 2.0) / step
    angles = np.radians(np.arange(0.0, 180.0, 1.0))
    ways = np.stack([np.cos(angles), np.sin(angles)], 1)
    places = middle[::-1] + away[None, :, None] * ways[:, None]  # (angles, shifts, (x, y))
    values = cv2.remap(
        like, places[..., 0].astype(np.float32), places[..., 1].astype(np.float32), cv2.INTER_LINEAR
    )
    least = np.asarray(values).min(axis=1)
    found = int(least.argmax())
    return ways[found] if least[found] > _RIDGE * best else None


def _self_likeness(fast: Array, weight: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Correlation of the picture with itself for every shift, the zero shift in the middle."""
    shape = [2 * n for n in fast.shape]
    spectrum, cover = np.fft.rfft2(fast, shape), np.fft.rfft2(weight, shape)
    square = np.fft.rfft2(fast**2, shape)
    product = np.fft.irfft2(np.abs(spectrum) ** 2, shape)
    overlap = np.fft.irfft2(np.abs(cover) ** 2, shape)
    energy = np.fft.irfft2(square * np.conj(cover), shape)
    mirrored = np.fft.irfft2(cover * np.conj(square), shape)
    like = product / np.sqrt(np.maximum(energy * mirrored, 1e-6))
    enough = overlap > 0.15 * weight.sum()
    return np.fft.fftshift(like).astype(np.float32), np.fft.fftshift(enough)


def _at(values: Array, place: NDArray[np.float64]) -> float:
    """The largest value within a pixel of a place (row, column); 0 outside."""
    row, column = np.round(place).astype(int)
    near = values[max(0, row - 1) : row + 2, max(0, column - 1) : column + 2]
    return float(near.max()) if near.size else 0.0


def _angle(a: NDArray[np.float64], b: NDArray[np.float64]) -> float:
    cosine = abs(float(a @ b)) / float(np.linalg.norm(a) * np.linalg.norm(b) + 1e-9)
    return float(np.degrees(np.arccos(np.clip(cosine, 0, 1))))


def _taken_off(
    rgb: NDArray[np.uint8], mask: NDArray[np.bool_], ways: tuple[NDArray[np.float64], ...]
) -> NDArray[np.uint8]:
    """The picture less what it has in common with itself one repeat away, within the mask."""
    steps = [(i, j) for i in (-1, 0, 1) for j in ((-1, 0, 1) if len(ways) == 2 else (0,)) if (i, j) != (0, 0)]
    if len(ways) == 1:
        steps += [(-2, 0), (2, 0)]
    colour = rgb.astype(np.float32) * mask[..., None]
    weight = mask.astype(np.float32)
    total, count = np.zeros_like(colour), np.zeros_like(weight)
    for i, j in steps:
        way = i * ways[0] + (j * ways[1] if len(ways) == 2 else 0)
        shift = np.array([[1, 0, way[0]], [0, 1, way[1]]], np.float32)
        size = (rgb.shape[1], rgb.shape[0])
        total += cv2.warpAffine(colour, shift, size, flags=cv2.INTER_LINEAR)
        count += cv2.warpAffine(weight, shift, size, flags=cv2.INTER_LINEAR)
    known = (count > 0.9) & mask
    common = total / np.maximum(count, 1e-3)[..., None]
    sigma = 0.5 * max(float(np.linalg.norm(way)) for way in ways)
    share = np.maximum(cv2.GaussianBlur(known.astype(np.float32), (0, 0), sigma), 1e-3)[..., None]
    level = cv2.GaussianBlur(common * known[..., None], (0, 0), sigma) / share
    cleaned = np.clip(rgb - (common - level), 0, 255).astype(np.uint8)
    return np.where(known[..., None], cleaned, rgb)

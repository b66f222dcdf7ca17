"""Places where the cloth doesn't look like the rest of itself, whatever its print.

The cloth is its own measure: each cell of a coarse grid is compared with all cells well away from it. A place
that has few like it is odd. Wrinkles, shading and prints come again elsewhere; a stain, a bleached or a faded
patch doesn't. Cells are compared twice: by lightness, colour and how busy they are; and, much finer, by the
colour alone that they would have in equal light, which folds and shadows hardly change. Prints are first
averaged away over more and more mm, until few places stand out.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import Polygon

from salvage.cloth.flat.areas import outlined, sides, together
from salvage.cloth.flat.colour import difference, in_equal_light, linear_from_lab, luminance
from salvage.cloth.flat.means import means_at
from salvage.cloth.flat.picture import Flat
from salvage.photo.srgb import linear_of_bytes

_CELL = 8  # flat pixels between cells
_SPREADS = (6.0, 10.0, 16.0)  # mm (standard deviation) a print is averaged over
_PRINTED = 5.0  # local spread of L of a cloth with a print or a bold weave
_AWAY = 80.0  # mm; nearer cells may be of the same stain and don't count
_COMPARED = 2500  # cells that each cell is compared with at most, taken evenly from all
_RARE = 1.75  # -log10 of the share of cells alike that makes a core
_STILL_RARE = 1.2  # and what belongs to it
_FEW = 0.03  # share of rare cells at which a print is averaged away
_OTHER_CLOTH = 12.0  # from the middling colour: not counted there, it is another cloth
_EDGE = 9.0  # mm; so near the outline shading is seldom alike
_THREAD = 11  # flat pixels; lines of thread are narrower than half of this
_SHADE, _TINTED = 3.0, 0.65  # what stands out by less, and keeps less of it in equal light, is shade
_UNEVEN = 5.0  # how uneven the surroundings of a place are at most
_SLIM, _RAGGED = 4.0, 0.6  # longer for its width, or less of its hull, is a fold or a seam
_AGAIN, _LARGER = 9, 6.0  # so many clear places are a print, unless one is so many times larger
_SMALLEST, _LARGEST = 60.0, 0.12  # mm^2, and share of the cloth (more is another cloth)
_FINE = 2  # flat pixels between points of the final edge

Map = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Sense:
    """What cells are compared by.

    lightness, busy: weights of L (light and shade change it most) and of the logarithm of its local spread;
    with a lightness of 0 all are compared in equal light.
    like: least and most distance that still counts as alike. laxer: factors on it, tried on plain cloth
    until few places stand out.
    soft: mm that the final edge is averaged over. edge: how much less rare the cells at the outline are.
    different: CIEDE2000 (kL = 2) between a core and its surroundings, at least.
    stands_out, clear: times how uneven the surroundings are plus `even`, at least, and for a clear place.
    """

    lightness: float
    busy: float
    like: tuple[float, float]
    laxer: tuple[float, ...]
    soft: float
    edge: float
    different: float
    even: float
    stands_out: float
    clear: float


_ALL = _Sense(0.5, 2.0, (0.8, 2.2), (1.0,), 2.5, 0.6, 3.5, 1.0, 1.0, 1.4)
# A difference of about 1 can just be seen side by side; what stands out so little must be proved (see proof.py).
_COLOUR = _Sense(0.0, 0.0, (0.35, 2.2), (1.0, 1.5, 2.2), 3.5, 0.0, 1.2, 0.25, 2.0, 3.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Looked:
    """The cells, how rare each is, and the spread in mm that a print was averaged over."""

    rare: Map
    cells: Mask
    spread: float
    printed: bool
    share: float


def odd_places(flat: Flat, sound: Mask) -> list[tuple[Polygon, float]]:
    """Odd places in mm, each with a confidence.

    sound: (h, w), cloth without what is known already (seams, closures, pockets).
    """
    if not sound.any():
        return []
    printed = _median_busy(flat, sound) > _PRINTED
    with ThreadPoolExecutor(1) as other_core:
        by_all = other_core.submit(_odd_to, _ALL, flat.lab, flat, sound, printed)
        light = linear_of_bytes(flat.rgb) if printed else flat.once(without_thread)
        by_colour = _odd_to(_COLOUR, light, flat, sound, printed)
        found = by_all.result() + by_colour
    return [
        (whole, max(found[k][1] for k in parts)) for whole, parts in together([shape for shape, _ in found])
    ]


def without_thread(flat: Flat) -> Map:
    """(h, w, 3) linear light of the picture, lines of thread taken off."""
    return linear_of_bytes(np.asarray(cv2.medianBlur(flat.rgb, _THREAD), np.uint8))


def _odd_to(
    sense: _Sense, picture: Map, flat: Flat, sound: Mask, printed: bool
) -> list[tuple[Polygon, float]]:
    """Odd places by one sense. picture: (h, w, 3) CIELAB, or linear light for colour alone."""
    light = 0.0 if sense.lightness else float(np.median(luminance(picture[sound])))
    tries = [(spread, 1.0) for spread in _SPREADS]
    if not printed and len(sense.laxer) > 1:
        tries = [(_SPREADS[0], laxer) for laxer in sense.laxer]
    depth = flat.depth_px[_CELL // 2 :: _CELL, _CELL // 2 :: _CELL]
    tried: list[_Looked] = []
    seen: dict[float, tuple[Map, Mask]] = {}
    for spread, laxer in tries:
        if spread not in seen:
            seen[spread] = _features(sense, picture, sound, spread / flat.step, light)
        features, cells = seen[spread]
        if cells.sum() < 60:
            return []
        rare = _rarity(sense, features, cells, flat.step, laxer)
        rare = np.where(depth[: rare.shape[0], : rare.shape[1]] * flat.step < _EDGE, rare - sense.edge, rare)
        share = _share_rare(rare, features, cells)
        tried.append(_Looked(rare, cells, spread, printed or spread > _SPREADS[0], share))
        if share <= _FEW:
            break
    best = min(tried, key=lambda each: each.share)
    if light and best.share > _FEW:
        return []  # a print of many colours: none is odd
    return _regions(sense, best, picture, flat, light)


def _median_busy(flat: Flat, sound: Mask) -> float:
    """The middling spread of L, near each place, of all sound cloth."""
    lightness, weight = flat.lab[..., :1], sound.astype(np.float32)
    (mean, square), share = _around([lightness, lightness**2], weight, _SPREADS[0] / flat.step)
    spread = np.sqrt(np.maximum(square - mean**2, 0.25))[..., 0]
    return float(np.median(spread[share > 0.3])) if (share > 0.3).any() else 0.0


def _around(values: list[Map], weight: Map, sigma_px: float) -> tuple[list[Map], Map]:
    """For each cell, the weighted means of some pictures (h, w, n) round it, and the mean weight."""
    share = means_at(weight, sigma_px, _CELL)
    safe = np.maximum(share, 1e-3)
    means = [means_at(each * weight[..., None], sigma_px, _CELL) for each in values]
    return [np.asarray(mean / safe, np.float32) for mean in means], share[..., 0]


def _features(sense: _Sense, picture: Map, sound: Mask, sigma_px: float, light: float) -> tuple[Map, Mask]:
    """For each cell what it is compared by, (rows, columns, n); and which cells have enough sound cloth."""
    weight = sound.astype(np.float32)
    if light:
        (mean,), share = _around([picture], weight, sigma_px)
        return in_equal_light(mean, light)[..., 1:], share > 0.3
    (mean, square), share = _around([picture, picture[..., :1] ** 2], weight, sigma_px)
    busy = np.sqrt(np.maximum(square[..., 0] - mean[..., 0] ** 2, 0.25))
    weighted = [mean[..., 0] * sense.lightness, mean[..., 1], mean[..., 2], sense.busy * np.log(busy)]
    return np.stack(weighted, -1), share > 0.3


def _rarity(sense: _Sense, features: Map, cells: Mask, step: float, laxer: float) -> Map:
    """-log10 of the share of far cells that are alike, for each cell; 0 outside."""
    own = features[cells]
    places = np.argwhere(cells).astype(np.float32) * (_CELL * step)  # row by row
    some = own[:: max(1, len(own) // 400)]
    usual = float(np.median(np.linalg.norm(some[:, None] - some[None], axis=2)))
    like = laxer * float(np.clip(0.4 * usual, *sense.like))
    every = slice(None, None, -(-len(own) // _COMPARED))
    # The exponent -(a - b)^2 / (2 like^2) as one product of matrices; about the middle, so that little is rounded off.
    near = ((own - own.mean(axis=0)) / (np.sqrt(2.0) * like)).astype(np.float32)
    size = (near**2).sum(1, keepdims=True)
    one = np.ones_like(size)
    ours, others = np.hstack([2 * near, -size, -one]), np.hstack([near, one, size])[every].T
    elsewhere = places[every]
    found = np.empty(len(own), np.float32)
    for start in range(0, len(own), 512):
        part = places[start : start + 512]
        alike = np.exp(np.minimum(ours[start : start + 512] @ others, 0))
        # What is too near lies in a few rows: it is counted there and taken off the whole.
        first, end = np.searchsorted(elsewhere[:, 0], (part[0, 0] - _AWAY, part[-1, 0] + _AWAY))
        beside = np.subtract.outer(part[:, 0], elsewhere[first:end, 0]) ** 2
        beside += np.subtract.outer(part[:, 1], elsewhere[first:end, 1]) ** 2
        close = (beside <= _AWAY**2).astype(np.float32)
        there = alike.sum(1) - np.einsum("ij,ij->i", alike[:, first:end], close)
        found[start : start + 512] = np.maximum(there, 0) / np.maximum(others.shape[1] - close.sum(1), 1)
    rare = np.zeros(cells.shape, np.float32)
    rare[cells] = -np.log10(found + 1e-4)
    return rare


def _share_rare(rare: Map, features: Map, cells: Mask) -> float:
    """Share of the cells that are rare, less those of quite another colour, which are another cloth."""
    away = np.linalg.norm(features - np.median(features[cells], axis=0), axis=-1)
    counted = cells & (away < _OTHER_CLOTH)
    return float((rare[counted] > _RARE).mean()) if counted.any() else 0.0


def _regions(
    sense: _Sense, looked: _Looked, picture: Map, flat: Flat, light: float
) -> list[tuple[Polygon, float]]:
    """Cores grown to their edges on a finer grid."""
    rare, cells = looked.rare, looked.cells
    height, width = (-(-n // _FINE) for n in flat.mask.shape)
    ratio = _CELL // _FINE
    fine = cv2.resize(rare, (rare.shape[1] * ratio, rare.shape[0] * ratio), interpolation=cv2.INTER_LINEAR)
    fine = np.asarray(_fitted(fine, (height, width)), np.float32)
    inside = (
        _fitted(np.repeat(np.repeat(cells, ratio, 0), ratio, 1), (height, width))
        & flat.mask[::_FINE, ::_FINE]
    )
    soft = _softened(picture, flat, (0.8 * looked.spread if looked.printed else sense.soft) / flat.step)
    soft = in_equal_light(soft, light) if light else soft
    labels, count = ndimage.label(inside & (fine > _STILL_RARE))
    cloth_area = float(flat.mask.sum()) * flat.step**2
    found: list[tuple[Polygon, float, float]] = []
    mm = flat.step * _FINE
    for label, box in enumerate(ndimage.find_objects(labels, count), 1):
        room = int(40 / mm)
        box = tuple(slice(max(0, s.start - room), s.stop + room) for s in box)
        core = labels[box] == label
        strength = float(fine[box][core].max())
        if strength < _RARE or core.sum() * mm**2 > _LARGEST * cloth_area:
            continue
        heart = core & (fine[box] > max(_RARE, strength - 0.6))
        grown, stands = _grown(sense, core, heart, soft[box], inside[box], mm)
        if stands < sense.stands_out:
            continue
        whole = np.zeros((height, width), bool)
        whole[box] = grown
        confidence = float(np.clip((strength - 1.2) / 1.6, 0.2, 0.9))
        found += [
            (shape, confidence, stands) for shape, _ in outlined(whole, flat, _FINE) if _is_patch(shape)
        ]
    clear = [(shape, sure) for shape, sure, stands in found if stands >= sense.clear]
    if len(clear) >= _AGAIN:  # a print; only what is far larger than its like can be a stain
        usual = float(np.median([shape.area for shape, _ in clear]))
        return [each for each in clear if each[0].area > _LARGER * usual]
    return [(shape, sure) for shape, sure, _ in found] if len(found) < _AGAIN else clear


def _softened(picture: Map, flat: Flat, sigma_px: float) -> Map:
    """The picture of the cloth averaged a little, on the fine grid; the floor is left out."""
    weight = flat.mask.astype(np.float32)
    soft = cv2.GaussianBlur(picture * weight[..., None], (0, 0), sigma_px)[::_FINE, ::_FINE]
    share = cv2.GaussianBlur(weight, (0, 0), sigma_px)[::_FINE, ::_FINE]
    return np.asarray(soft / np.maximum(share, 1e-3)[..., None], np.float32)


def _is_patch(shape: Polygon) -> bool:
    long, short = sides(shape)
    return (
        shape.area >= _SMALLEST
        and long < _SLIM * max(short, 1.0)
        and shape.area > _RAGGED * shape.convex_hull.area
    )


def _grown(
    sense: _Sense, core: Mask, heart: Mask, colour: Map, inside: Mask, mm: float
) -> tuple[Mask, float]:
    """What in and round the core looks more like its heart than like its surroundings, and how far it
    stands out from them: their difference over how uneven they are (0: no difference)."""
    away = ndimage.distance_transform_edt(~core) * mm
    ring = inside & (away > 12) & (away < 40)
    if ring.sum() < 30:
        return core, 0.0
    own, around = np.median(colour[heart], axis=0), np.median(colour[ring], axis=0)
    if not sense.lightness:  # equal light makes L nearly equal; what is left of a difference is rounding
        own[0] = around[0]
    uneven = float(np.median(np.linalg.norm((colour[ring] - around) * (sense.lightness, 1, 1), axis=1)))
    differs = difference(own, around)
    stands = differs / (sense.even + uneven)
    if differs < sense.different or uneven > _UNEVEN or (stands < _SHADE and _is_shade(own, around, differs)):
        return core, 0.0
    way = own - around
    along = (colour - around) @ (way / np.linalg.norm(way))
    alike = inside & (away < 18) & (along > 0.45 * np.linalg.norm(way))
    labels, _ = ndimage.label(ndimage.binary_opening(alike, np.ones((2, 2))))
    touching = np.unique(labels[heart])
    joined = np.isin(labels, touching[touching > 0])
    whole = np.asarray(ndimage.binary_fill_holes(joined), bool)
    return whole, stands if joined.any() else 0.0


def _is_shade(own: Map, around: Map, differs: float) -> bool:
    """Whether most of the difference of two CIELAB colours is one of light and shade."""
    light = linear_from_lab(np.stack([own, around])[None])
    equal = in_equal_light(light, float(luminance(light).mean()))[0]
    return difference(equal[0], equal[1]) < _TINTED * differs


def _fitted(values: NDArray, size_px: tuple[int, int]) -> NDArray:
    """Cut or padded at the bottom and right with zeros."""
    height, width = size_px
    cut = values[:height, :width]
    return np.pad(cut, ((0, height - cut.shape[0]), (0, width - cut.shape[1])))

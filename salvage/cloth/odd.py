"""Places where the cloth doesn't look like the rest of itself, whatever its print.

The cloth is its own measure: each cell of a coarse grid is compared, in mean colour and in how busy it
is, with all cells well away from it. A place that has few like it is odd. Wrinkles, shading and prints
come again elsewhere; a stain, a bleached or a faded patch doesn't. Prints are first averaged away over
more and more mm, until few places stand out.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import Polygon

from salvage.cloth.areas import outlined, sides
from salvage.cloth.colour import difference
from salvage.cloth.flat import Flat

_CELL = 8  # flat pixels between cells
_SPREADS = (6.0, 10.0, 16.0)  # mm (standard deviation) a print is averaged over
_PRINTED = 5.0  # local spread of L of a cloth with a print or a bold weave
_AWAY = 80.0  # mm; nearer cells may be of the same stain and don't count
_COMPARED = 2500  # cells that each cell is compared with at most, taken evenly from all
_LIGHTNESS = 0.5  # weight of L against a and b: light and shade change L most
_BUSY = 2.0  # weight of the logarithm of the local spread of L
_LIKE = (0.8, 2.2)  # least and most distance that still counts as alike
_RARE = 1.75  # -log10 of the share of cells alike that makes a core
_STILL_RARE = 1.2  # and what belongs to it
_FEW = 0.03  # share of rare cells at which a print is averaged away
_EDGE = 9.0  # mm; so near the outline shading is seldom alike
_DIFFERENT = 3.5  # CIEDE2000 between a core and its surroundings
_STANDS_OUT, _UNEVEN = 1.0, 5.0  # times 1 + how uneven the surroundings are; and the most of that
_SLIM, _RAGGED = 4.0, 0.6  # longer for its width, or less of its hull, is a fold or a seam
_CLEAR, _AGAIN, _LARGER = 1.4, 9, 6.0  # so many places that stand out by so much are a print
_SMALLEST, _LARGEST = 60.0, 0.12  # mm^2, and share of the cloth (more is another cloth)
_FINE = 2  # flat pixels between points of the final edge

Map = NDArray[np.float32]


def odd_places(flat: Flat, sound: NDArray[np.bool_]) -> list[tuple[Polygon, float]]:
    """Odd places in mm, each with a confidence.

    sound: (h, w), cloth without what is known already (seams, closures, pockets).
    """
    lab = flat.lab()
    tried: list[tuple[float, float, Map, NDArray[np.bool_], bool]] = []
    for spread in _SPREADS:
        mean, busy, share = _averages(lab, sound, spread / flat.step)
        cells = share > 0.3
        if cells.sum() < 60:
            return []
        rare = _rarity(mean, busy, cells, flat.step)
        depth = ndimage.distance_transform_edt(flat.mask)[_CELL // 2 :: _CELL, _CELL // 2 :: _CELL]
        rare = np.where(depth[: rare.shape[0], : rare.shape[1]] * flat.step < _EDGE, rare - 0.6, rare)
        printed = spread > _SPREADS[0] or float(np.median(busy[cells])) > _PRINTED
        tried.append(((rare[cells] > _RARE).mean(), spread, rare, cells, printed))
        if tried[-1][0] <= _FEW:
            break
    _, spread, rare, cells, printed = min(tried, key=lambda each: each[0])
    return _regions(rare, cells, lab, flat, sound, spread, printed)


def _averages(lab: Map, sound: NDArray[np.bool_], sigma_px: float) -> tuple[Map, Map, Map]:
    """For each cell: mean colour, spread of L, and how much of its surroundings is sound cloth."""
    weight = sound.astype(np.float32)

    def smooth(values: Map) -> Map:
        blurred = cv2.GaussianBlur(values, (0, 0), sigma_px)
        return np.asarray(blurred, np.float32)[_CELL // 2 :: _CELL, _CELL // 2 :: _CELL]

    share = smooth(weight)
    safe = np.maximum(share, 1e-3)
    mean = smooth(lab * weight[..., None]) / safe[..., None]
    square = smooth(lab[..., 0] ** 2 * weight) / safe
    busy = np.sqrt(np.maximum(square - mean[..., 0] ** 2, 0.25))
    return np.asarray(mean, np.float32), np.asarray(busy, np.float32), share


def _rarity(mean: Map, busy: Map, cells: NDArray[np.bool_], step: float) -> Map:
    """-log10 of the share of far cells that are alike, for each cell; 0 outside."""
    features = np.stack([mean[..., 0] * _LIGHTNESS, mean[..., 1], mean[..., 2], _BUSY * np.log(busy)], -1)[
        cells
    ]
    places = np.argwhere(cells).astype(np.float32) * (_CELL * step)
    some = features[:: max(1, len(features) // 400)]
    usual = float(np.median(np.linalg.norm(some[:, None] - some[None], axis=2)))
    like = float(np.clip(0.4 * usual, *_LIKE))
    every = slice(None, None, -(-len(features) // _COMPARED))
    others, elsewhere = features[every], places[every]
    found = np.empty(len(features), np.float32)
    for start in range(0, len(features), 512):
        part = slice(start, start + 512)
        alike = np.exp(-_squared(features[part], others) / (2 * like * like))
        far = _squared(places[part], elsewhere) > _AWAY**2
        found[part] = (alike * far).sum(1) / np.maximum(far.sum(1), 1)
    rare = np.zeros(cells.shape, np.float32)
    rare[cells] = -np.log10(found + 1e-4)
    return rare


def _squared(a: Map, b: Map) -> Map:
    return np.maximum((a**2).sum(1)[:, None] + (b**2).sum(1)[None] - 2 * a @ b.T, 0)


def _regions(
    rare: Map,
    cells: NDArray[np.bool_],
    lab: Map,
    flat: Flat,
    sound: NDArray[np.bool_],
    spread: float,
    printed: bool,
) -> list[tuple[Polygon, float]]:
    """Cores grown to their edges on a finer grid."""
    height, width = (-(-n // _FINE) for n in flat.mask.shape)
    ratio = _CELL // _FINE
    fine = cv2.resize(rare, (rare.shape[1] * ratio, rare.shape[0] * ratio), interpolation=cv2.INTER_LINEAR)
    fine = np.asarray(_fitted(fine, (height, width)), np.float32)
    inside = (
        _fitted(np.repeat(np.repeat(cells, ratio, 0), ratio, 1), (height, width))
        & flat.mask[::_FINE, ::_FINE]
    )
    weight = flat.mask.astype(np.float32)
    sigma = (0.8 * spread if printed else 2.5) / flat.step
    soft = cv2.GaussianBlur(lab * weight[..., None], (0, 0), sigma)[::_FINE, ::_FINE]
    soft = soft / np.maximum(cv2.GaussianBlur(weight, (0, 0), sigma)[::_FINE, ::_FINE], 1e-3)[..., None]
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
        grown, stands = _grown(core, heart, soft[box], inside[box], mm)
        if stands < _STANDS_OUT:
            continue
        whole = np.zeros((height, width), bool)
        whole[box] = grown
        confidence = float(np.clip((strength - 1.2) / 1.6, 0.2, 0.9))
        found += [
            (shape, confidence, stands) for shape, _ in outlined(whole, flat, _FINE) if _is_patch(shape)
        ]
    clear = [(shape, sure) for shape, sure, stands in found if stands >= _CLEAR]
    if len(clear) >= _AGAIN:  # a print; only what is far larger than its like can be a stain
        usual = float(np.median([shape.area for shape, _ in clear]))
        return [each for each in clear if each[0].area > _LARGER * usual]
    return [(shape, sure) for shape, sure, _ in found] if len(found) < _AGAIN else clear


def _is_patch(shape: Polygon) -> bool:
    long, short = sides(shape)
    return (
        shape.area >= _SMALLEST
        and long < _SLIM * max(short, 1.0)
        and shape.area > _RAGGED * shape.convex_hull.area
    )


def _grown(
    core: NDArray[np.bool_], heart: NDArray[np.bool_], colour: Map, inside: NDArray[np.bool_], mm: float
) -> tuple[NDArray[np.bool_], float]:
    """What in and round the core looks more like its heart than like its surroundings, and how far it
    stands out from them: their difference over how uneven they are (0: no difference)."""
    away = ndimage.distance_transform_edt(~core) * mm
    ring = inside & (away > 12) & (away < 40)
    if ring.sum() < 30:
        return core, 0.0
    own, around = np.median(colour[heart], axis=0), np.median(colour[ring], axis=0)
    uneven = float(np.median(np.linalg.norm((colour[ring] - around) * (_LIGHTNESS, 1, 1), axis=1)))
    differs = difference(own, around)
    if differs < _DIFFERENT or uneven > _UNEVEN:
        return core, 0.0
    way = own - around
    along = (colour - around) @ (way / np.linalg.norm(way))
    alike = inside & (away < 18) & (along > 0.45 * np.linalg.norm(way))
    labels, _ = ndimage.label(ndimage.binary_opening(alike, np.ones((2, 2))))
    touching = np.unique(labels[heart])
    joined = np.isin(labels, touching[touching > 0])
    whole = np.asarray(ndimage.binary_fill_holes(joined), bool)
    return whole, differs / (1 + uneven) if joined.any() else 0.0


def _fitted(values: NDArray, size_px: tuple[int, int]) -> NDArray:
    """Cut or padded at the bottom and right with zeros."""
    height, width = size_px
    cut = values[:height, :width]
    return np.pad(cut, ((0, height - cut.shape[0]), (0, width - cut.shape[1])))

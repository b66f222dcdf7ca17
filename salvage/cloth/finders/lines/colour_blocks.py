"""Two colours meet at a seam: the lines along which blocks of one plain colour end and another begins.

The cloth is averaged a little, its colours are put into a few groups, and the edge of each large group is
followed. Shade and creases change the colour slowly, or its lightness alone; a print changes it everywhere. So
an edge counts only where the colour jumps within a few mm by most of what the two blocks differ, and the
blocks aren't scattered.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from shapely import union_all
from shapely.geometry import LineString, Polygon
from shapely.ops import linemerge

from salvage.cloth.finders.found import Found, Seam
from salvage.cloth.finders.lines.beside import not_yet
from salvage.cloth.finders.sight import Sight
from salvage.cloth.flat.areas import ringed
from salvage.cloth.flat.colour import difference
from salvage.cloth.flat.picture import Flat
from salvage.cloth.garment import BETWEEN, OTHER_COLOUR
from salvage.shapes import points_on

_STEP = 3.0  # mm between pixels of the averaged picture
_SPREAD = 4.0  # mm (standard deviation) it is averaged over
_GROUPS = 6  # colours looked for at first; those that are alike are put together
_LIGHTNESS = 0.5  # weight of L: light and shade change it most (kL = 2, as textile mills use it)
_ALIKE = 13.0  # CIEDE2000 (kL = 2) below which two groups are one cloth in two lights
_BLOCK = 2500.0  # mm^2, the smallest block
_SCATTERED = 0.06  # share of the cloth in smaller bits of colour, from which it is a print
_BESIDE = 7.0  # mm to either side of an edge, where the two colours are read
_JUMP, _JUMP_SHARE = (
    0.55,
    0.6,
)  # of the blocks' difference that an edge shows so near, and along how much of it
_SLIM = 12.0  # mm; a narrower strip is shadow or trimming
_REACHES = 0.1  # share of a block's edge that lies on the outline
_AT_EDGE, _SHORTEST = 9.0, 45.0  # mm
_CONFIDENCE = 0.8

Map = NDArray[np.float32]


def find(sight: Sight, found: Found) -> Found:
    """Seams between blocks of different colour that nobody else found."""
    new = not_yet(colour_seams(sight.flat, sight.cloth), found.seam_lines)
    return replace(found, seams=(*found.seams, *new))


def colour_seams(flat: Flat, cloth: Polygon) -> list[Seam]:
    """Seams between blocks of different colour, mm."""
    picture, mask = _averaged(flat)
    if mask.sum() * _STEP**2 < 4 * _BLOCK:
        return []
    labels, centres = _groups(picture, mask)
    if len(centres) < 2:
        return []
    blocks = _blocks(labels, len(centres))
    if blocks is None:
        return []
    seams: list[Seam] = []
    edge = cloth.boundary.buffer(_AT_EDGE)
    taken: list[LineString] = []
    order = sorted(range(len(centres)), key=lambda group: int((labels == group).sum()))
    for group in order[:-1]:  # the largest is bounded by the others
        for shape, _ in ringed(blocks == group, lambda ring: _mm(ring, flat), _STEP / 2):
            if shape.area < _BLOCK or shape.buffer(-_SLIM / 2).is_empty:
                continue
            if shape.exterior.intersection(edge).length < _REACHES * shape.exterior.length:
                continue  # an island is a stain, a badge or a pocket: blocks of cloth reach the outline
            inner = LineString(shape.simplify(1.5).exterior.coords).difference(edge)
            lines = inner if isinstance(inner, LineString) else linemerge(inner)
            for line in getattr(lines, "geoms", [lines]):
                rest = (
                    line.difference(union_all([each.buffer(2 * _STEP) for each in taken])) if taken else line
                )
                for part in getattr(rest, "geoms", [rest]):
                    if part.length >= _SHORTEST and _jumps(part, picture, mask, flat, centres):
                        seams.append(Seam(part, _CONFIDENCE, what=f"{BETWEEN}{OTHER_COLOUR}", wide=2.0))
                        taken.append(part)
    return seams


def _averaged(flat: Flat) -> tuple[Map, NDArray[np.bool_]]:
    """The cloth averaged over a few mm, every _STEP mm, in CIELAB; the floor is left out."""
    every = max(1, round(_STEP / flat.step))
    weight = flat.mask.astype(np.float32)
    sigma = _SPREAD / flat.step
    lab = flat.lab * weight[..., None]
    share = np.maximum(cv2.GaussianBlur(weight, (0, 0), sigma), 1e-3)
    soft = cv2.GaussianBlur(lab, (0, 0), sigma) / share[..., None]
    return np.asarray(soft[::every, ::every], np.float32), flat.mask[::every, ::every]


def _mm(ring: NDArray[np.float64], flat: Flat) -> NDArray[np.float64]:
    return flat.to_mm(ring * max(1, round(_STEP / flat.step)))


def _groups(picture: Map, mask: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """For each pixel its colour group (-1 off the cloth), and the groups' CIELAB colours."""
    weights = np.array([_LIGHTNESS, 1.0, 1.0], np.float32)
    colours = picture[mask] * weights
    sample = colours[:: max(1, len(colours) // 6000)]
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.5)
    cv2.setRNGSeed(0)
    groups = min(_GROUPS, len(sample))
    first = np.zeros((len(sample), 1), np.int32)
    _, _, centres = cv2.kmeans(sample.copy(), groups, first, stop, 2, cv2.KMEANS_PP_CENTERS)
    away = ((colours[:, None] - centres[None]) ** 2).sum(2)
    nearest = away.argmin(1)
    joined = _joined(np.asarray(centres / weights, float), np.bincount(nearest, minlength=groups))
    labels = np.full(mask.shape, -1, np.int64)
    labels[mask] = joined[nearest]
    own = np.array([np.median(picture[labels == group], axis=0) for group in range(joined.max() + 1)])
    return labels, own


def _joined(centres: NDArray[np.float64], sizes: NDArray[np.int64]) -> NDArray[np.int64]:
    """For each group which one it belongs to once groups that look alike are put together, the nearest first;
    what is put together counts with its middling colour, so that shade doesn't chain two cloths."""
    members = [[k] for k in range(len(centres)) if sizes[k]]
    colours = [centres[k].astype(float) for k in range(len(centres)) if sizes[k]]
    while len(members) > 1:
        apart, i, j = min(
            (difference(colours[i], colours[j]), i, j) for i in range(len(members)) for j in range(i)
        )
        if apart >= _ALIKE:
            break
        first, second = (sum(sizes[k] for k in members[each]) for each in (i, j))
        colours[j] = (colours[i] * first + colours[j] * second) / (first + second)
        members[j] += members.pop(i)
        colours.pop(i)
    number = np.zeros(len(centres), np.int64)
    for group, each in enumerate(members):
        number[each] = group
    return number


def _blocks(labels: NDArray[np.int64], count: int) -> NDArray[np.int64] | None:
    """Labels with small bits given up (-1); None where the bits are so many that they are a print."""
    blocks = labels.copy()
    bits = 0
    for group in range(count):
        mask = ndimage.binary_opening(labels == group, np.ones((3, 3)))
        parts, found = ndimage.label(mask)
        sizes = np.bincount(parts.ravel(), minlength=found + 1)[1:] * _STEP**2
        small = np.flatnonzero(sizes < _BLOCK) + 1
        bits += int(np.isin(parts, small).sum())
        blocks[(labels == group) & ~np.isin(parts, np.flatnonzero(sizes >= _BLOCK) + 1)] = -1
    if bits > _SCATTERED * (labels >= 0).sum() or not (blocks >= 0).any():
        return None
    row, column = ndimage.distance_transform_edt(blocks < 0, return_distances=False, return_indices=True)
    return np.where(labels >= 0, blocks[row, column], -1)  # what lies between two blocks is shared out


def _jumps(
    line: LineString, picture: Map, mask: NDArray[np.bool_], flat: Flat, centres: NDArray[np.float64]
) -> bool:
    """Whether along most of a line the colour changes within a few mm by most of what the two blocks differ."""
    seen = []
    for side in ("left", "right"):
        beside = line.parallel_offset(_BESIDE, side)
        if beside.is_empty or beside.length < 10:
            return False
        points = points_on(beside, np.linspace(0, 1, 40), normalized=True)
        column, row = np.round(flat.to_flat_px(points) / max(1, round(_STEP / flat.step))).astype(int).T
        column, row = np.clip(column, 0, mask.shape[1] - 1), np.clip(row, 0, mask.shape[0] - 1)
        seen.append(picture[row, column])
    middles = [np.median(side, axis=0) for side in seen]
    own = [centres[int(np.argmin(np.linalg.norm(centres - each, axis=1)))] for each in middles]
    whole = difference(*own)
    if whole < _ALIKE:
        return False
    here = np.array([difference(a, b) for a, b in zip(*seen, strict=True)])
    return bool((here > _JUMP * whole).mean() >= _JUMP_SHARE)

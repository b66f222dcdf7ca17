"""Tabs and loops: small rectangles sewn on, seen by the thin lines of their four sides.

Pairs of parallel line segments a tab's width apart are completed to rectangles; one is a tab if a thin line
of one sign (lighter or darker than the cloth) shows along all of each side.
"""

from __future__ import annotations

from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree
from shapely.geometry import Polygon

from salvage.cloth.flat.picture import Flat

_LONG, _WIDE = (28.0, 90.0), (8.0, 45.0)  # mm
_OBLONG = 1.3  # times longer than wide, at least
_SEGMENT = 11.0  # mm, shortest
_PARALLEL = 7.0  # degrees
_BESIDE = 0.4  # share of the length along which the two segments lie beside each other
_CLEAR = 4.0  # times the unevenness of the cloth that each third of each side shows, at least
_UNEVEN = 0.3  # grey levels added to that unevenness: rounding
_THIN = 3.5  # flat pixels (standard deviation): what is broader is light and shade
_EDGE = 9  # flat pixels, the cloth's edge is a line by itself
_CONTRAST = 20.0  # grey levels that the usual unevenness of the cloth is stretched to
_OFF = 3  # flat pixels that a side may be off

Array = NDArray[np.float64]


def find_tabs(flat: Flat) -> list[Polygon]:
    """Tabs and loops on plain cloth, as rectangles in mm, the clearest first; none overlaps another."""
    grey = cv2.cvtColor(flat.rgb, cv2.COLOR_RGB2GRAY).astype(np.float32)
    inner = cv2.erode(flat.mask.astype(np.uint8), np.ones((_EDGE, _EDGE), np.uint8)) > 0
    if not inner.any():
        return []
    thin = np.asarray((grey - cv2.GaussianBlur(grey, (0, 0), _THIN)) * inner, np.float32)
    uneven = float(np.median(np.abs(ndimage.uniform_filter1d(thin, 9, axis=1)[inner]))) + _UNEVEN
    found = []
    for corners in _rectangles(_segments(thin, inner), flat.step):
        clear = min(_shown(thin, a, b) for a, b in pairwise([*corners, corners[0]])) / uneven
        if clear >= _CLEAR:
            found.append((clear, Polygon(flat.to_mm(corners)).buffer(0)))
    kept: list[Polygon] = []
    for _, shape in sorted(found, key=lambda each: -each[0]):
        if not any(shape.intersects(each) for each in kept):
            kept.append(shape)
    return kept


def _segments(thin: NDArray[np.float32], inner: NDArray[np.bool_]) -> Array:
    """(n, 2, 2) ends of straight thin lines, in flat pixels."""
    usual = np.percentile(np.abs(thin[inner]), 70) + 0.5
    signed = np.clip(128 + _CONTRAST * cv2.GaussianBlur(thin, (0, 0), 0.8) / usual, 0, 255).astype(np.uint8)
    found = cv2.createLineSegmentDetector().detect(signed)[0]
    return np.zeros((0, 2, 2)) if found is None else np.asarray(found, float).reshape(-1, 2, 2)


def _rectangles(segments: Array, step: float) -> list[Array]:
    """(4, 2) corners in flat pixels of each rectangle that two parallel segments make."""
    length = np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1)
    segments = segments[(length * step >= _SEGMENT) & (length * step <= _LONG[1])]
    if len(segments) < 2:
        return []
    middles = segments.mean(axis=1)
    pairs = cKDTree(middles).query_pairs((_LONG[1] + _WIDE[1]) / 2 / step)
    made = (_rectangle(segments[i], segments[j], step) for i, j in _likely(segments, sorted(pairs), step))
    return [each for each in made if each is not None]


def _likely(segments: Array, pairs: list[tuple[int, int]], step: float) -> list[tuple[int, int]]:
    """The pairs that may make a rectangle: all that `_rectangle` takes for one, and few others. Most make none, and
    one by one that takes a fifth of a second."""
    if not pairs:
        return []
    i, j = np.array(pairs).T
    lengths = np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1)
    i, j = np.where(lengths[i] >= lengths[j], i, j), np.where(lengths[i] >= lengths[j], j, i)
    length = lengths[i]
    way = (segments[i, 1] - segments[i, 0]) / length[:, None]
    aside = np.stack([-way[:, 1], way[:, 0]], 1)
    shorter = segments[j]
    sine = np.abs(((shorter[:, 1] - shorter[:, 0]) * aside).sum(1)) / lengths[j]
    wide = np.abs(((shorter.mean(axis=1) - segments[i, 0]) * aside).sum(1)) * step
    ends = np.sort(((shorter - segments[i, :1]) * way[:, None]).sum(2), axis=1)
    whole = np.maximum(length, ends[:, 1]) - np.minimum(0.0, ends[:, 0])
    beside = np.minimum(length, ends[:, 1]) - np.maximum(0.0, ends[:, 0])
    slack = 1e-6  # of rounding: `_rectangle` decides
    likely = (
        (sine <= np.sin(np.radians(_PARALLEL)) + slack)
        & (wide >= _WIDE[0] - slack)
        & (wide <= _WIDE[1] + slack)
        & (whole * step >= np.maximum(_LONG[0], _OBLONG * wide) - slack)
        & (whole * step <= _LONG[1] + slack)
        & (beside >= _BESIDE * whole - slack)
    )
    return [pairs[k] for k in np.flatnonzero(likely)]


def _rectangle(one: Array, two: Array, step: float) -> Array | None:
    """The rectangle two segments make, the longer giving its direction; None if they make none."""
    longer, shorter = sorted((one, two), key=lambda each: -float(np.linalg.norm(each[1] - each[0])))
    length = float(np.linalg.norm(longer[1] - longer[0]))
    way, other = (longer[1] - longer[0]) / length, shorter[1] - shorter[0]
    aside = np.array([-way[1], way[0]])
    if abs(other @ aside) > np.sin(np.radians(_PARALLEL)) * np.linalg.norm(other):
        return None
    apart = float((shorter.mean(axis=0) - longer[0]) @ aside)
    ends = np.sort((shorter - longer[0]) @ way)
    start, end = min(0.0, ends[0]), max(length, ends[1])
    long, wide = (end - start) * step, abs(apart) * step
    beside = min(length, ends[1]) - max(0.0, ends[0])
    if not (_WIDE[0] <= wide <= _WIDE[1] and _LONG[0] <= long <= _LONG[1] and long >= _OBLONG * wide):
        return None
    if beside < _BESIDE * (end - start):
        return None
    near = [longer[0] + start * way, longer[0] + end * way]
    return np.array([*near, near[1] + apart * aside, near[0] + apart * aside])


def _shown(thin: NDArray[np.float32], start: Array, end: Array) -> float:
    """Grey levels that a thin line of one sign shows from start to end at least, in each third of the way."""
    length = float(np.linalg.norm(end - start))
    way = (end - start) / max(length, 1e-9)
    along = start + np.linspace(0.08, 0.92, max(6, int(length)))[:, None] * (end - start)
    offsets = np.arange(-_OFF, _OFF + 1)[:, None, None] * np.array([-way[1], way[0]])
    places = (along[None] + offsets).astype(np.float32)
    values = cv2.remap(thin, places[..., 0], places[..., 1], cv2.INTER_LINEAR)
    thirds = np.array([each.mean(axis=1) for each in np.array_split(values, 3, axis=1)])
    return float(max(thirds.min(axis=0).max(), (-thirds).min(axis=0).max(), 0.0))

"""Straight edges of a picture, measured to a fraction of a pixel at many places along each.

Finds segments with cv2's line segment detector (Grompone von Gioi et al., "LSD: a line segment detector",
Image Processing On Line 2, 2012) and then follows the steepest brightness across each. What the lens does
to a straight line is left in the points.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

_FIND_LONG_SIDE_PX = 1300  # segments are sought in a picture of about this long side
_MEASURE_LONG_SIDE_PX = 2600  # and measured in one of this
_SHORTEST = 0.02  # of the diagonal
_MOST_SEGMENTS = 260  # the longest; more only cost time
_EVERY_PX = 4.0
_REACH_PX = 4.5  # how far across to look for the edge
_MOST_POINTS = 8
_NOISE_FLOOR_PX = 0.1
_NEIGHBOURS = 2.0  # points along an edge share blur and grain: count them as so many times fewer


@dataclass(frozen=True, slots=True, eq=False)
class Segment:
    """One straight edge. points_px: (m, 2), m from 3 to 8, in order along it, each the mean of several places.

    across: (2,) unit direction across it, towards the brighter side. sd_px: of each point, across.
    length_px: from end to end. contrast: grey levels a pixel at its steepest, the median along it.
    """

    points_px: Floats
    across: Floats
    sd_px: float
    length_px: float
    contrast: float


@dataclass(frozen=True, slots=True, eq=False)
class Rough:
    """What was seen of straight edges at a first look.

    smooth: the grey picture, perhaps reduced, a little blurred. ends: (n, 4), of edges in its pixels.
    scale: (2,), pixels of the photograph for one of its.
    """

    smooth: NDArray[np.float32]
    ends: Floats
    scale: Floats


def rough_segments(pixels: NDArray[np.uint8]) -> Rough:
    """A first look at an RGB picture (height, width, 3): nearly all the work that needs no more than the picture."""
    height, width = pixels.shape[:2]
    shrink = min(1.0, _MEASURE_LONG_SIDE_PX / max(height, width))
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    if shrink < 1.0:
        grey = cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    scale = np.array([width / grey.shape[1], height / grey.shape[0]])
    smooth = np.asarray(cv2.GaussianBlur(grey.astype(np.float32), (0, 0), 1.0), np.float32)
    return Rough(smooth, _find(grey), scale)


def segments(rough: Rough, avoid_px: Sequence[ArrayLike] = ()) -> list[Segment]:
    """Straight edges, measured; none with its middle inside an `avoid_px` ring (pixels of the photograph)."""
    ends, scale = rough.ends, rough.scale
    if len(ends) == 0:
        return []
    shortest = _SHORTEST * math.hypot(*rough.smooth.shape)
    lengths = np.hypot(*(ends[:, 2:] - ends[:, :2]).T)
    longest_first = np.argsort(-lengths)
    ends = ends[longest_first[lengths[longest_first] >= shortest]]
    middles = ((ends[:, :2] + ends[:, 2:]) / 2 + 0.5) * scale - 0.5
    clear = np.ones(len(ends), dtype=bool)
    for ring in avoid_px:
        contour = np.asarray(ring, dtype=np.float32).reshape(-1, 1, 2)
        inside = [cv2.pointPolygonTest(contour, (float(x), float(y)), False) >= 0 for x, y in middles]
        clear &= ~np.array(inside, dtype=bool)
    found = (_measure(rough.smooth, *end.reshape(2, 2)) for end in ends[clear][:_MOST_SEGMENTS])
    return [_enlarge(segment, scale) for segment in found if segment is not None]


def _find(grey: NDArray[Any]) -> Floats:
    """(n, 4) ends of segments in the pixels of `grey`."""
    shrink = min(1.0, _FIND_LONG_SIDE_PX / max(grey.shape))
    small = (
        cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA) if shrink < 1.0 else grey
    )
    lines = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD).detect(small)[0]
    if lines is None:
        return np.zeros((0, 4))
    factor = np.array([grey.shape[1] / small.shape[1], grey.shape[0] / small.shape[0]] * 2)
    return np.asarray((lines.reshape(-1, 4).astype(float) + 0.5) * factor - 0.5)


def _measure(smooth: NDArray[Any], a: Floats, b: Floats) -> Segment | None:
    """Follow the edge between a and b; None where it isn't one clear edge all along."""
    chord = b - a
    length = float(np.hypot(*chord))
    along = chord / length
    across = np.array([along[1], -along[0]])
    places = np.arange(0.02 * length, 0.98 * length, _EVERY_PX)
    reach = np.arange(-_REACH_PX - 0.5, _REACH_PX + 0.75, 0.5)
    x = (a[0] + places[:, None] * along[0] + reach * across[0]).astype(np.float32)
    y = (a[1] + places[:, None] * along[1] + reach * across[1]).astype(np.float32)
    profile = cv2.remap(smooth, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    profile = cv2.blur(profile, (1, 3))  # rows are along the edge
    slope = np.gradient(profile, axis=1)
    middle = slope[:, 4:-4].mean(axis=0)
    brighter = 1.0 if middle.max() >= -middle.min() else -1.0
    slope = slope * brighter
    peak = slope[:, 1:-1].argmax(axis=1) + 1
    row = np.arange(len(places))
    left, top, right = slope[row, peak - 1], slope[row, peak], slope[row, peak + 1]
    curve = left - 2 * top + right
    shift = np.where(curve < -1e-9, 0.5 * (left - right) / np.minimum(curve, -1e-9), 0.0)
    off = reach[peak] + 0.5 * shift
    good = (top > 0) & (np.abs(shift) <= 1.0) & (peak > 1) & (peak < slope.shape[1] - 2)
    curves = np.vander(2.0 * places / length - 1.0, 3)
    for _ in range(3):
        if good.sum() < max(9, 0.6 * len(places)):
            return None
        near = curves[good]
        model = curves @ np.linalg.solve(near.T @ near, near.T @ off[good])
        spread = max(1.4826 * _middle(np.abs(off - model)[good]), 0.05)
        good = good & (np.abs(off - model) < 3.0 * spread)
    if spread > 0.8 or good.sum() < max(9, 0.6 * len(places)):
        return None
    count = int(good.sum())
    many = int(np.clip(count // 3, 3, _MOST_POINTS))
    each = np.full(many, count // many) + (np.arange(many) < count % many)  # as even as can be
    first = np.cumsum(each) - each
    place = np.add.reduceat(places[good], first) / each
    offset = np.add.reduceat(off[good], first) / each
    points = a + place[:, None] * along + offset[:, None] * across
    sd = math.hypot(spread * math.sqrt(_NEIGHBOURS * many / count), _NOISE_FLOOR_PX)
    return Segment(points, brighter * across, sd, length, _middle(top[good]))


def _middle(values: NDArray[Any]) -> float:
    """The median; numpy's takes several times as long for so few."""
    ordered = np.sort(values)
    half = len(ordered) // 2
    return float(ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2)


def _enlarge(segment: Segment, scale: Floats) -> Segment:
    factor = float(scale.mean())
    points = (segment.points_px + 0.5) * scale - 0.5
    return Segment(
        points, segment.across, segment.sd_px * factor, segment.length_px * factor, segment.contrast
    )

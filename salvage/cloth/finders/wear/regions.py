"""Stable regions of a picture: patches with an edge of their own all round.

A patch that stays the same over many thresholds is one whose border is a step: a hole shows the layer behind it, a stain ends
where it dried, while shade runs out softly and its border moves with every threshold.
Source: Matas, Chum, Urban and Pajdla, Robust wide-baseline stereo from maximally stable extremal regions, Image and Vision
Computing 22 (2004).
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

_LEVELS = 4  # of 256 that a region stays nearly the same over
_VARIES = 2.0  # share of itself that it may change by meanwhile: loose, as it is weighed later
_APART = 0.0  # share by which regions within one another differ in size: with more, OpenCV leaves out a clean disc on even cloth
_SHARED = 0.3  # of a region that lies in a stronger one, to be a part of that
_LEVEL = 128  # that the middling value of the cloth gets

Map = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class StableRegion:
    """points: (n, 2) pixels (column, row). step: of the values a pixel, across its border, on average. long, short: axes of
    the ellipse with its moments, in pixels. usual: how much the values change from pixel to pixel elsewhere."""

    points: NDArray[np.intp]
    step: float
    long: float
    short: float
    usual: float


@dataclass(frozen=True, slots=True)
class Wanted:
    """sizes: pixels. slim: times as long as wide, at most. filled: share of the ellipse with its moments, at least. inside:
    share of it on sound cloth, at least. most: so many. usual_percent: of the cloth changes by less than what is usual."""

    sizes: tuple[int, int]
    slim: float
    filled: float
    inside: float
    most: int
    usual_percent: float


def stable_regions(
    channels: Sequence[Map], values: Map, sound: Mask, wanted: Wanted, least: float
) -> list[StableRegion]:
    """Those with the strongest step across their border; of several within one another the strongest.

    channels: (h, w) each, 0 where the cloth is as usual, in levels of which 256 are looked at. values: (h, w, n), what steps are
    measured in. sound: (h, w). least: what is added to the usual change, for cloth that has none.
    """
    with ThreadPoolExecutor(2) as cores:
        by_channel = list(cores.map(lambda channel: _steady(channel, sound, wanted), channels))
    found = [each for mine in by_channel for each in mine if len(each) >= wanted.sizes[0]]
    if not found:
        return []
    step, long, short, fits = _measured(found, values, sound, wanted)
    usual = float(np.percentile(_change(values)[sound], wanted.usual_percent))
    strength = np.where(fits, step / (least + usual), -1.0)
    taken = np.zeros(sound.shape, bool)
    chosen: list[StableRegion] = []
    for k in np.argsort(-strength, kind="stable"):
        if not fits[k] or len(chosen) >= wanted.most:
            break
        column, row = found[k].T
        if taken[row, column].mean() > _SHARED:
            continue
        taken[row, column] = True
        chosen.append(StableRegion(found[k], float(step[k]), float(long[k]), float(short[k]), usual))
    return chosen


def _steady(channel: Map, sound: Mask, wanted: Wanted) -> list[NDArray[np.intp]]:
    """All regions of one channel, each as its pixels."""
    finder = cv2.MSER.create(_LEVELS, *wanted.sizes, _VARIES, _APART)
    levels = np.where(sound, np.clip(channel + _LEVEL, 0, 255), _LEVEL).astype(np.uint8)
    return [np.asarray(each, np.intp) for each in finder.detectRegions(levels)[0]]


def _measured(
    found: Sequence[NDArray[np.intp]], values: Map, sound: Mask, wanted: Wanted
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], Mask]:
    """For each region its mean step, its axes, and whether it is of the wanted make; of all at once."""
    count = np.array([len(each) for each in found])
    start = np.concatenate([[0], np.cumsum(count)[:-1]])
    column, row = np.concatenate(found).T

    def mean(of: NDArray) -> NDArray[np.float64]:
        return np.asarray(np.add.reduceat(np.asarray(of, float), start) / count)

    x, y = mean(column), mean(row)
    xx, yy, xy = mean(column**2) - x**2, mean(row**2) - y**2, mean(column * row) - x * y
    half = np.sqrt(np.maximum((xx - yy) ** 2 / 4 + xy**2, 0))
    long, short = (2 * np.sqrt(np.maximum((xx + yy) / 2 + way * half, 0) + 1 / 12) for way in (1, -1))
    border = np.pi * (3 * (long + short) - np.sqrt((3 * long + short) * (long + 3 * short)))  # Ramanujan's
    # What flows out across the border is the sum of the Laplacian within (the divergence theorem).
    flow = np.atleast_3d(cv2.Laplacian(values, cv2.CV_32F))[row, column]
    step = np.linalg.norm([mean(flow[:, k]) for k in range(values.shape[2])], axis=0) * count / border
    fits = (
        (mean(sound[row, column]) >= wanted.inside)
        & (count >= wanted.filled * np.pi * long * short)
        & (long <= wanted.slim * short)
    )
    return step, long, short, fits


def _change(values: Map) -> Map:
    """(h, w): the slope of the values, a pixel."""
    ways = (np.atleast_3d(cv2.Sobel(values, cv2.CV_32F, *way)) for way in ((1, 0), (0, 1)))
    return np.asarray(np.sqrt(sum((each**2).sum(axis=2) for each in ways)) / 8, np.float32)

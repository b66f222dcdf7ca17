"""Is a photograph good enough to measure from? Blur, light and contrast, before anything is looked for in it.

Everything is measured on the picture brought down to 2400 px at its long side, so that the same photograph
is judged alike at 4 and at 12 megapixels. Thresholds come from the good rendered photographs this was tried
on, blurred and exposed by known amounts: see tests/photo/test_quality.py for the same in small.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.photo.photo import Photo
from salvage.photo.problem import Code, Level, Problem

_WORK_PX = 2400

# Blur: sigma of the sharpest edges, px of the reduced picture. A sharp photograph has 0.4 to 1.0.
_BLUR_WARNING_PX = 1.35
_BLUR_ERROR_PX = 2.6
_SHAKE_WARNING_PX = 1.85  # the same in the direction that is blurred most: a shaken hand blurs one way
_SHAKE_ERROR_PX = 3.2
_INNER_PX, _OUTER_PX = 1.0, 2.0  # sigmas of the two blurs whose slopes are compared
_LEAST_STEP = 22.0  # edges with smaller steps (of 255) are texture and noise
_DIRECTIONS = 6
_LEAST_EDGE_PX = 120  # edge pixels in one direction before it is believed
_MOST_TRIED = 250_000  # places where there may be an edge; more only cost time
_SHARPEST = 0.15  # quantile: some edges are soft of themselves (shadows, folds), the sharp ones tell

# Light: parts of the picture, and values of 255.
_BURNT = 250
_BURNT_WARNING = 0.03
_BURNT_ERROR = 0.30
_DARK_WARNING, _DARK_ERROR = 75.0, 40.0  # the 99th percentile of lightness
_FLAT_WARNING = 40.0  # between the 1st and 99th percentile


@dataclass(frozen=True, slots=True)
class Sharpness:
    """blur_px: sigma of the sharpest edges, typical over the directions; shake_px: of the worst but one.

    Both in px of the picture at 2400 px; 0 where there are too few edges to tell.
    """

    blur_px: float
    shake_px: float


def inspect(photo: Photo) -> tuple[Problem, ...]:
    """What is wrong with the picture as such: blurred, burnt-out, too-dark, low-contrast."""
    small = _reduced(photo.pixels)
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    found = (_blurred(sharpness(grey)), _burnt_out(small), *_light(grey))
    return tuple(problem for problem in found if problem is not None)


def sharpness(grey: NDArray[Any]) -> Sharpness:
    """How sharp the sharpest strong edges are, by direction. grey: (h, w) uint8.

    The slope of a step of blur s, blurred again by a and by b, falls in the ratio
    sqrt((s^2 + b^2) / (s^2 + a^2)); at an edge the ratio therefore tells s (Zhuo and Sim, "Defocus map
    estimation from a single image", Pattern Recognition 44, 2011).
    """
    values = grey.astype(np.float32)
    inner, dx, dy = _slope(values, _INNER_PX)
    outer, _, _ = _slope(values, _OUTER_PX)
    ridge = _ridge(inner, dx, dy, _LEAST_STEP / (np.sqrt(2 * np.pi) * 8.0))
    inner, outer, dx, dy = inner[ridge], outer[ridge], dx[ridge], dy[ridge]
    ratio = np.maximum(inner / np.maximum(outer, 1e-6), 1.0005) ** 2
    sigma = np.sqrt(np.clip((_OUTER_PX**2 - ratio * _INNER_PX**2) / (ratio - 1), 0.0, 400.0))
    step = inner * np.sqrt(2 * np.pi * (sigma**2 + _INNER_PX**2))
    used = (step > _LEAST_STEP) & (ratio < 0.95 * (_OUTER_PX / _INNER_PX) ** 2)
    direction = (np.degrees(np.arctan2(dy[used], dx[used])) % 180 // (180 / _DIRECTIONS)).astype(int)
    sharpest = sorted(
        float(np.quantile(sigma[used][direction == k], _SHARPEST))
        for k in range(_DIRECTIONS)
        if np.count_nonzero(direction == k) >= _LEAST_EDGE_PX
    )
    if not sharpest:
        return Sharpness(0.0, 0.0)
    return Sharpness(float(np.median(sharpest)), sharpest[-2] if len(sharpest) > 2 else sharpest[0])


def _reduced(pixels: NDArray[Any]) -> NDArray[Any]:
    factor = _WORK_PX / max(pixels.shape[:2])
    return (
        cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA) if factor < 1 else pixels
    )


def _slope(values: NDArray[Any], sigma: float) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
    """Steepness per px, and its two parts, of the picture blurred by sigma px."""
    blurred = cv2.GaussianBlur(values, (0, 0), sigma)
    dx = cv2.Sobel(blurred, cv2.CV_32F, 1, 0, scale=1 / 8)
    dy = cv2.Sobel(blurred, cv2.CV_32F, 0, 1, scale=1 / 8)
    return cv2.magnitude(dx, dy), dx, dy


def _ridge(
    slope: NDArray[Any], dx: NDArray[Any], dy: NDArray[Any], least: float
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns where the slope is at least `least` and higher than at both neighbours across the edge."""
    mask = (slope[1:-1, 1:-1] > least).view(np.uint8)
    found = cv2.findNonZero(mask)  # numpy's takes three times as long
    steep = np.zeros((0, 2), dtype=np.intp) if found is None else found.reshape(-1, 2)
    steep = steep[:: 1 + len(steep) // _MOST_TRIED] + 1  # texture is steep everywhere: a part of it tells
    rows, columns = steep[:, 1].astype(np.intp), steep[:, 0].astype(np.intp)
    octant = np.rint(np.arctan2(dy[rows, columns], dx[rows, columns]) / (np.pi / 4)).astype(int) % 4
    x, y = np.array([1, 1, 0, -1])[octant], np.array([0, 1, 1, 1])[octant]
    here = slope[rows, columns]
    top = (here >= slope[rows + y, columns + x]) & (here > slope[rows - y, columns - x])
    return rows[top], columns[top]


def _blurred(sharp: Sharpness) -> Problem | None:
    if sharp.blur_px < _BLUR_WARNING_PX and sharp.shake_px < _SHAKE_WARNING_PX:
        return None
    bad = sharp.blur_px >= _BLUR_ERROR_PX or sharp.shake_px >= _SHAKE_ERROR_PX
    return Problem(
        Code.BLURRED,
        Level.ERROR if bad else Level.WARNING,
        "The photograph is blurred: edges in it are spread over "
        f"{4 * max(sharp.blur_px, sharp.shake_px):.0f} pixels. "
        "Wipe the lens, tap on the garment to focus, hold still or use the timer, and give it more light.",
    )


def _burnt_out(pixels: NDArray[Any]) -> Problem | None:
    # One channel at its end is a strong colour; two at theirs are light that is lost.
    burnt = cv2.threshold(pixels, _BURNT - 1, 1, cv2.THRESH_BINARY)[1]
    part = float((cv2.transform(burnt, np.ones((1, 3), dtype=np.float32)) >= 2).mean())
    if part < _BURNT_WARNING:
        return None
    return Problem(
        Code.BURNT_OUT,
        Level.ERROR if part >= _BURNT_ERROR else Level.WARNING,
        f"{100 * part:.0f} % of the photograph is burnt out to plain white, and edges are lost in it. "
        "Tap on the brightest part before taking it or turn the exposure down, and keep sun and flash off.",
    )


def _light(grey: NDArray[Any]) -> tuple[Problem | None, Problem | None]:
    low, high = (float(v) for v in np.quantile(grey[::4, ::4], (0.01, 0.99)))
    dark = flat = None
    if high < _DARK_WARNING:
        dark = Problem(
            Code.TOO_DARK,
            Level.ERROR if high < _DARK_ERROR else Level.WARNING,
            "The photograph is too dark to see edges well. Put on more light or turn the exposure up.",
        )
    if high - low < _FLAT_WARNING:
        flat = Problem(
            Code.LOW_CONTRAST,
            Level.WARNING,
            "Everything in the photograph is nearly equally light, so that edges are hard to tell. "
            "Lay the garment on a floor or a sheet of another colour.",
        )
    return dark, flat

"""Printed reference squares: markers of AprilTag family 36h11 in a white margin."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.scale.seeing.corners import QuadFit, fit_quad

Array = NDArray[Any]

# AprilTag 36h11 (Olson, ICRA 2011; Wang and Olson, IROS 2016): 6 x 6 bits in a black border one bit wide.
MODULES_ACROSS = 8
FAMILY = cv2.aruco.DICT_APRILTAG_36h11
# Long sides of the picture in which markers are looked for, one after the other until some are found: the first
# is quick and good down to 40 px squares, the second mends a blurred picture, the third is for small ones.
_DECODE_AT_PX = (1600, 800, 2800)
_SMALLEST = 0.02  # perimeter of a marker over the long side
# The decoder compares every four-cornered shape with every other; a chessboard of thousands would take minutes.
_MOST_SHAPES = 300
_WINDOW_PX, _DARKER = 23, 7  # a dark shape is this much darker than its neighbourhood


@dataclass(frozen=True, slots=True, eq=False)
class PrintedFit:
    """One marker. number: its id in the family. fit: the outer edge of its black border."""

    number: int
    fit: QuadFit


def find_printed(pixels: NDArray[Any]) -> list[PrintedFit]:
    """Every marker of the family in the picture, corner 0 being the marker's own first corner.

    pixels: (h, w, 3) sRGB.
    """
    found: dict[int, PrintedFit] = {}
    longest = max(pixels.shape[:2])
    for factor in sorted(
        {min(1.0, size / longest) for size in _DECODE_AT_PX}, key=lambda f: abs(f * longest - 1600)
    ):
        for number, corners in _decode(pixels, factor):
            if number in found:
                continue
            side = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T).min()
            fit = fit_quad(pixels, corners, search_px=min(3.0 + 1.5 / factor, side / MODULES_ACROSS * 0.45))
            if fit is not None:
                found[number] = PrintedFit(number, fit)
        if found:
            break
    return list(found.values())


def _decode(pixels: NDArray[Any], factor: float) -> list[tuple[int, Array]]:
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    if factor < 1:
        grey = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    if _four_cornered(grey) > _MOST_SHAPES:
        return []
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.minMarkerPerimeterRate = _SMALLEST
    settings.adaptiveThreshWinSizeMax = 53
    settings.adaptiveThreshWinSizeStep = 15
    family = cv2.aruco.getPredefinedDictionary(FAMILY)
    corners, numbers, _ = cv2.aruco.ArucoDetector(family, settings).detectMarkers(grey)
    if numbers is None:
        return []
    # A pixel's centre is at whole numbers in both pictures: (x + 1/2) / factor - 1/2.
    return [
        (int(number), (np.asarray(quad, dtype=np.float64).reshape(4, 2) + 0.5) / factor - 0.5)
        for number, quad in zip(np.ravel(numbers), corners, strict=True)
    ]


def _four_cornered(grey: Array) -> int:
    """How many dark shapes with four corners there are, large enough to be a marker."""
    dark = cv2.adaptiveThreshold(
        grey, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY_INV, _WINDOW_PX, _DARKER
    )
    contours, _ = cv2.findContours(dark, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    least = _SMALLEST * max(grey.shape)
    rough = [cv2.approxPolyDP(c, 0.03 * len(c), True) for c in contours if len(c) >= least]
    return sum(len(corners) == 4 and cv2.isContourConvex(corners) for corners in rough)

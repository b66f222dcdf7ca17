"""Printed reference squares: markers in a white margin, whose numbers say how long their sides are.

Squares are printed with numbers of AprilTag family 36h10: 8 x side + copy, the side in whole mm and the copy 0
to 3, or the side in eighths of an inch and the copy 4 to 7. Those printed by earlier versions are of family
36h11, whose numbers say nothing: they are found as before, and their side must be told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.scale.finders.found import MODULES_ACROSS, FoundSquares, PrintedFit
from salvage.scale.finders.sight import SquareSight
from salvage.scale.seeing.corners import fit_quad
from salvage.units import MM_PER_INCH

Array = NDArray[Any]

CODED, EARLIER = cv2.aruco.DICT_APRILTAG_36h10, cv2.aruco.DICT_APRILTAG_36h11
# Shares of the bits that could be mended which are. No code of one family is nearer than 4 bits to one of the other:
# one wrong bit mended leaves a marker of the other family what it is.
_MENDED = {CODED: 0.25, EARLIER: 0.6}
COPIES = 4  # of one side that can be told apart
_HIGHEST = 2319  # number in the family 36h10
_EIGHTH = MM_PER_INCH / 8
# Long sides of the picture in which markers are looked for, one after the other until some are found: the first
# is quick and good down to 40 px squares, the second mends a blurred picture, the third is for small ones.
_DECODE_AT_PX = (1600, 800, 2800)
# Perimeter of the smallest marker over the long side; larger ones where the picture is full of shapes so small.
_SMALLEST = (0.02, 0.05, 0.1, 0.2)
# The decoder compares every four-cornered shape with every other; a chessboard of thousands would take minutes.
_MOST_SHAPES = 300
_WINDOW_PX, _DARKER = 23, 7  # a dark shape is this much darker than its neighbourhood


def find(sight: SquareSight, found: FoundSquares) -> FoundSquares:
    """Markers, or those that are pointed at."""
    if not sight.printed:
        return found
    marks = find_printed(sight.pixels, sight.pointed_at)
    meant = [m for m in marks if not sight.pointed_at or any(m.holds(at) for at in sight.pointed_at)]
    return replace(found, printed=(*found.printed, *meant))


def number_of(side: float, copy: int = 0) -> int | None:
    """The number of a square of this side, mm; None where there is none. copy: 0 to 3, else ValueError."""
    if not 0 <= copy < COPIES:
        raise ValueError(f"there is no copy {copy}")
    for unit, first in ((1.0, 0), (_EIGHTH, COPIES)):
        count = round(side / unit)
        number = 2 * COPIES * count + first + copy
        if count > 0 and number <= _HIGHEST and abs(count * unit - side) < 1e-6:
            return number
    return None


def side_of(number: int) -> float:
    """The side, mm, of the square that bears a number of the family 36h10."""
    count, copy = divmod(number, 2 * COPIES)
    return count * (1.0 if copy < COPIES else _EIGHTH)


def find_printed(pixels: NDArray[Any], pointed_at: Sequence[tuple[float, float]] = ()) -> list[PrintedFit]:
    """Every marker in the picture, corner 0 being the marker's own first corner.

    pixels: (h, w, 3) sRGB. pointed_at: places where a person says that there is a square: it is looked for
    in every size of the picture until each has one.
    """
    found: list[PrintedFit] = []
    longest = max(pixels.shape[:2])
    for factor in sorted(
        {min(1.0, size / longest) for size in _DECODE_AT_PX}, key=lambda f: abs(f * longest - 1600)
    ):
        for family, number, corners in _decode(pixels, factor):
            middle = corners.mean(axis=0)
            if any(each.holds((float(middle[0]), float(middle[1]))) for each in found):
                continue
            side = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T).min()
            fit = fit_quad(pixels, corners, search_px=min(3.0 + 1.5 / factor, side / MODULES_ACROSS * 0.45))
            if fit is not None:
                found.append(PrintedFit(number, fit, side_of(number) if family == CODED else None))
        if found and all(any(each.holds(point) for each in found) for point in pointed_at):
            break
    return found


def _decode(pixels: NDArray[Any], factor: float) -> list[tuple[int, int, Array]]:
    """(family, number, (4, 2) corners) of what a picture reduced by this factor shows, coded ones first."""
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    if factor < 1:
        grey = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.minMarkerPerimeterRate = _smallest(grey)
    settings.adaptiveThreshWinSizeMax = 53
    settings.adaptiveThreshWinSizeStep = 15
    settings.errorCorrectionRate = 1.0  # each family has its own share, see _MENDED
    families = [cv2.aruco.getPredefinedDictionary(family) for family in _MENDED]
    for family, mended in zip(families, _MENDED.values(), strict=True):
        family.maxCorrectionBits = int(family.maxCorrectionBits * mended)
    detector = cv2.aruco.ArucoDetector(families, settings)
    corners, numbers, _, of = detector.detectMarkersMultiDict(grey)  # shapes are looked for once for both
    if numbers is None:
        return []
    found = []
    for number, quad, index in zip(np.ravel(numbers), corners, np.ravel(of), strict=True):
        # A pixel's centre is at whole numbers in both pictures: (x + 1/2) / factor - 1/2.
        place = (np.asarray(quad, dtype=np.float64).reshape(4, 2) + 0.5) / factor - 0.5
        found.append(([*_MENDED][int(index)], int(number), place))
    return sorted(found, key=lambda each: [*_MENDED].index(each[0]))


def _smallest(grey: Array) -> float:
    """The size from which markers are looked for: the smallest one with not too many shapes to compare."""
    dark = cv2.adaptiveThreshold(
        grey, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY_INV, _WINDOW_PX, _DARKER
    )
    contours, _ = cv2.findContours(dark, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    rough = [
        (len(c), cv2.approxPolyDP(c, 0.03 * len(c), True))
        for c in contours
        if len(c) >= _SMALLEST[0] * max(grey.shape)
    ]
    sizes = np.array([size for size, ring in rough if len(ring) == 4 and cv2.isContourConvex(ring)])
    for least in _SMALLEST:
        if np.count_nonzero(sizes >= least * max(grey.shape)) <= _MOST_SHAPES:
            break
    return least

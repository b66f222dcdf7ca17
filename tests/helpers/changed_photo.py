"""Photographs changed in ways that must not change what is said of them, and the way back for what is said.

A change is a picture made anew and an affine matrix (2, 3) from places of the one before to places of the new one.
Places count from the corner of the top left pixel, x right and y down, so that pixel (i, j) covers [i, i + 1) x [j, j + 1).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LinearRing, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.shapes import polygons_of

Picture = NDArray[np.uint8]
Matrix = NDArray[np.float64]
CORNER = 0.5  # px from the corner of the top left pixel to its centre
_SAME = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
_FLOOR_PERCENT, _CLOSE_PERCENT = 5.0, 4.0  # of the picture's longer side; of the garment's
_NOISE_PX, _NOISE_RUN_PX = 2.0, 6.0  # standard deviation of an outline's noise, and along what it holds


@dataclass(frozen=True)
class Changed:
    """A photograph after a change. to_new: see the module. outline: the garment's, in the new picture's places."""

    picture: Picture
    to_new: Matrix
    outline: BaseGeometry

    @property
    def larger(self) -> float:
        """New pixels to one of before, along a line."""
        return float(np.sqrt(abs(np.linalg.det(self.to_new[:, :2]))))

    def back(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape of the new picture where it lies in the one before."""
        return shapely.transform(shape, lambda points: moved(points, inverse(self.to_new)))


def moved(points: NDArray[np.float64], matrix: Matrix) -> NDArray[np.float64]:
    """(n, 2) places taken along."""
    return np.asarray(points, float) @ matrix[:, :2].T + matrix[:, 2]


def inverse(matrix: Matrix) -> Matrix:
    return np.asarray(cv2.invertAffineTransform(matrix), float)


def _moved(picture: Picture, outline: BaseGeometry, matrix: Matrix, size: tuple[int, int]) -> Changed:
    """The picture drawn anew at (width, height), what lies beyond its frame mirrored."""
    centre = matrix.copy()  # OpenCV counts from pixels' centres
    centre[:, 2] += matrix[:, :2] @ [CORNER, CORNER] - CORNER
    seen = cv2.warpAffine(picture, centre, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101)
    return Changed(np.asarray(seen, np.uint8), matrix, shapely.transform(outline, lambda p: moved(p, matrix)))


def unchanged(picture: Picture, outline: BaseGeometry) -> Changed:
    return Changed(picture, _SAME, outline)


def mirrored(picture: Picture, outline: BaseGeometry) -> Changed:
    matrix = np.array([[-1.0, 0.0, picture.shape[1]], [0.0, 1.0, 0.0]])
    seen = np.ascontiguousarray(picture[:, ::-1])
    return Changed(seen, matrix, shapely.transform(outline, lambda p: moved(p, matrix)))


def turned(degrees: float) -> Callable[[Picture, BaseGeometry], Changed]:
    """Turned counter-clockwise, in a frame so large that nothing is lost."""

    def change(picture: Picture, outline: BaseGeometry) -> Changed:
        height, width = picture.shape[:2]
        turn = np.radians(degrees)
        cos, sin = np.round([np.cos(turn), np.sin(turn)], 12)
        wide, high = (round(abs(a * cos) + abs(b * sin)) for a, b in ((width, height), (height, width)))
        linear = np.array([[cos, sin], [-sin, cos]])  # y runs down
        move = np.array([wide, high]) / 2 - linear @ [width / 2, height / 2]
        return _moved(picture, outline, np.column_stack([linear, move]), (wide, high))

    return change


def halved(picture: Picture, outline: BaseGeometry) -> Changed:
    height, width = picture.shape[:2]
    seen = cv2.resize(picture, (width // 2, height // 2), interpolation=cv2.INTER_AREA)
    matrix = np.array([[(width // 2) / width, 0.0, 0.0], [0.0, (height // 2) / height, 0.0]])
    return Changed(np.asarray(seen, np.uint8), matrix, shapely.transform(outline, lambda p: moved(p, matrix)))


def jpeg(quality: int) -> Callable[[Picture, BaseGeometry], Changed]:
    def change(picture: Picture, outline: BaseGeometry) -> Changed:
        _, packed = cv2.imencode(".jpg", picture[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
        seen = np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR), np.uint8)
        return Changed(np.ascontiguousarray(seen[:, :, ::-1]), _SAME, outline)

    return change


def lit(red: float, green: float, blue: float) -> Callable[[Picture, BaseGeometry], Changed]:
    """So much of each colour's light, in the picture's own (sRGB) values."""

    def change(picture: Picture, outline: BaseGeometry) -> Changed:
        seen = np.clip(np.round(picture * np.array([red, green, blue])), 0, 255).astype(np.uint8)
        return Changed(seen, _SAME, outline)

    return change


def more_floor(picture: Picture, outline: BaseGeometry) -> Changed:
    wide = round(_FLOOR_PERCENT / 100 * max(picture.shape[:2]))
    seen = cv2.copyMakeBorder(picture, wide, wide, wide, wide, cv2.BORDER_REFLECT_101)
    matrix = np.array([[1.0, 0.0, wide], [0.0, 1.0, wide]])
    return Changed(np.asarray(seen, np.uint8), matrix, affinity.translate(outline, wide, wide))


def closer(picture: Picture, outline: BaseGeometry) -> Changed:
    """Cropped to a narrow strip of floor round the garment."""
    left, top, right, bottom = outline.bounds
    strip = _CLOSE_PERCENT / 100 * max(right - left, bottom - top)
    first = [max(0, int(left - strip)), max(0, int(top - strip))]
    last = [
        min(picture.shape[1], int(np.ceil(right + strip))),
        min(picture.shape[0], int(np.ceil(bottom + strip))),
    ]
    seen = np.ascontiguousarray(picture[first[1] : last[1], first[0] : last[0]])
    matrix = np.array([[1.0, 0.0, -first[0]], [0.0, 1.0, -first[1]]])
    return Changed(seen, matrix, affinity.translate(outline, -first[0], -first[1]))


def outline_off(picture: Picture, outline: BaseGeometry) -> Changed:
    """The outline as a shaky hand would give it; the picture as it was."""
    dice = np.random.default_rng(7)

    def shaken(ring: LinearRing) -> NDArray[np.float64]:
        points = np.asarray(ring.segmentize(_NOISE_RUN_PX).coords)[:-1]
        return points + dice.normal(0.0, _NOISE_PX, points.shape)

    rough = [
        Polygon(shaken(each.exterior), [shaken(hole) for hole in each.interiors]).buffer(0)
        for each in polygons_of(outline)
    ]
    return replace(unchanged(picture, outline), outline=shapely.union_all(rough))


CHANGES: dict[str, Callable[[Picture, BaseGeometry], Changed]] = {
    "as it is": unchanged,
    "mirrored": mirrored,
    "turned 90": turned(90.0),
    "turned 180": turned(180.0),
    "turned 7": turned(7.0),
    "half the size": halved,
    "JPEG 60": jpeg(60),
    "15 % darker": lit(0.85, 0.85, 0.85),
    "15 % brighter": lit(1.15, 1.15, 1.15),
    "warm light": lit(1.08, 1.0, 0.84),
    "more floor": more_floor,
    "closer": closer,
    "outline off 2 px": outline_off,
}

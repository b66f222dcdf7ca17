"""The photograph laid flat: a picture of the plane at a fixed step, in CIELAB, with the cloth's mask."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from functools import cached_property
from threading import Lock
from typing import Any, Protocol, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.shapes import polygons_of

T = TypeVar("T")

_BORDER = 24.0  # mm of floor kept round the cloth
_GRID_STEP = 16  # flat pixels between points mapped exactly; the mapping is smooth between them


class ToPixels(Protocol):
    """What this room needs of a Plane."""

    def to_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]: ...


@dataclass(frozen=True, eq=False)  # no slots: what is worked out once is kept
class Flat:
    """A flat picture of the cloth. Row 0 is its top; x right and y up in mm.

    rgb: (h, w, 3) uint8. mask: (h, w) bool, cloth. step: mm between pixels.
    left, top: mm, where the centre of pixel (0, 0) lies. photo_step: mm of a pixel of the photograph, 0 if not known.
    """

    rgb: NDArray[np.uint8]
    mask: NDArray[np.bool_]
    step: float
    left: float
    top: float
    photo_step: float = 0.0
    _kept: dict[Callable[..., Any], Future[Any]] = field(default_factory=dict, repr=False)
    _one_at_a_time: Lock = field(default_factory=Lock, repr=False)

    def once(self, work: Callable[[Flat], T]) -> T:
        """What some work makes of this picture, done once: whoever asks while it is under way waits for it."""
        with self._one_at_a_time:
            mine = work not in self._kept
            answer: Future[T] = self._kept.setdefault(work, Future())
        if mine:
            try:
                answer.set_result(work(self))
            except BaseException as error:
                answer.set_exception(error)
        return answer.result()

    def to_flat_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) mm to (n, 2) flat pixels (column, row)."""
        points = np.asarray(points_mm, float)
        return np.stack([(points[:, 0] - self.left) / self.step, (self.top - points[:, 1]) / self.step], 1)

    def to_mm(self, points_flat_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) flat pixels (column, row) to (n, 2) mm."""
        points = np.asarray(points_flat_px, float)
        return np.stack([self.left + points[:, 0] * self.step, self.top - points[:, 1] * self.step], 1)

    @cached_property
    def lab(self) -> NDArray[np.float32]:
        """(h, w, 3) CIELAB, L from 0 to 100. Not to be written into."""
        return np.asarray(cv2.cvtColor(self.rgb.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB), np.float32)

    @cached_property
    def depth_px(self) -> NDArray[np.float32]:
        """(h, w) flat pixels from each one of the cloth to the nearest that is none. Not to be written into."""
        mask = self.mask.astype(np.uint8)
        return np.asarray(cv2.distanceTransform(mask, cv2.DIST_L2, cv2.DIST_MASK_PRECISE), np.float32)

    def raster(self, shape: BaseGeometry, every: int = 1) -> NDArray[np.bool_]:
        """Pixels whose centre lies in the polygons; every: of each such number of pixels."""
        height, width = (-(-n // every) for n in self.mask.shape)
        return rasterise(shape, (height, width), self.step * every, self.left, self.top)


def rasterise(
    shape: BaseGeometry, size_px: tuple[int, int], step: float, left: float, top: float
) -> NDArray[np.bool_]:
    """(h, w) mask of the polygons in shape."""
    canvas = np.zeros(size_px, np.uint8)
    for polygon in polygons_of(shape):
        for ring, value in ((polygon.exterior, 1), *((hole, 0) for hole in polygon.interiors)):
            points = np.asarray(ring.coords)[:, :2]
            flat = np.stack([(points[:, 0] - left) / step, (top - points[:, 1]) / step], 1)
            cv2.fillPoly(canvas, [np.round(flat * 16).astype(np.int32)], value, cv2.LINE_8, 4)
    return canvas.astype(bool)


def flatten(pixels: NDArray[np.uint8], plane: ToPixels, cloth: MultiPolygon | Polygon, step: float) -> Flat:
    """The photograph round the cloth (mm) as seen from straight above.

    Where a flat pixel covers several photo pixels, the photo is first averaged down, so that weave
    and noise don't alias.
    """
    left, low, right, top = cloth.bounds
    left, low, right, top = left - _BORDER, low - _BORDER, right + _BORDER, top + _BORDER
    width, height = int(np.ceil((right - left) / step)) + 1, int(np.ceil((top - low) / step)) + 1
    columns = np.append(np.arange(0, width - 1, _GRID_STEP), width - 1)
    rows = np.append(np.arange(0, height - 1, _GRID_STEP), height - 1)
    across, down = np.meshgrid(columns, rows)
    points = np.stack([left + across.ravel() * step, top - down.ravel() * step], 1)
    coarse = np.asarray(plane.to_px(points)).reshape(len(rows), len(columns), 2).astype(np.float32)
    maps = _between(coarse, columns, rows, width, height)
    photo_px = _photo_px(coarse, columns, rows)
    smooth = _averaged(pixels, photo_px)
    seen = cv2.remap(smooth, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    mask = rasterise(cloth, (height, width), step, left, top)
    return Flat(np.asarray(seen, np.uint8), mask, step, left, top, step / max(photo_px, 1e-9))


def _between(
    coarse: NDArray[np.float32], columns: NDArray[np.int64], rows: NDArray[np.int64], width: int, height: int
) -> NDArray[np.float32]:
    """Bilinear between the exactly mapped points."""
    at_column = np.interp(np.arange(width), columns, np.arange(len(columns))).astype(np.float32)
    at_row = np.interp(np.arange(height), rows, np.arange(len(rows))).astype(np.float32)
    across, down = np.meshgrid(at_column, at_row)
    found = cv2.remap(coarse, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(found, np.float32)


def _photo_px(coarse: NDArray[np.float32], columns: NDArray[np.int64], rows: NDArray[np.int64]) -> float:
    """Photo pixels to a flat pixel, about the middle."""
    beside = np.linalg.norm(np.diff(coarse, axis=1), axis=2) / np.diff(columns)[None, :]
    below = np.linalg.norm(np.diff(coarse, axis=0), axis=2) / np.diff(rows)[:, None]
    return float(np.median(np.concatenate([beside.ravel(), below.ravel()])))


def _averaged(pixels: NDArray[np.uint8], photo_px: float) -> NDArray[np.uint8]:
    """The photo blurred to about one flat pixel, where a flat pixel is larger than a photo pixel."""
    if photo_px <= 1.2:
        return pixels
    sigma = 0.35 * np.sqrt(photo_px**2 - 1.0)
    return np.asarray(cv2.GaussianBlur(pixels, (0, 0), float(sigma)), np.uint8)

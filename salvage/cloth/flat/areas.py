"""Areas out of a map of chances: closures, pockets, worn places."""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from shapely import minimum_rotated_rectangle, union_all
from shapely.geometry import Polygon
from skimage.filters import apply_hysteresis_threshold

from salvage.cloth.flat.picture import Flat
from salvage.shapes import polygons_of

Map = NDArray[np.float32]


def find_areas(
    chance: Map, flat: Flat, every: int, low: float, high: float, smallest: float
) -> list[tuple[Polygon, float]]:
    """Areas in mm where the chance stays above low and reaches high, each with its mean chance.

    chance: one pixel for `every` flat pixels. smallest: mm^2.
    """
    strong = ndimage.binary_fill_holes(apply_hysteresis_threshold(chance, low, high))
    return [
        (shape, float(np.clip(chance[inside].mean(), 0, 1)))
        for shape, inside in outlined(strong, flat, every)
        if shape.area >= smallest
    ]


def outlined(
    found: NDArray[np.bool_], flat: Flat, every: int
) -> list[tuple[Polygon, tuple[NDArray[np.intp], ...]]]:
    """Outlines in mm of the connected areas of a mask, holes filled, and the pixels of each."""
    half = 0.5 * every * flat.step
    return [
        (shape.simplify(0.4 * flat.step), inside)
        for shape, inside in ringed(found, lambda ring: flat.to_mm(ring * every), half)
    ]


def ringed(
    found: NDArray[np.bool_], to_mm: Callable[[NDArray[np.float64]], NDArray[np.float64]], half: float
) -> list[tuple[Polygon, tuple[NDArray[np.intp], ...]]]:
    """The same on any grid: to_mm takes its pixels (column, row) to mm; half: mm, half a pixel."""
    labels, _ = ndimage.label(found, np.ones((3, 3)))
    result: list[tuple[Polygon, tuple[NDArray[np.intp], ...]]] = []
    for label, box in enumerate(ndimage.find_objects(labels), 1):
        part = np.pad((labels[box] == label).astype(np.uint8), 1)
        contours, _ = cv2.findContours(part, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        ring = max(contours, key=len)[:, 0, :].astype(float) - 1
        ring = ring + np.array([box[1].start, box[0].start])
        points = to_mm(ring if len(ring) >= 3 else np.repeat(ring, 3, axis=0))
        shape = Polygon(points).buffer(half, join_style="mitre")
        pixels = np.nonzero(part[1:-1, 1:-1])
        inside = (pixels[0] + box[0].start, pixels[1] + box[1].start)
        result += [(each, inside) for each in polygons_of(shape)[:1]]
    return result


def together(shapes: list[Polygon]) -> list[tuple[Polygon, list[int]]]:
    """Polygons that overlap or touch made one, each with the places in the list of what it is made of."""
    return [
        (whole, [k for k, each in enumerate(shapes) if each.intersects(whole)])
        for whole in polygons_of(union_all(shapes))
    ]


def sides(shape: Polygon) -> tuple[float, float]:
    """Length and width in mm of the smallest box round the shape."""
    box = minimum_rotated_rectangle(shape)
    if not isinstance(box, Polygon):
        return box.length, 0.0
    corners = np.asarray(box.exterior.coords)
    edges = np.linalg.norm(np.diff(corners[:3], axis=0), axis=1)
    return float(edges.max()), float(edges.min())

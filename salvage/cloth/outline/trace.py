"""From a picture of chances to polygons."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Point, Polygon
from shapely.geometry.polygon import orient

from salvage.cloth.outline.colour import Array

SHORTEST = 24  # steps of a ring worth following
SMALLEST_PIECE = 0.12  # of the largest piece's area; what is smaller is a speck, a label or a shoe
SMALLEST_HOLE = 0.0006  # of the piece's area
TOLERANCE_PX = 0.35  # how far the polygon may leave the traced line


def level_rings(chance: Array, size: tuple[int, int]) -> list[NDArray[np.float64]]:
    """Closed lines where the chance of cloth is one half.

    chance: (h, w) in 0..1 over the whole picture, at any size. size: (width, height) of the picture whose
    pixels the lines are in.
    """
    from skimage.measure import find_contours

    height, width = chance.shape
    # A rim of floor closes the contours of cloth that runs out of the picture.
    rim = np.pad(chance.astype(np.float32), 1, constant_values=0.0)
    rings = []
    for line in find_contours(rim, 0.5):
        if len(line) >= SHORTEST:
            at = np.clip(line[:, ::-1] - 1, -0.5, [width - 0.5, height - 0.5])
            rings.append((at + 0.5) * (np.array(size) / (width, height)) - 0.5)
    return rings


def assemble(
    rings: Sequence[NDArray[np.float64]], cloth_at: Sequence[tuple[float, float]] = ()
) -> MultiPolygon:
    """Closed rings, outer and inner in any order, as polygons with holes; specks dropped."""
    shapes = [Polygon(ring).buffer(0) for ring in rings]
    shapes = sorted((s for s in shapes if s.area > 0), key=lambda s: -s.area)
    cloth = Polygon()
    for shape in shapes:  # even-odd from the largest inwards
        cloth = cloth.symmetric_difference(shape)
    parts = [p for p in getattr(cloth, "geoms", [cloth]) if isinstance(p, Polygon) and p.area > 0]
    if not parts:
        return MultiPolygon()
    largest = max(p.area for p in parts)
    kept = []
    for part in parts:
        told = any(part.distance(Point(at)) < 1 for at in cloth_at)
        if part.area < SMALLEST_PIECE * largest and not told:
            continue
        holes = [h for h in part.interiors if Polygon(h).area > SMALLEST_HOLE * part.area]
        whole = Polygon(part.exterior, holes).simplify(TOLERANCE_PX)
        if isinstance(whole, Polygon) and whole.is_valid and not whole.is_empty:
            kept.append(orient(whole))
    kept.sort(key=lambda p: -p.area)
    return MultiPolygon(kept)


def paint(shape: MultiPolygon, size: tuple[int, int], photo_size: tuple[int, int]) -> Array:
    """The polygons as a mask (0 or 255) of another size; sizes are (width, height)."""
    mask = np.zeros((size[1], size[0]), np.uint8)
    factor = np.array(size, float) / np.array(photo_size, float)
    for part in shape.geoms:
        rings = [part.exterior, *part.interiors]
        lines = [np.round(((np.asarray(r.coords) + 0.5) * factor - 0.5) * 16).astype(np.int32) for r in rings]
        cv2.fillPoly(mask, lines, 255, shift=4)
    return mask

"""Holes in an outline through which no floor is seen: dark bands, linings and stains that are cloth after all."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Point, Polygon

from salvage.cloth.outline.alike import ALIKE_PX, count_sides, shows_floor
from salvage.cloth.outline.colour import Array, shrink, to_grid
from salvage.cloth.outline.refine import Ring
from salvage.cloth.outline.trace import paint

SAME = 0.7  # overlap of a ring with a hole that makes them one


def true_rings(
    pixels: Array,
    rings: Sequence[Ring],
    shape: MultiPolygon,
    references_px: Sequence[NDArray[np.float64]] = (),
    floor_at: Sequence[tuple[float, float]] = (),
) -> list[Ring]:
    """The rings without those round holes that look like the cloth or like nothing on the floor.

    shape: assembled from the rings, in the pixels of the picture. A hole a person says is floor stays.
    """
    holes = [Polygon(ring) for part in shape.geoms for ring in part.interiors]
    holes = [h for h in holes if not any(h.contains(Point(at)) for at in floor_at)]
    if not holes:
        return list(rings)
    full = (pixels.shape[1], pixels.shape[0])
    small = shrink(pixels, ALIKE_PX)
    size = (small.shape[1], small.shape[0])
    inside = paint(shape, size, full) > 0
    filled = MultiPolygon([Polygon(part.exterior) for part in shape.geoms])
    outside = paint(filled, size, full) == 0
    for corners in references_px:
        square = np.zeros(outside.shape, np.uint8)
        cv2.fillPoly(square, [np.round(to_grid(corners, full, size)).astype(np.int32)], 1)
        outside &= square == 0
    sides = count_sides(small, inside, outside)
    false = [h for h in holes if not shows_floor(sides, paint(MultiPolygon([h]), size, full) > 0)]

    def is_false(ring: Ring) -> bool:
        area = Polygon(ring.points).buffer(0)
        return any(area.intersection(h).area > SAME * area.union(h).area for h in false)

    return [ring for ring in rings if not is_false(ring)]

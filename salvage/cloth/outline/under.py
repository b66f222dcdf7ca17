"""What of the cloth that was found may be what the garment lies on: a sheet, a blanket, a carpet of nearly its colour.

Cloth called usable that is floor is the worse mistake, so the looks at the outline are asked together: the network's chance
made sharp by the colours, what colours by themselves, started from the frame of the picture, take for floor, whether
the network sees an outline just there (then the doubt is the edge's own), and how far within the cloth it lies. What each
is worth was fitted on drawn garments on sheets nearly of their colour (fixtures/train/fit_under.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Point, Polygon

from salvage.cloth.outline.colour import Array, to_grid
from salvage.cloth.outline.local import logit
from salvage.cloth.outline.trace import paint
from salvage.shapes import polygons_of

WORK_PX = 400  # long side at which it is looked for
# Of 1, and of what `terms` tells of a pixel, in its order; and the sum from which it may be floor. On 94 drawn scenes, each
# judged by a fit on others, that is 0.85 of the sheet taken for cloth, with 5.2 % of the cloth.
FACTORS = (4.03, -1.743, -2.192, -4.161, 0.854)
LEAST = 0.5
NARROW_PX = 5  # what is narrower (15 mm on a garment that fills the picture) is the edge's own plus-minus
AT_EDGE_PX = 4  # how near the outline it must come: well within the cloth it is a stain or a pocket
SMALLEST = 0.0025  # of the long side squared: 5 x 5 cm where that is a metre. Smaller places are no piece of cloth anyway


@dataclass(frozen=True, slots=True, eq=False)
class FloorLooks:
    """Looks at the whole photograph, each of any size.

    near: chance of cloth by network and colours. by_frame: cloth by colours alone. edge: chance that the network sees the
    outline pass.
    """

    near: Array
    by_frame: Array
    edge: Array


def may_be_floor(
    seen: FloorLooks,
    shape: MultiPolygon,
    full: tuple[int, int],
    *,
    cloth_at: Sequence[tuple[float, float]] = (),
) -> MultiPolygon:
    """Areas within an outline that may be floor, in pixels of the photograph.

    shape: the outline. full: width and height of the photograph. cloth_at: pixels that a person says are cloth.
    """
    factor = WORK_PX / max(full)
    size = (max(8, round(full[0] * factor)), max(8, round(full[1] * factor)))
    cloth = (paint(shape, size, full) > 0).astype(np.uint8)
    total = FACTORS[0] + sum(
        weight * term for weight, term in zip(FACTORS[1:], terms(seen, cloth), strict=True)
    )
    unsure = ((total >= LEAST) & (cloth > 0)).astype(np.uint8)
    round_ = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (NARROW_PX, NARROW_PX))
    unsure = np.asarray(cv2.morphologyEx(unsure, cv2.MORPH_OPEN, round_), np.uint8)
    edge = shape.boundary.buffer(AT_EDGE_PX / factor)
    found: list[Polygon] = []
    for ring in cv2.findContours(unsure, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]:
        if len(ring) < 3 or cv2.contourArea(ring) < SMALLEST * WORK_PX**2:
            continue
        area = Polygon(to_grid(ring[:, 0].astype(float), size, full)).buffer(0.5 / factor).intersection(shape)
        if area.intersects(edge):
            found += [
                each for each in polygons_of(area) if not any(each.covers(Point(at)) for at in cloth_at)
            ]
    return MultiPolygon(found)


def terms(seen: FloorLooks, cloth: Array) -> list[NDArray[np.float32]]:
    """What FACTORS are of, after the first, for every pixel. cloth: (h, w), 1 within the outline, the long side WORK_PX."""
    size = (cloth.shape[1], cloth.shape[0])
    near, by_frame, edge = (
        np.asarray(cv2.resize(each.astype(np.float32), size), np.float32)
        for each in (seen.near, seen.by_frame, seen.edge)
    )
    depth = np.asarray(cv2.distanceTransform(cloth, cv2.DIST_L2, 5), np.float32)
    return [logit(near), by_frame, edge, np.log1p(depth)]

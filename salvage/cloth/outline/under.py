"""What of the cloth that was found may be what the garment lies on: a sheet, a blanket, a carpet of nearly its colour.

Cloth called usable that is floor is the worse mistake, so two looks that each know something else are asked again. The
network, believed a little less than it is, would leave it out; or colours by themselves, started from the frame of the
picture, take it for floor, and the network isn't sure of it either. Chosen on drawn garments on sheets (fixtures/train/sheets.py).
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from shapely.geometry import MultiPolygon, Point, Polygon

from salvage.cloth.outline.colour import Array, to_grid
from salvage.cloth.outline.trace import paint
from salvage.shapes import polygons_of

WORK_PX = 400  # long side at which it is looked for
# Chance of cloth, when the network is believed less, below which it may be floor; and where cloth and floor are of nearly one
# colour along most of the outline. On 92 drawn scenes the one asks about 0.66 of the sheet taken for cloth and 2 % of the cloth,
# the other about 0.9 and 7 %: there the cloth is the lesser loss.
FEW, FEW_FAINT = 0.5, 0.7
UNSURE = 0.97  # chance of cloth below which what colours alone take for floor may be floor
NARROW_PX = 5  # what is narrower (15 mm on a garment that fills the picture) is the edge's own plus-minus
AT_EDGE_PX, BOTH = (
    4,
    0.5,
)  # how near the outline it must come; else the share of it that both looks must take for floor
SMALLEST = 0.001  # of the long side squared: smaller places are left out


def may_be_floor(
    rough: Array,
    few: Array,
    by_frame: Array,
    shape: MultiPolygon,
    full: tuple[int, int],
    *,
    cloth_at: Sequence[tuple[float, float]] = (),
    faint: bool = False,
) -> MultiPolygon:
    """Areas within an outline that may be floor, in pixels of the photograph.

    rough: chance of cloth by the network. few: that when it is believed a little less. by_frame: cloth by colours alone. All
    three of the whole photograph, in any size. shape: the outline. full: width and height of the photograph. cloth_at:
    pixels that a person says are cloth. faint: cloth and floor are of nearly one colour.
    """
    factor = WORK_PX / max(full)
    size = (max(8, round(full[0] * factor)), max(8, round(full[1] * factor)))
    rough, few, by_frame = (cv2.resize(each.astype(np.float32), size) for each in (rough, few, by_frame))
    by_net, by_colours = few < (FEW_FAINT if faint else FEW), (by_frame < 0.5) & (rough < UNSURE)
    unsure = ((by_net | by_colours) & (paint(shape, size, full) > 0)).astype(np.uint8)
    round_ = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (NARROW_PX, NARROW_PX))
    unsure = np.asarray(cv2.morphologyEx(unsure, cv2.MORPH_OPEN, round_), np.uint8)
    edge = shape.boundary.buffer(AT_EDGE_PX / factor)
    found: list[Polygon] = []
    for ring in cv2.findContours(unsure, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]:
        if len(ring) < 3 or cv2.contourArea(ring) < SMALLEST * WORK_PX**2:
            continue
        inside = cv2.drawContours(np.zeros_like(unsure), [ring], -1, 1, -1) > 0
        area = Polygon(to_grid(ring[:, 0].astype(float), size, full)).buffer(0.5 / factor).intersection(shape)
        # Well within the cloth the network looks at a stain or a pocket; floor seen there both looks must see.
        if area.intersects(edge) or (by_net & by_colours)[inside].mean() > BOTH:
            found += [
                each for each in polygons_of(area) if not any(each.covers(Point(at)) for at in cloth_at)
            ]
    return MultiPolygon(found)

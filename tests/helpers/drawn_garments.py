"""Garments that the training's scripts draw, measured as photographs of 1 mm to the pixel with their outline given."""

from __future__ import annotations

from pathlib import Path

import cv2
import fixture_scripts  # noqa: F401 (finds the scripts below)
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from fixtures.train.garment_light import Drawing
from salvage.cloth.inside import Inside, find_pieces
from salvage.cloth.outline.find import Outline
from salvage.photo.photo import Photo
from salvage.shapes import polygons_of


class Drawn:
    """The plane of a drawing: 1 mm a pixel, x right and y up."""

    plus_minus_percent = 0.0

    def to_mm(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(points, float) * (1.0, -1.0)

    to_px = to_mm


def outline_of(mask: NDArray[np.bool_]) -> MultiPolygon:
    """The drawn outline in pixels, without holes."""
    rings = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]
    shapes = [Polygon(ring[:, 0].astype(float)).buffer(0.5) for ring in rings if cv2.contourArea(ring) > 2500]
    return MultiPolygon([part for shape in shapes for part in polygons_of(shape)])


def photo_of(drawing: Drawing) -> Photo:
    """The drawing as a photograph, a pixel to the mm."""
    return Photo(Path("drawn.jpg"), (np.clip(drawing.rgb, 0, 1) * 255).astype(np.uint8))


def inside_of(drawing: Drawing, outline: MultiPolygon | None = None) -> Inside:
    """What is found inside the drawn outline, or another."""
    cloth = outline_of(drawing.cloth) if outline is None else outline
    return find_pieces(photo_of(drawing), Drawn(), Outline(cloth, 1.0))

"""A small garment with a real camera in its record, for the tests of the page's room."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from shapely.geometry import LineString, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece, PiecePhoto, PlusMinus
from salvage.cloth.record.numbers import numbered
from salvage.scale.plane import Plane
from salvage.scale.solving.camera import Camera

PHOTO = "coat.jpg"
SIZE_PX = (1400, 1500)
# Looks down, tilted by 5 degrees, with a lens that bends; (0, 0) mm lies near the picture's lower left corner.
PLANE = Plane(
    Camera(1200.0, 0.05, 0.07, 1800.0, 699.5, 749.5, k1=-0.05),
    SIZE_PX,
    5.0,
    (-250.0, -330.0),
    np.eye(9) * 1e-8,
)
SHOT = PiecePhoto(PHOTO, 150.0, *PLANE.to_record(), content="c0ffee")
EXACT = PlusMinus(0.2, 1.0)


def px(*points_mm: tuple[float, float]) -> list[list[float]]:
    """Where points of the plane, mm, are seen: as a person would point at them in the picture."""
    return [[float(x), float(y)] for x, y in PLANE.to_px(points_mm)]


def _seam(*points: tuple[float, float], kind: BlockedKind = BlockedKind.SEAM, name: str = "") -> Blocked:
    return Blocked(kind, LineString(points), 6.0, what=str(kind), confidence=0.9, id=name)


COAT = numbered(
    Garment(
        "coat",
        (
            Piece(
                "back", box(0, 0, 300, 400), photo=SHOT, plus_minus=EXACT,
                blocked=(
                    _seam((300, 0), (300, 400), name="coat.jpg 1.1"),
                    _seam((0, 8), (300, 8), kind=BlockedKind.HEM, name="coat.jpg 1.2"),
                    Blocked(BlockedKind.WORN, box(200, 200, 240, 240), 3.0, what="stain", id="coat.jpg 1.3"),
                ),
            ),
            Piece(
                "side", box(300, 0, 400, 400), photo=SHOT, plus_minus=EXACT,
                blocked=(_seam((300, 0), (300, 400), name="coat.jpg 1.1"),),
            ),
            Piece("cuff", box(0, 450, 120, 500), photo=SHOT, plus_minus=EXACT),
        ),
    )
)  # fmt: skip


def draw_photo(path: Path) -> None:
    """The small garment as its camera would see it: pieces in cloth colours on a floor."""
    picture = np.full((SIZE_PX[1], SIZE_PX[0], 3), (122, 158, 184), np.uint8)
    for piece, colour in zip(COAT.pieces, ((110, 86, 60), (104, 80, 56), (96, 76, 70)), strict=True):
        outline = piece.outline.segmentize(20.0)
        cv2.fillPoly(
            picture, [np.round(PLANE.to_px(np.asarray(outline.exterior.coords))).astype(np.int32)], colour
        )
    cv2.imwrite(str(path), picture)

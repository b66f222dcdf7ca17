"""What part of the garment each piece is, as the look at the whole garment has it."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from shapely.geometry import Polygon

from salvage.cloth.flat.whole import PARTS, Whole

_SURE = 0.5  # mean chance over a piece from which its part is believed


def roles_of(pieces: Sequence[Polygon], whole: Whole) -> list[str]:
    """For each piece one of PARTS without its side ("sleeve", "body", "band" ...), "" where none is believed."""
    return [_role_of(piece, whole) for piece in pieces]


def _role_of(piece: Polygon, whole: Whole) -> str:
    inside = np.zeros(whole.parts.shape[1:], np.uint8)
    for ring, value in ((piece.exterior, 1), *((hole, 0) for hole in piece.interiors)):
        px = whole.to_grid_px(np.asarray(ring.coords)[:, :2])
        cv2.fillPoly(inside, [np.round(px * 16).astype(np.int32)], value, cv2.LINE_8, 4)
    if not inside.any():
        return ""
    chances: dict[str, float] = {}
    for name, chance in zip(PARTS, whole.parts[:, inside > 0].mean(1), strict=True):
        role = name.removesuffix("_left").removesuffix("_right")
        chances[role] = chances.get(role, 0.0) + float(chance)
    best = max(chances, key=chances.__getitem__)
    return best if chances[best] >= _SURE and best != "none" else ""

"""Small marks: flecks of paint, drops, specks and small holes, by what they differ from the cloth round them.

The network and the comparison of places look at cells of several mm and pass over what is smaller. A mark a few
mm across is seen where it stands out many times from how uneven the cloth is there. Many of them are a print.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from skimage.filters import apply_hysteresis_threshold

from salvage.cloth.flat.areas import outlined, sides
from salvage.cloth.flat.picture import Flat

_AROUND = 45  # mm, the side of the square whose middling colour the cloth has there
_SPECK = 3  # flat pixels: single ones are noise
_SOFT, _NEAR = 1.2, 20.0  # mm, a mark is averaged over, and how uneven the cloth is
_LEAST, _TIMES = (
    6.0,
    6.0,
)  # of CIELAB with L halved, and of how uneven the cloth is there, that a mark reaches
_MOST = 12.0  # unevenness counts up to this, so that marks themselves don't hide one another
_DOWN_TO = 0.5  # share of that which its edge reaches
_SIZE = (12.0, 900.0)  # mm^2
_LONG, _HULL = 3.0, 0.75  # longer for its width, or less of its hull, is a thread, a crease or a seam
# But a tear gapes: it may be so much longer where it fills so much of its hull and is so many mm wide; a thread is about 1 mm.
_TEAR_LONG, _TEAR_HULL, _TEAR_WIDE = 9.0, 0.85, 3.0
_FROM_OUTLINE = 12.0  # mm
_PRINT = 25  # so many are a print
_CONFIDENCE = 0.6  # about: they are seen, but a button or a bead may be taken for one


def find_flecks(flat: Flat, sound: NDArray[np.bool_]) -> list[tuple[Polygon, float]]:
    """Small marks in mm, each with a confidence. sound: (h, w), cloth without what is known already."""
    sound = sound & (flat.depth_px * flat.step > _FROM_OUTLINE)
    if not sound.any():
        return []
    size = flat.once(standing_out)
    weight = sound.astype(np.float32)
    counted = (np.minimum(size, _MOST) * weight).astype(np.float32)
    uneven = cv2.GaussianBlur(counted, (0, 0), _NEAR / flat.step) / np.maximum(
        cv2.GaussianBlur(weight, (0, 0), _NEAR / flat.step), 0.05
    )
    share = np.where(sound, size / np.maximum(_LEAST, _TIMES * uneven), 0.0)
    marks = [shape for shape, _ in outlined(apply_hysteresis_threshold(share, _DOWN_TO, 1.0), flat, 1)]
    found = [(shape, _CONFIDENCE) for shape in marks if _is_mark(shape)]
    return found if len(found) < _PRINT else []


def standing_out(flat: Flat) -> NDArray[np.float32]:
    """(h, w): how far each place, averaged a little, is from the middling colour of the cloth round it."""
    around = 2 * round(_AROUND / flat.step / 2) + 1
    differs = _lab(cv2.medianBlur(flat.rgb, _SPECK)) - _lab(cv2.medianBlur(flat.rgb, around))
    size = np.linalg.norm(cv2.GaussianBlur(differs, (0, 0), _SOFT / flat.step), axis=2)
    return np.asarray(size, np.float32)


def _lab(rgb: NDArray) -> NDArray[np.float32]:
    lab = cv2.cvtColor(np.asarray(rgb, np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    return np.asarray(lab * np.array([0.5, 1, 1], np.float32), np.float32)


def _is_mark(shape: Polygon) -> bool:
    long, short = sides(shape)
    filled = shape.area / shape.convex_hull.area
    spot = long < _LONG * max(short, 1.0) and filled > _HULL
    tear = long < _TEAR_LONG * short and filled > _TEAR_HULL and short >= _TEAR_WIDE
    return _SIZE[0] <= shape.area <= _SIZE[1] and (spot or tear)

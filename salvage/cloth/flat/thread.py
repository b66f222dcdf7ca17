"""Whether a thin line can be seen where a seam or a pocket's edge is thought to be.

Thread, a ditch or a turned edge is a line a few mm wide; a crease, a fold or a shadow changes the cloth's
lightness over a centimetre and more. Each stretch of the line is averaged along itself, which takes off the
weave, and compared with itself smoothed across.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import LineString

from salvage.cloth.flat.picture import Flat
from salvage.shapes import points_on

_STEP = 3.0  # mm between points along the line
_STRETCH = 10  # points averaged: a found line strays from the seam, so not too many
_ASIDE = 14  # mm looked at on each side
_SMOOTH = 3.5  # mm (standard deviation) across; what is left is thin
_CLEAR, _CLEAR_SHARE = 3.0, 0.075  # L by which a thin line is seen, or that share of a dark cloth's own L
_OVER = 4.0  # or times the unevenness of the cloth, in lightness or colour
_LEAST = 0.15  # of that unevenness: rounding

Map = NDArray[np.float32]


def is_drawn(line: LineString, lab: Map, flat: Flat, reach: int) -> bool:
    """Whether along most of a line in mm a thin line runs within `reach` mm.

    lab: (h, w, 3) CIELAB of the flat picture.
    """
    seen = _across(line, lab, flat, _ASIDE + reach)
    thin = seen - ndimage.gaussian_filter1d(seen, _SMOOTH, axis=1)
    count = max(1, len(thin) // _STRETCH)
    stretches = np.array([each.mean(axis=0) for each in np.array_split(thin, count)])
    middle = _ASIDE + reach
    height = np.median(np.abs(stretches[:, middle - reach : middle + reach + 1]).max(axis=1), axis=0)
    cloth = np.median(np.abs(stretches), axis=(0, 1))
    clear = min(_CLEAR, _CLEAR_SHARE * float(np.median(seen[..., 0])))
    return bool(height[0] >= clear or (height / (cloth + _LEAST)).max() >= _OVER)


def _across(line: LineString, lab: Map, flat: Flat, aside: int) -> Map:
    """(n, 2 aside + 1, 3) colours along lines across the line, 1 mm apart."""
    count = max(8, int(line.length / _STEP))
    at = np.linspace(0, line.length, count)
    points, before, after = (
        points_on(line, np.clip(at + aside_by, 0, line.length)) for aside_by in (0.0, -2.0, 2.0)
    )
    way = after - before
    way = way / (np.linalg.norm(way, axis=1, keepdims=True) + 1e-9)
    normal = np.stack([-way[:, 1], way[:, 0]], axis=1)
    offsets = np.arange(-aside, aside + 1)
    places = points[:, None] + offsets[None, :, None] * normal[:, None]
    column, row = flat.to_flat_px(places.reshape(-1, 2)).astype(np.float32).T
    shape = (count, len(offsets))
    seen = cv2.remap(lab, column.reshape(shape), row.reshape(shape), cv2.INTER_LINEAR)
    return np.asarray(seen, np.float32)

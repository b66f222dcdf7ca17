"""A photograph as the rest of the program sees it: upright pixels and what the camera wrote about itself."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

# Diagonal of the 24 x 36 mm frame, which the 35 mm equivalent is tied to (CIPA DCG-001, 2005).
DIAGONAL_35MM = math.hypot(24.0, 36.0)


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """An upright photograph.

    path: where it was read from.
    pixels: (height, width, 3) uint8, RGB, EXIF orientation applied, read-only.
    focal_35mm: 35 mm equivalent focal length of the whole sensor, from EXIF; None if it doesn't say.
    cropped: the picture is known to be a crop, so its centre need not be the lens's centre.
    """

    path: Path
    pixels: NDArray[np.uint8]
    focal_35mm: float | None = None
    cropped: bool = False

    @property
    def name(self) -> str:
        return self.path.name

    @property
    def width_px(self) -> int:
        return int(self.pixels.shape[1])

    @property
    def height_px(self) -> int:
        return int(self.pixels.shape[0])

"""A photograph as the rest of the program sees it: upright pixels and what the camera wrote about itself."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

# Diagonal of the 24 x 36 mm frame, which the 35 mm equivalent is tied to (CIPA DCG-001, 2005).
DIAGONAL_35MM = math.hypot(24.0, 36.0)


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """An upright photograph.

    path: where it was read from.
    pixels: (height, width, 3) uint8, RGB, EXIF orientation applied, read-only.
    reduced_by: so many pixels of the picture in the file along one of `pixels`: 1 but for very large pictures.
    focal_35mm: 35 mm equivalent focal length of the whole sensor, from EXIF; None if it doesn't say.
    cropped: the picture is known to be a crop, so its centre need not be the lens's centre.
    """

    path: Path
    pixels: NDArray[np.uint8]
    focal_35mm: float | None = None
    cropped: bool = False
    reduced_by: float = 1.0

    @property
    def name(self) -> str:
        return self.path.name

    @property
    def full_px(self) -> tuple[int, int]:
        """(width, height) of the picture in the file, upright. People point in its pixels and are shown them."""
        return round(self.width_px * self.reduced_by), round(self.height_px * self.reduced_by)

    def to_full(self, points: ArrayLike) -> NDArray[np.float64]:
        """(..., 2) places in `pixels`, as pixels of the picture in the file."""
        return (np.asarray(points, dtype=float) + 0.5) * self.reduced_by - 0.5

    def from_full(self, points: ArrayLike) -> NDArray[np.float64]:
        """(..., 2) pixels of the picture in the file, as places in `pixels`."""
        return (np.asarray(points, dtype=float) + 0.5) / self.reduced_by - 0.5

    @property
    def width_px(self) -> int:
        return int(self.pixels.shape[1])

    @property
    def height_px(self) -> int:
        return int(self.pixels.shape[0])

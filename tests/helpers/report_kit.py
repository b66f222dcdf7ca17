"""What tests of the report lay out by hand: a camera of a few lines of numpy, rectangles, and where they lie."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import affinity
from shapely.geometry import Polygon

from salvage.fit.answer import Placement


@dataclass(frozen=True)
class TiltedCamera:
    """A pinhole seen slightly from the side: a plain homography, millimetres to pixels, y down."""

    matrix = np.array([[1.05, 0.06, 60.0], [0.02, -0.98, 860.0], [2e-5, 6e-5, 1.0]])

    def to_px(self, points_mm: ArrayLike) -> NDArray[np.float64]:
        return self._through(self.matrix, points_mm)

    def to_mm(self, points_px: ArrayLike) -> NDArray[np.float64]:
        return self._through(np.linalg.inv(self.matrix), points_px)

    @staticmethod
    def _through(matrix: NDArray[np.float64], points: ArrayLike) -> NDArray[np.float64]:
        flat = np.asarray(points, dtype=float).reshape(-1, 2)
        lifted = np.column_stack([flat, np.ones(len(flat))]) @ matrix.T
        return lifted[:, :2] / lifted[:, 2:]


def rectangle(width: float, length: float) -> tuple[tuple[float, float], ...]:
    return ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length))


def placed(
    panel: str, copy: int, x: float, y: float, width: float, length: float, *, part: int | None = None,
    angle: float = 0.0, piece: str = "back", layer: int = 1, flipped: bool = False,
) -> Placement:  # fmt: skip
    shape = affinity.rotate(Polygon(rectangle(width, length)), angle, origin=(0, 0))
    left, bottom, *_ = shape.bounds
    shape = affinity.translate(shape, x - left, y - bottom)
    return Placement(panel, copy, part, 0, piece, layer, angle, flipped, shape)


MakeRectangle = Callable[[float, float], tuple[tuple[float, float], ...]]
Placed = Callable[..., Placement]

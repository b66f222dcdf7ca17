"""Corners of a reference to a fraction of a pixel: a curve fitted along each edge, corners where they meet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from salvage.scale.seeing.edges import Crop, EdgeFit, fit_in, point_at, tangent_at

Array = NDArray[Any]

# No fit is believed beyond this: what a printed or cut edge and a real lens leave.
LEAST_CORNER_SD_PX = 0.04
# Where less of an edge is there it isn't one.
_LEAST_SUPPORTED = 0.35


@dataclass(frozen=True, slots=True, eq=False)
class QuadFit:
    """A four-cornered thing with straight edges. corners_px: (4, 2); corner_sd_px: (4,)."""

    corners_px: Array
    corner_sd_px: Array
    edges: tuple[EdgeFit, ...]

    @property
    def supported(self) -> float:
        return min(edge.supported for edge in self.edges)


def counter_clockwise(corners_px: Array) -> Array:
    """The (4, 2) corners so that they go round counter-clockwise as seen on the picture (y down)."""
    x, y = corners_px[:, 0], corners_px[:, 1]
    area = np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)
    return corners_px[::-1].copy() if area > 0 else corners_px.copy()


def fit_quad(
    pixels: NDArray[Any], corners_px: Array, search_px: float, *, ends: float = 0.0
) -> QuadFit | None:
    """Fit the edges of a four-cornered thing near a first guess, and meet them in its corners.

    pixels: (h, w, 3) sRGB. corners_px: (4, 2) guess, either way round; the result runs counter-clockwise on
    the picture, starting at the same corner (where the guess ran the other way, at its last corner).
    search_px: how far off the guess may be. ends: part of each edge that corners' roundness takes.
    None where an edge isn't there.
    """
    corners = counter_clockwise(np.asarray(corners_px, dtype=np.float64))
    farthest = max(search_px, 3.0)
    fits: list[EdgeFit] = []
    for reach, rough in ((farthest, True), (min(farthest, 5.0), False)):
        crop = Crop.around(pixels, corners, reach + 4.0)
        if crop is None:
            return None
        found = [
            fit_in(crop, corners[i], corners[(i + 1) % 4], reach, rough=rough, ends=ends) for i in range(4)
        ]
        fits = [fit for fit in found if fit is not None and fit.supported > _LEAST_SUPPORTED]
        if len(fits) < 4:
            return None
        met = [meet(fits[i - 1], fits[i]) for i in range(4)]
        moved = np.array(met)
        if not np.isfinite(moved).all() or np.abs(moved - corners).max() > 3.0 * reach + 6.0:
            return None
        corners = moved
    sd = np.array([_corner_sd(fits[i - 1], fits[i]) for i in range(4)])
    return QuadFit(corners, sd, tuple(fits))


def meet(before: EdgeFit, after: EdgeFit) -> Array:
    """Where the end of one edge meets the start of the next, by Newton's method on both positions."""
    s, t = 1.0, -1.0
    for _ in range(6):
        gap = point_at(after, t) - point_at(before, s)
        matrix = np.stack([tangent_at(before, s), -tangent_at(after, t)], axis=1)
        if abs(np.linalg.det(matrix)) < 1e-6:
            return np.full(2, np.nan)
        ds, dt = np.linalg.solve(matrix, gap)
        s, t = s + float(np.clip(ds, -1, 1)), t + float(np.clip(dt, -1, 1))
    return (point_at(before, s) + point_at(after, t)) / 2


def _corner_sd(before: EdgeFit, after: EdgeFit) -> float:
    """Standard deviation of a corner in each direction, from both edges' covariances."""
    total = 0.0
    for edge, s in ((before, 1.0), (after, -1.0)):
        at = np.array([1.0, s, s * s - 1 / 3])
        total += float(at @ edge.curve_covariance @ at)
    u, v = tangent_at(before, 1.0), tangent_at(after, -1.0)
    sine = abs(u[0] * v[1] - u[1] * v[0]) / (np.hypot(*u) * np.hypot(*v))
    return float(np.sqrt(total / 2) / max(sine, 0.2) + LEAST_CORNER_SD_PX)

"""A camera over the floor: where a point of the floor appears in the picture, and back.

The floor is z = 0, z up; the camera stands at (0, 0, height). +x of the floor runs to the picture's
right and +y up the picture, as nearly as the tilt allows, so no freedom is left over: eight numbers
say everything. They form a vector in the order of `NAMES`:

    ln_height          natural logarithm of the camera's height, mm
    normal_x, normal_y the floor's upward normal in the camera's frame (x right, y down, z forward)
    ln_focal           natural logarithm of the focal length, px
    centre_x, centre_y principal point, px
    k1, k2             radial distortion: distorted = ideal * (1 + k1 r^2 + k2 r^4), r = ideal radius / focal

The logarithms keep heights and focal lengths positive while a solver moves them. The distortion model is
the radial part of Brown, "Close-range camera calibration", Photogrammetric Engineering 37 (1971).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

NAMES = ("ln_height", "normal_x", "normal_y", "ln_focal", "centre_x", "centre_y", "k1", "k2")
LN_HEIGHT, NORMAL_X, NORMAL_Y, LN_FOCAL, CENTRE_X, CENTRE_Y, K1, K2 = range(8)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Camera:
    """One camera over one floor. Lengths mm; see the module's text for the frame."""

    height: float
    normal_x: float
    normal_y: float
    focal_px: float
    centre_x_px: float
    centre_y_px: float
    k1: float = 0.0
    k2: float = 0.0

    @classmethod
    def from_vector(cls, vector: ArrayLike) -> Camera:
        """The camera of an (8,) vector in the order of NAMES."""
        v = [float(x) for x in np.asarray(vector, dtype=float)]
        return cls(math.exp(v[0]), v[1], v[2], math.exp(v[3]), *v[4:8])

    @property
    def vector(self) -> Floats:
        """(8,), in the order of NAMES."""
        return np.array(
            [
                math.log(self.height),
                self.normal_x,
                self.normal_y,
                math.log(self.focal_px),
                self.centre_x_px,
                self.centre_y_px,
                self.k1,
                self.k2,
            ]
        )

    @property
    def tilt(self) -> float:
        """Angle between the line of sight and straight down, degrees."""
        return math.degrees(math.asin(min(1.0, math.hypot(self.normal_x, self.normal_y))))

    @property
    def rotation(self) -> Floats:
        """(3, 3): floor frame to camera frame."""
        return rotation_of(self.normal_x, self.normal_y)

    def project(self, points: ArrayLike) -> Floats:
        """(n, 3) points over the floor, mm -> (n, 2) pixels. NaN for points behind the camera."""
        return project(self.vector, np.asarray(points, dtype=float))

    def unproject(self, points_px: ArrayLike, z: ArrayLike = 0.0) -> Floats:
        """(n, 2) pixels -> (n, 2) mm on the level z (a number or (n,)). NaN above the horizon."""
        return unproject(self.vector, np.asarray(points_px, dtype=float), np.asarray(z, dtype=float))

    def homography(self, z: float = 0.0) -> Floats:
        """(3, 3): (x, y, 1) on the level z, mm -> pixels of a lens that bends nothing, up to a factor."""
        intrinsic = np.array(
            [[self.focal_px, 0, self.centre_x_px], [0, self.focal_px, self.centre_y_px], [0, 0, 1.0]]
        )
        r = self.rotation
        return np.asarray(intrinsic @ np.column_stack([r[:, 0], r[:, 1], (z - self.height) * r[:, 2]]))

    def to_record(self) -> dict[str, Any]:
        """JSON-safe numbers."""
        return {
            "height": self.height,
            "normal": [self.normal_x, self.normal_y],
            "focal_px": self.focal_px,
            "principal_point_px": [self.centre_x_px, self.centre_y_px],
            "k1": self.k1,
            "k2": self.k2,
        }

    @classmethod
    def from_record(cls, record: dict[str, Any]) -> Camera:
        """The camera that `to_record` wrote. Raises KeyError, TypeError or ValueError for anything else."""
        normal_x, normal_y = (float(x) for x in record["normal"])
        centre_x, centre_y = (float(x) for x in record["principal_point_px"])
        return cls(
            float(record["height"]),
            normal_x,
            normal_y,
            float(record["focal_px"]),
            centre_x,
            centre_y,
            float(record["k1"]),
            float(record["k2"]),
        )


def rotation_of(normal_x: Floats | float, normal_y: Floats | float) -> Floats:
    """(..., 3, 3) floor to camera, from the floor's normal seen by the camera; its columns are the floor's axes."""
    x, y = np.asarray(normal_x, dtype=float), np.asarray(normal_y, dtype=float)
    up = np.stack([x, y, -np.sqrt(np.maximum(1e-12, 1.0 - x**2 - y**2))], axis=-1)
    right = np.array([1.0, 0.0, 0.0]) - x[..., None] * up
    right /= np.sqrt(np.sum(right**2, axis=-1, keepdims=True))
    forth = up[..., [1, 2, 0]] * right[..., [2, 0, 1]] - up[..., [2, 0, 1]] * right[..., [1, 2, 0]]
    return np.stack([right, forth, up], axis=-1)


def project(vector: Floats, points: Floats) -> Floats:
    """(..., n, 3) mm -> (..., n, 2) pixels for the camera of this vector, (..., 8); NaN for points behind it."""
    rotation = rotation_of(vector[..., NORMAL_X], vector[..., NORMAL_Y])
    eye = np.zeros((*vector.shape[:-1], 1, 3))
    eye[..., 0, 2] = np.exp(vector[..., LN_HEIGHT])
    seen = (points - eye) @ np.swapaxes(rotation, -1, -2)
    depth = np.where(seen[..., 2] > 1e-9, seen[..., 2], np.nan)
    ideal = seen[..., :2] / depth[..., None]
    r2 = np.sum(ideal**2, axis=-1)
    bend = 1.0 + r2 * (vector[..., K1, None] + r2 * vector[..., K2, None])
    focal_px = np.exp(vector[..., LN_FOCAL, None, None])
    return np.asarray(focal_px * ideal * bend[..., None] + vector[..., None, CENTRE_X : CENTRE_Y + 1])


def unproject(vector: Floats, points_px: Floats, z: Floats | float = 0.0) -> Floats:
    """(..., n, 2) pixels -> (..., n, 2) mm on the level z for the camera of this vector, (..., 8); NaN for points
    above the horizon."""
    focal_px = np.exp(vector[..., LN_FOCAL, None, None])
    distorted = (points_px - vector[..., None, CENTRE_X : CENTRE_Y + 1]) / focal_px
    ideal = straighten(distorted, vector[..., K1, None], vector[..., K2, None])
    rotation = rotation_of(vector[..., NORMAL_X], vector[..., NORMAL_Y])
    ray = ideal @ rotation[..., :2, :] + rotation[..., 2:, :]
    down = np.where(ray[..., 2] < -1e-9, ray[..., 2], np.nan)
    reach = (np.asarray(z) - np.exp(vector[..., LN_HEIGHT, None])) / down
    return np.asarray(ray[..., :2] * reach[..., None])


def straighten(distorted: Floats, k1: Floats | float, k2: Floats | float) -> Floats:
    """Undo the radial distortion of (..., n, 2) points in units of the focal length, by Newton's method.

    k1, k2: numbers, or of a shape that goes with (..., n).

    Where the model folds over (far outside any picture it was fitted to) the answer is held at the fold.
    """
    radius = np.sqrt(np.sum(distorted**2, axis=-1))
    ideal = radius.copy()
    for _ in range(8):
        r2 = ideal**2
        slope = 1.0 + r2 * (3.0 * k1 + 5.0 * k2 * r2)
        step = (ideal * (1.0 + r2 * (k1 + k2 * r2)) - radius) / np.maximum(slope, 0.1)
        ideal = np.clip(ideal - step, 0.0, 2.0 * radius)
        if np.all(np.abs(step) < 1e-7):  # the error is squared with every step
            break
    factor = np.divide(ideal, radius, out=np.ones_like(radius), where=radius > 1e-12)
    return np.asarray(distorted * factor[..., None])

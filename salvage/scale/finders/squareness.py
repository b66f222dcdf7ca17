"""Could four corners be a rectangle of given shape, seen by a camera over a floor?

With the focal length known a homography from a rectangle is over-determined by two: its sides must come out
at right angles and in the right ratio. That parts a square from a sheet of paper however it is turned and
tilted, without a guess at the tilt.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from salvage.photo.photo import DIAGONAL_35MM

Array = NDArray[np.float64]

# Without a focal length: main and wide cameras of phones, and longer ones.
PHONE_FOCALS_35MM = (20.0, 26.0, 35.0, 52.0)
_UNIT_SQUARE = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float64)


@dataclass(frozen=True, slots=True)
class View:
    """The camera as far as it is known before it is solved: focal lengths to try, middle of the picture."""

    focals_px: tuple[float, ...]
    centre_px: tuple[float, float]
    half_diagonal_px: float

    @staticmethod
    def of(size_px: tuple[int, int], focal_35mm: float | None) -> View:
        """size_px: (width, height). focal_35mm: None where EXIF doesn't say."""
        diagonal = math.hypot(*size_px)
        focals = (focal_35mm,) if focal_35mm else PHONE_FOCALS_35MM
        return View(
            tuple(f * diagonal / DIAGONAL_35MM for f in focals),
            ((size_px[0] - 1) / 2, (size_px[1] - 1) / 2),
            diagonal / 2,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """A rectangle as this focal length sees it.

    aspect: side 0-1 over side 1-2. skew: degrees by which its sides miss the right angle. tilt: degrees
    between the camera's axis and the plane's normal. aspect_sd, skew_sd: from the corners' noise.
    plane: (3,) n / d of the plane n . X = d in camera coordinates, in units of the mean side.
    """

    aspect: float
    skew: float
    tilt: float
    aspect_sd: float
    skew_sd: float
    plane: Array
    focal_px: float


def pose_of(corners_px: Array, corner_sd_px: float, view: View, focal_px: float) -> Pose | None:
    """None where the four corners are no view of a rectangle at all."""
    values = _shape(corners_px, view, focal_px)
    if values is None:
        return None
    aspect, skew, tilt, plane = values
    variance = np.zeros(2)
    for i in range(4):
        for axis in range(2):
            moved = corners_px.copy()
            moved[i, axis] += corner_sd_px
            other = _shape(moved, view, focal_px)
            if other is None:
                return None
            variance += np.square([other[0] - aspect, other[1] - skew])
    return Pose(aspect, skew, tilt, float(np.sqrt(variance[0])), float(np.sqrt(variance[1])), plane, focal_px)


def _shape(corners_px: Array, view: View, focal_px: float) -> tuple[float, float, float, Array] | None:
    ideal = (corners_px - np.array(view.centre_px)) / focal_px
    matrix = _from_unit_square(ideal)
    if matrix is None:
        return None
    one, two, origin = matrix.T
    lengths = np.linalg.norm(one), np.linalg.norm(two)
    if min(lengths) < 1e-9:
        return None
    cosine = float(one @ two / (lengths[0] * lengths[1]))
    normal = np.cross(one, two)
    size = np.linalg.norm(normal)
    if size < 1e-12:
        return None
    normal = normal / size
    if normal[2] < 0:
        normal = -normal
    mean_side = math.sqrt(lengths[0] * lengths[1])
    depth = float(normal @ origin) / mean_side
    if depth <= 0:
        return None
    return (
        float(lengths[0] / lengths[1]),
        90.0 - math.degrees(math.acos(max(-1.0, min(1.0, cosine)))),
        math.degrees(math.acos(min(1.0, float(normal[2])))),
        normal / depth,
    )


def _from_unit_square(ideal: Array) -> Array | None:
    """The homography that takes the unit square to four points; None if three of them lie on a line."""
    rows = []
    for (x, y), (u, v) in zip(_UNIT_SQUARE, ideal, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
    try:
        h = np.linalg.solve(np.array(rows), ideal.reshape(-1))
    except np.linalg.LinAlgError:
        return None
    return np.append(h, 1.0).reshape(3, 3)


def misfit(
    corners_px: Array, corner_sd_px: float, view: View, aspect: float = 1.0
) -> tuple[float, Pose] | None:
    """How many times its tolerance a shape misses a rectangle of the given aspect; under 1 is fair.

    The tolerance allows for the lens, which isn't known yet: its bending stretches what lies away from the
    middle along the radius. aspect: side 0-1 over side 1-2; for other than a square the better of both ways.
    """
    radius = np.hypot(*(corners_px.mean(axis=0) - np.array(view.centre_px))) / view.half_diagonal_px
    best: tuple[float, Pose] | None = None
    for focal in view.focals_px:
        pose = pose_of(corners_px, corner_sd_px, view, focal)
        if pose is None:
            continue
        lens = 0.03 + 0.09 * radius**2
        off = min(abs(math.log(pose.aspect / a)) for a in {aspect, 1 / aspect})
        aspect_miss = off / math.hypot(lens, 2.5 * pose.aspect_sd)
        skew_miss = abs(pose.skew) / math.hypot(math.degrees(lens), 2.5 * pose.skew_sd)
        tilt_miss = pose.tilt / 60.0
        miss = max(aspect_miss, skew_miss, tilt_miss)
        if best is None or miss < best[0]:
            best = (miss, pose)
    return best


def foreshortening(corners_px: Array, aspect: float = 1.0) -> float:
    """How much shorter a rectangle looks one way than another, 0 to 1: about the cosine of the tilt.

    aspect: side 0-1 over side 1-2; of both ways round the one that needs less tilt is taken.
    """
    one = (corners_px[1] - corners_px[0] + corners_px[2] - corners_px[3]) / 2
    two = (corners_px[3] - corners_px[0] + corners_px[2] - corners_px[1]) / 2
    ratios = []
    for a in {aspect, 1 / aspect}:
        stretch = np.linalg.svd(np.stack([one / a, two], axis=1), compute_uv=False)
        ratios.append(float(stretch[1] / max(stretch[0], 1e-9)))
    return max(ratios)


def squareness_on_plane_of(corners_px: Array, pose: Pose, view: View) -> float:
    """Shortest over longest side of a quad if it lies in the plane of another one: 1 for a square."""
    sides = side_on_plane_of(corners_px, pose, view)
    return float(sides.min() / sides.max())


def side_on_plane_of(corners_px: Array, pose: Pose, view: View) -> Array:
    """(n,) sides of a polygon lying in the plane of a square, in units of the square's mean side."""
    rays = np.column_stack(
        [(corners_px - np.array(view.centre_px)) / pose.focal_px, np.ones(len(corners_px))]
    )
    points = rays / np.maximum(rays @ pose.plane, 1e-9)[:, None]
    return np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)

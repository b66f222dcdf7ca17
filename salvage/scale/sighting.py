"""One reference square as observations of the camera: its corners, or better its edges, in the picture."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.scale.camera import Camera, project
from salvage.scale.square import Square

Floats = NDArray[np.float64]

_BINS = 14  # edge points are averaged into so many places along an edge
_FEWEST_EDGE_POINTS = 8
_CORNER_SD_FLOOR_PX = 0.05  # no corner is better than this, whatever its edges' scatter says
_BEND_SD_PX = 0.04  # an edge's own bend: card isn't cut straighter, print and shadow have their ways
_THICKNESS = 0.3  # mm: the upper face of card or paper lies so high over the floor


@dataclass(frozen=True, slots=True, eq=False)
class Sighting:
    """A square to be fitted: unknowns x, y (mm), angle (radians), logarithm of its size against its label.

    along: (m,) place of every observation on its edge, 0 at corner i, 1 at corner i + 1. edge: (m,) 0 to 3.
    seen_px: (m, 2). across: (m, 2) unit direction across the edge. whiten: (m, m).
    """

    width: float
    length: float
    size_sd: float
    edge: NDArray[np.int64]
    along: Floats
    seen_px: Floats
    across: Floats
    whiten: Floats
    start: Floats

    @property
    def steps(self) -> Floats:
        return np.array([1e-3, 1e-3, 1e-6, 1e-6])

    def residuals(self, camera: Floats, own: Floats) -> Floats:
        """(m + 1,) whitened: across the edges, and the size."""
        x, y, angle, ln_size = own
        grow = math.exp(ln_size)
        half = 0.5 * grow * np.array([self.width, self.length])
        corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
        begin, end = corners[self.edge], corners[(self.edge + 1) % 4]
        flat = begin + self.along[:, None] * (end - begin)
        c, s = math.cos(angle), math.sin(angle)
        points = np.column_stack(
            [
                x + c * flat[:, 0] - s * flat[:, 1],
                y + s * flat[:, 0] + c * flat[:, 1],
                np.full(len(flat), _THICKNESS),
            ]
        )
        off = np.sum((project(camera, points) - self.seen_px) * self.across, axis=1)
        return np.concatenate([self.whiten @ np.nan_to_num(off, nan=1e6), [ln_size / self.size_sd]])


def sighting_of(square: Square, size_sd: float, camera: Camera) -> Sighting:
    """What `square` says about the camera; `camera` is a first guess, for where the square starts.

    size_sd: relative standard deviation of its sides. Edge points are used where all four edges have
    enough of them, corners otherwise.
    """
    corners = np.asarray(square.corners_px, dtype=float)
    sd = np.maximum(np.asarray(square.corner_sd_px, dtype=float), _CORNER_SD_FLOOR_PX)
    edges = square.edge_points_px
    if len(edges) == 4 and all(len(points) >= _FEWEST_EDGE_POINTS for points in edges):
        parts = [_edge(corners, sd, i, np.asarray(points, dtype=float)) for i, points in enumerate(edges)]
    else:
        parts = [_chord(corners, sd, i) for i in range(4)]
    whiten = np.zeros((sum(len(p[0]) for p in parts),) * 2)
    begin = 0
    for along, *_, white in parts:
        whiten[begin : begin + len(along), begin : begin + len(along)] = white
        begin += len(along)
    return Sighting(
        width=square.width,
        length=square.length,
        size_sd=size_sd,
        edge=np.concatenate([np.full(len(p[0]), i) for i, p in enumerate(parts)]),
        along=np.concatenate([p[0] for p in parts]),
        seen_px=np.concatenate([p[1] for p in parts]),
        across=np.concatenate([p[2] for p in parts]),
        whiten=whiten,
        start=_start(corners, camera),
    )


def poses(square: Square, focal_px: float, centre_px: tuple[float, float]) -> list[Floats]:
    """The (up to two) cameras, as (height, normal_x, normal_y), from which a square looks like this one.

    A flat square seen from far off can be turned either way round with little difference in the picture
    (Collins and Bartoli, "Infinitesimal plane-based pose estimation", IJCV 109, 2014: cv2's IPPE).
    """
    w, h = square.width / 2, square.length / 2
    model = np.array([[-w, -h, 0], [w, -h, 0], [w, h, 0], [-w, h, 0]], dtype=float)
    matrix = np.array([[focal_px, 0, centre_px[0]], [0, focal_px, centre_px[1]], [0, 0, 1.0]])
    found, turns, shifts, _ = cv2.solvePnPGeneric(
        model, np.asarray(square.corners_px, dtype=float), matrix, None, flags=cv2.SOLVEPNP_IPPE
    )
    answers = []
    for turn, shift in zip(turns, shifts, strict=True) if found else ():
        up = cv2.Rodrigues(turn)[0][:, 2]
        height = -float(up @ shift.ravel())
        if height > 0 and up[2] < 0:
            answers.append(np.array([height, up[0], up[1]]))
    return answers


def _edge(corners: Floats, sd: Floats, i: int, points: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Places, pixels, directions across and whitening matrix of one edge, its points averaged into bins."""
    a, b = corners[i], corners[(i + 1) % 4]
    chord = b - a
    length = float(np.hypot(*chord))
    across = np.array([chord[1], -chord[0]]) / length
    place = (points - a) @ chord / length**2
    off = (points - a) @ across
    inside = (place > 0.02) & (place < 0.98)
    place, off = place[inside], off[inside]
    curve = np.polyfit(place, off, 2)
    scatter = off - np.polyval(curve, place)
    spread = max(1.4826 * float(np.median(np.abs(scatter))), 0.02)
    good = np.abs(scatter) < 4.0 * spread
    place, off = place[good], off[good]
    bins = min(_BINS, len(place) // 2)
    which = np.minimum((place * bins).astype(int), bins - 1)
    count = np.bincount(which, minlength=bins)
    full = count > 0
    middle = np.bincount(which, place, minlength=bins)[full] / count[full]
    mean_off = np.bincount(which, off, minlength=bins)[full] / count[full]
    # neighbouring points share their blur: count them as half as many
    noise = np.diag(spread**2 / np.maximum(count[full] / 2.0, 1.0))
    bend = 4.0 * middle * (1.0 - middle)
    noise += (
        np.outer(1 - middle, 1 - middle) * sd[i] ** 2
        + np.outer(middle, middle) * sd[(i + 1) % 4] ** 2
        + np.outer(bend, bend) * _BEND_SD_PX**2
    )
    white = np.linalg.inv(np.linalg.cholesky(noise))
    seen = a + middle[:, None] * chord + mean_off[:, None] * across
    return _unforeshorten(middle, corners, i), seen, np.tile(across, (len(middle), 1)), white


def _chord(corners: Floats, sd: Floats, i: int) -> tuple[Floats, Floats, Floats, Floats]:
    """Like `_edge`, from the two corners alone."""
    a, b = corners[i], corners[(i + 1) % 4]
    chord = (b - a) / float(np.hypot(*(b - a)))
    across = np.array([chord[1], -chord[0]])
    white = np.diag(1.0 / np.array([sd[i], sd[(i + 1) % 4]]))
    return np.array([0.0, 1.0]), np.array([a, b]), np.array([across, across]), white


def _unforeshorten(place: Floats, corners: Floats, i: int) -> Floats:
    """Places along an edge in the picture -> along the edge of the real square."""
    flat = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(corners.astype(np.float32), flat)
    a, b = corners[i], corners[(i + 1) % 4]
    points = np.column_stack([a + place[:, None] * (b - a), np.ones(len(place))]) @ matrix.T
    real = points[:, :2] / points[:, 2:]
    direction = flat[(i + 1) % 4] - flat[i]
    return np.asarray((real - flat[i]) @ direction, dtype=float)


def _start(corners: Floats, camera: Camera) -> Floats:
    floor = camera.unproject(corners, 0.0)
    x, y = floor.mean(axis=0)
    side = floor[1] - floor[0] + floor[2] - floor[3]
    return np.array([x, y, math.atan2(side[1], side[0]), 0.0])

"""Reference squares as observations of the camera: their corners, or better their edges, in the picture."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.scale.solving.bundle import Block, differences
from salvage.scale.solving.camera import Camera, project
from salvage.scale.solving.leftover import Leftover
from salvage.scale.square import Square

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_BINS = 14  # edge points are averaged into so many places along an edge
_FEWEST_EDGE_POINTS = 8
_CORNER_SD_FLOOR_PX = 0.05  # no corner is better than this, whatever its edges' scatter says
_SHARED = 3.0  # neighbouring edge points share blur, grain and shading: so many count as one
_BEND_SD_PX = 0.08  # an edge's own bend: card isn't cut straighter, print and shadow have their ways
THICKNESS = 0.3  # mm: the upper face of card or paper lies so high over the floor
_LIFT_REACHES = (0.25, 0.5)  # parts of an edge that a curled corner lifts
_LIFT_SD_PX = 2.0
_TURN = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


@dataclass(frozen=True, slots=True, eq=False)
class Sightings:
    """Squares to be fitted, m places on their edges in all (a block for `bundle.solve`).

    Four unknowns each: x, y (mm), angle (radians), logarithm of its size against its label.
    size: (squares, 2) width and length, mm. size_sd: (squares,) relative. Of every place: its square, its
    edge (0 to 3), how far `along` it (0 at corner i, 1 at corner i + 1), where it was seen, the unit
    direction across the edge there. whiten: (m, m). lifts: (squares, 4, m + squares, k) what a corner that
    doesn't lie flat does to the residuals, in k ways.
    """

    size: Floats
    size_sd: Floats
    square: Ints
    edge: Ints
    along: Floats
    seen_px: Floats
    across: Floats
    whiten: Floats
    start: Floats
    lifts: Floats

    def residuals(self, camera: Floats, own: Floats) -> Floats:
        """(..., m + squares) whitened: across the edges, and the sizes; for (..., 8) cameras at once."""
        each = own.reshape(*own.shape[:-1], -1, 4)[..., self.square, :]
        x, y, angle, ln_size = (each[..., k] for k in range(4))
        half = 0.5 * np.exp(np.clip(ln_size, -2.0, 2.0))[..., None] * self.size[self.square]
        begin, end = _TURN[self.edge], _TURN[(self.edge + 1) % 4]
        flat = half * (begin + self.along[:, None] * (end - begin))
        c, s = np.cos(angle), np.sin(angle)
        points = np.empty((*x.shape, 3))
        points[..., 0] = x + c * flat[..., 0] - s * flat[..., 1]
        points[..., 1] = y + s * flat[..., 0] + c * flat[..., 1]
        points[..., 2] = THICKNESS
        off = np.sum((project(camera, points) - self.seen_px) * self.across, axis=-1)
        return np.concatenate([off @ self.whiten.T, own[..., 3::4] / self.size_sd], axis=-1)

    def jacobian(self, camera: Floats, own: Floats) -> Floats:
        """(m + squares, 8 + 4 squares). One unknown of all squares is moved at a time: rows don't share them."""
        moves = np.zeros((4, len(own)))
        for k, step in enumerate((1e-3, 1e-3, 1e-6, 1e-6)):
            moves[k, k::4] = step
        found = differences(self, camera, own, moves)
        answer = np.zeros((len(found), len(camera) + len(own)))
        answer[:, : len(camera)] = found[:, : len(camera)]
        square = np.concatenate([self.square, np.arange(len(self.size))])
        for k in range(4):
            answer[np.arange(len(found)), len(camera) + 4 * square + k] = found[:, len(camera) + k]
        return answer

    def misfits(self, residuals: Floats) -> Floats:
        """(squares,) root mean square of the residuals of every square, in standard deviations."""
        square = np.concatenate([self.square, np.arange(len(self.size))])
        return np.asarray(np.sqrt(np.bincount(square, residuals**2) / np.bincount(square)))

    def lift_gains(self, prior: Block, camera: Floats, own: Floats) -> Floats:
        """(squares, 4): by how much the cost would fall if that corner needn't lie flat, to first order.

        prior: what else is known of the camera, a block without unknowns.
        """
        none = np.zeros(0)
        rest = np.concatenate([prior.residuals(camera, none), self.residuals(camera, own)])
        first = prior.jacobian(camera, none)
        slopes = np.zeros((len(rest), len(camera) + len(own)))
        slopes[: len(first), : len(camera)] = first
        slopes[len(first) :] = self.jacobian(camera, own)
        basis = np.linalg.qr(slopes)[0]
        rest -= basis @ (basis.T @ rest)
        gains = np.zeros(self.lifts.shape[:2])
        for k, corner in np.ndindex(*gains.shape):
            lift = np.concatenate([np.zeros((len(first), self.lifts.shape[3])), self.lifts[k, corner]])
            lift -= basis @ (basis.T @ lift)
            size = np.maximum(np.sum(lift**2, axis=0), 1e-9)
            amount = -(lift.T @ rest) / size  # px; residuals are model minus picture
            # a corner can't lie below the floor
            gains[k, corner] = np.max(0.5 * np.where(amount > 0, amount, 0.0) ** 2 * size)
        return gains


def sightings_of(
    squares: Sequence[Square],
    size_sd: Sequence[float],
    camera: Camera,
    leftover: Leftover,
    lifted: Collection[tuple[int, int]] = (),
) -> Sightings:
    """What squares say about the camera; `camera` is a first guess, for where they lie.

    size_sd: relative standard deviation of each one's sides. leftover: of the lens; it shifts what lies near
    together alike, so a square of one size may look a little larger here than there. Edge points are used where all four edges have
    enough of them, corners otherwise. lifted: (square, corner) that don't lie flat; where they are and how
    the edges bend towards them doesn't count.
    """
    parts = [edge for square in squares for edge in _edges_of(square)]
    m = sum(len(p.along) for p in parts)
    counts = [len(p.along) for p in parts]
    seen = np.concatenate([p.seen_px for p in parts])
    across = np.repeat(np.array([p.across for p in parts]), counts, axis=0)
    noise = leftover.covariance(seen, across)
    bends = np.zeros((len(squares), 4, m, len(_LIFT_REACHES)))
    begin = 0
    for k in range(len(squares)):
        edges = parts[4 * k : 4 * k + 4]
        outward = _outward(np.asarray(squares[k].corners_px, dtype=float), camera)
        own = slice(begin, begin + sum(len(edge.along) for edge in edges))
        begin = own.stop
        first = own.start
        for edge in edges:
            along = slice(first, first + len(edge.along))
            noise[along, along] += edge.noise
            first = along.stop
        for corner in range(4):
            bends[k, corner, own] = _lift(edges, corner, outward[corner])
            if (k, corner) in lifted:
                noise += _LIFT_SD_PX**2 * bends[k, corner] @ bends[k, corner].T
    whiten = np.linalg.inv(np.linalg.cholesky(noise))
    lifts = np.zeros((len(squares), 4, m + len(squares), len(_LIFT_REACHES)))
    lifts[:, :, :m] = whiten @ bends
    return Sightings(
        size=np.array([[s.width, s.length] for s in squares]),
        size_sd=np.asarray(size_sd, dtype=float),
        square=np.repeat(np.repeat(np.arange(len(squares)), 4), counts),
        edge=np.repeat(np.tile(np.arange(4), len(squares)), counts),
        along=np.concatenate([p.along for p in parts]),
        seen_px=seen,
        across=across,
        whiten=whiten,
        lifts=lifts,
        start=np.concatenate([_start(np.asarray(s.corners_px, dtype=float), camera) for s in squares]),
    )


def poses(square: Square, focal_px: float, centre_px: tuple[float, float]) -> list[Floats]:
    """Cameras, as (height, normal_x, normal_y), from which a square may look like this one: a level one first.

    A flat square seen from far off can be turned either way round with little difference in the picture
    (Collins and Bartoli, "Infinitesimal plane-based pose estimation", IJCV 109, 2014: cv2's IPPE);
    where the camera is level both are one and cv2 may give neither.
    """
    w, h = square.width / 2, square.length / 2
    model = np.array([[-w, -h, 0], [w, -h, 0], [w, h, 0], [-w, h, 0]], dtype=float)
    matrix = np.array([[focal_px, 0, centre_px[0]], [0, focal_px, centre_px[1]], [0, 0, 1.0]])
    found, turns, shifts, _ = cv2.solvePnPGeneric(
        model, np.asarray(square.corners_px, dtype=float), matrix, None, flags=cv2.SOLVEPNP_IPPE
    )
    ring = np.asarray(square.corners_px, dtype=np.float32)
    level = focal_px * math.sqrt(square.width * square.length / max(cv2.contourArea(ring), 1.0))
    answers = [np.array([level, 0.0, 0.0])]
    for turn, shift in zip(turns, shifts, strict=True) if found else ():
        up = cv2.Rodrigues(turn)[0][:, 2]
        height = -float(up @ shift.ravel())
        if height > 0 and up[2] < 0:
            answers.append(np.array([height, up[0], up[1]]))
    return answers


@dataclass(frozen=True, slots=True, eq=False)
class _Edge:
    """Places on one edge, as in Sightings; noise: (n, n) covariance across the edge, px^2."""

    along: Floats
    seen_px: Floats
    across: Floats
    noise: Floats


def _edges_of(square: Square) -> list[_Edge]:
    corners = np.asarray(square.corners_px, dtype=float)
    sd = np.maximum(np.asarray(square.corner_sd_px, dtype=float), _CORNER_SD_FLOOR_PX)
    points = square.edge_points_px
    if len(points) == 4 and all(len(p) >= _FEWEST_EDGE_POINTS for p in points):
        return [_edge(corners, sd, i, np.asarray(p, dtype=float)) for i, p in enumerate(points)]
    return [_chord(corners, sd, i) for i in range(4)]


def _edge(corners: Floats, sd: Floats, i: int, points: Floats) -> _Edge:
    """One edge from the points along it, averaged into bins."""
    a, b = corners[i], corners[(i + 1) % 4]
    chord = b - a
    length = float(np.hypot(*chord))
    across = np.array([chord[1], -chord[0]]) / length
    place = (points - a) @ chord / length**2
    off = (points - a) @ across
    inside = (place > 0.02) & (place < 0.98)
    place, off = place[inside], off[inside]
    if len(place) < _FEWEST_EDGE_POINTS // 2:
        return _chord(corners, sd, i)
    scatter = off - np.polyval(np.polyfit(place, off, 2), place)
    spread = max(1.4826 * float(np.median(np.abs(scatter))), 0.02)
    good = np.abs(scatter) < 4.0 * spread
    place, off = place[good], off[good]
    bins = min(_BINS, len(place) // 2)
    which = np.minimum((place * bins).astype(int), bins - 1)
    count = np.bincount(which, minlength=bins)
    full = count > 0
    middle = np.bincount(which, place, minlength=bins)[full] / count[full]
    mean_off = np.bincount(which, off, minlength=bins)[full] / count[full]
    noise = np.diag(spread**2 / np.maximum(count[full] / _SHARED, 1.0))
    bend = 4.0 * middle * (1.0 - middle)
    noise += (
        np.outer(1 - middle, 1 - middle) * sd[i] ** 2
        + np.outer(middle, middle) * sd[(i + 1) % 4] ** 2
        + np.outer(bend, bend) * _BEND_SD_PX**2
    )
    seen = a + middle[:, None] * chord + mean_off[:, None] * across
    return _Edge(_unforeshorten(middle, corners, i), seen, across, noise)


def _chord(corners: Floats, sd: Floats, i: int) -> _Edge:
    """One edge from its two corners alone."""
    j = (i + 1) % 4
    chord = (corners[j] - corners[i]) / float(np.hypot(*(corners[j] - corners[i])))
    return _Edge(
        np.array([0.0, 1.0]), corners[[i, j]], np.array([chord[1], -chord[0]]), np.diag(sd[[i, j]] ** 2)
    )


def _lift(edges: Sequence[_Edge], corner: int, outward: Floats) -> Floats:
    """(n, k): how the places on a square's four edges move when one corner comes up, in k ways.

    outward: (2,) unit direction in which the picture of a point moves when it rises: away from the place
    straight below the camera. The curl reaches a quarter or half of the edge.
    """
    columns = []
    for reach in _LIFT_REACHES:
        moves = []
        for i, edge in enumerate(edges):
            near = edge.along if i == corner else 1.0 - edge.along
            touches = i == corner or (i + 1) % 4 == corner
            moves.append(np.maximum(1.0 - near / reach, 0.0) ** 2 * float(edge.across @ outward) * touches)
        columns.append(np.concatenate(moves))
    return np.column_stack(columns)


def _outward(corners: Floats, camera: Camera) -> Floats:
    """(4, 2) unit directions away from the picture of the place straight below the camera."""
    below = camera.project([[0.0, 0.0, 0.0]])[0]
    away = corners - below
    return np.asarray(away / np.maximum(np.hypot(*away.T), 1e-9)[:, None])


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

"""The garment's own axis: the line it is symmetric about, and which of its ends is up (collar or waist)."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import minimum_rotated_rectangle
from shapely.geometry import Polygon

from salvage.cloth.flat.picture import rasterise
from salvage.shapes import polygons_of

_STEP = 8.0  # mm between pixels of the outline's picture
_TURN = 2.0  # degrees between axes tried
_MOVED = 6  # pixels that the mirror image is moved by at most; the axis moves half as far
_ALIKE = 0.84  # share of the outline that must lie on its mirror image to call it symmetric
_BODY_TURN = 8.0  # degrees the body's axis may be off the whole garment's
_BODY = 0.5, 0.87  # share of the garment that a body without its sleeves has, at least and at most
_BODY_ALIKE = 0.88  # what such a body must be like its mirror image
_HARDLY = 0.7  # a whole garment so unlike its mirror image tells nothing
_NEARLY = 0.05  # two axes of a body that are so nearly alike in likeness: the whole garment decides
_SLEEVE = 0.16  # half width of a sleeve at most, in square roots of the garment's area
_ACROSS = 45.0  # degrees
_OFF_UP = 15.0  # degrees the axis may be off the way up that was told
# by likeness at least; degrees
_PLUS_MINUS = ((0.97, 1.5), (0.94, 2.0), (0.9, 8.0), (_ALIKE, 15.0), (0.0, 90.0))
_LEGS = 0.3  # share of the length over which two legs are apart


@dataclass(frozen=True, slots=True)
class Axis:
    """up: degrees counter-clockwise from +x, towards collar or waist. at: a point on the axis, mm.

    symmetric: 0 to 1, how well the outline lies on its mirror image. sure: whether up can be trusted.
    legs: two legs hang from the other end.
    """

    up: float
    at: tuple[float, float]
    symmetric: float
    sure: bool
    legs: bool = False

    @property
    def is_symmetric(self) -> bool:
        """Whether the garment, or its body, is like enough to its mirror image for the axis to mean something."""
        return self.symmetric >= _ALIKE

    @property
    def plus_minus(self) -> float:
        """Degrees that at least nine in ten axes of 380 drawn garments lay within; see _PLUS_MINUS."""
        return next(by for least, by in _PLUS_MINUS if self.symmetric >= least)

    def own(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) mm to (n, 2) mm from the axis, with up as +y."""
        turn = np.radians(90.0 - self.up)
        matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        return (np.asarray(points, float) - self.at) @ matrix.T

    def on_plane(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """The other way round: (n, 2) mm from the axis to (n, 2) mm on the plane."""
        turn = np.radians(90.0 - self.up)
        matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        return np.asarray(points, float) @ matrix + self.at


def find_axis(cloth: Polygon) -> Axis:
    """The axis of a garment's outline; of a shape without symmetry, the direction of its length."""
    upright = _upright(cloth)
    angles = np.arange(0.0, 180.0, _TURN)
    scores = np.array([_likeness(upright, angle)[0] for angle in angles])
    angle, score, shift = _finest(upright, float(angles[int(scores.argmax())]), _TURN)
    middle, body = cloth, _without_sleeves(cloth)
    if score < _BODY_ALIKE:  # hardly: sleeves that lie about as they fell hide how alike the body is
        parted = body is not None and _BODY[0] < body.area / cloth.area < _BODY[1]
        of_body = _of_body(body, angle if score >= _HARDLY else None) if body is not None and parted else None
        if body is not None and of_body is not None and of_body[1] >= _BODY_ALIKE:
            middle, (angle, score, shift) = body, of_body
        elif score < _ALIKE:
            likeness = score if of_body is None else min(of_body[1], _ALIKE - 0.01)
            return Axis(_length_way(cloth), (cloth.centroid.x, cloth.centroid.y), likeness, False)
    ahead, legs, sure = _which_end(_turned(upright, angle))
    if middle is cloth and not legs and body is not None:
        finer = _finest(_upright(body), angle, _BODY_TURN)
        if finer[1] >= score:
            middle, (angle, score, shift) = body, finer
    at = _on_axis(middle, angle, shift)
    return Axis((angle if ahead else angle + 180.0) % 360.0, at, score, sure, legs)


def axis_told(cloth: Polygon, up: float, axis: Axis | None = None) -> Axis:
    """The axis of a garment whose collar or waist is said to lie about `up` degrees from +x. axis: of its outline,
    where that was worked out already.

    Its outline tells the axis better where it is symmetric, and which end is up worse. Where the two lie across one
    another the outline is told otherwise: one about as wide as high is like its mirror image both ways."""
    axis = axis or find_axis(cloth)
    if axis.is_symmetric and not is_across(axis.up, up):
        turned_over = math.cos(math.radians(axis.up - up)) < 0
        ahead = (axis.up + 180.0) % 360.0 if turned_over else axis.up
        return replace(axis, up=ahead, sure=True, legs=axis.legs and not turned_over)
    legs = _which_end(_turned(_upright(cloth), up))[1]
    body = cloth if legs else _without_sleeves(cloth) or cloth
    middle, (angle, score, shift) = max(
        ((each, _finest(_upright(each), up, _OFF_UP)) for each in (cloth, body)), key=lambda each: each[1][1]
    )
    return Axis(angle % 360.0, _on_axis(middle, angle, shift), score, True, legs)


def is_across(one: float, other: float) -> bool:
    """Whether two directions, in degrees, lie across one another rather than along."""
    return abs((one - other + 90.0) % 180.0 - 90.0) > _ACROSS


def _on_axis(shape: Polygon, angle: float, shift: float) -> tuple[float, float]:
    """A point on the axis along `angle` that passes `shift` to the right of a shape's centroid."""
    across = math.radians(angle)
    return (shape.centroid.x + shift * math.sin(across), shape.centroid.y - shift * math.cos(across))


def _of_body(body: Polygon, whole: float | None) -> tuple[float, float, float]:
    """A body's axis: of the best ones, which differ little where it is nearly square, the nearest to the angle at
    which the whole garment is most like its mirror image, where it is like it at all."""
    upright = _upright(body)
    angles = np.arange(0.0, 180.0, _TURN)
    scores = np.array([_likeness(upright, angle)[0] for angle in angles])
    peaks = (scores >= np.roll(scores, 1)) & (scores >= np.roll(scores, -1))
    good = angles[peaks & (scores >= scores.max() - _NEARLY)]
    if whole is None:
        return _finest(upright, float(angles[scores.argmax()]), _TURN)
    return _finest(upright, float(good[np.abs((good - whole + 90.0) % 180.0 - 90.0).argmin()]), _TURN)


def _finest(upright: NDArray[np.uint8], near: float, within: float) -> tuple[float, float, float]:
    """The best axis within some degrees of `near`: its angle, likeness and distance from the centroid."""
    angles = np.arange(near - within, near + within + 0.1, 0.5)
    found = [_likeness(upright, float(angle)) for angle in angles]
    score, shift = max(found)
    alike = [angle for angle, each in zip(angles, found, strict=True) if each[0] >= score - 1e-4]
    return float(np.mean(alike)), score, shift


def _without_sleeves(cloth: Polygon) -> Polygon | None:
    """The body alone: sleeves, which seldom lie alike, are narrower than it."""
    width = _SLEEVE * np.sqrt(cloth.area)
    parts = polygons_of(cloth.buffer(-width).buffer(width))
    return parts[0] if parts and parts[0].area > 0.4 * cloth.area else None


def _upright(cloth: Polygon) -> NDArray[np.uint8]:
    """The cloth in a square picture with its centroid in the middle."""
    centre = cloth.centroid
    reach = max(
        abs(cloth.bounds[0] - centre.x), abs(cloth.bounds[1] - centre.y),
        abs(cloth.bounds[2] - centre.x), abs(cloth.bounds[3] - centre.y),
    )  # fmt: skip
    half = int(np.ceil(1.45 * reach / _STEP)) + 2
    size = 2 * half + 1
    left, top = centre.x - half * _STEP, centre.y + half * _STEP
    return rasterise(cloth, (size, size), _STEP, left, top).astype(np.uint8)


def _turned(picture: NDArray[np.uint8], angle: float) -> NDArray[np.uint8]:
    """The picture turned so that the direction `angle` points up."""
    middle = (picture.shape[1] - 1) / 2
    matrix = cv2.getRotationMatrix2D((middle, middle), 90.0 - angle, 1.0)
    return np.asarray(cv2.warpAffine(picture, matrix, picture.shape[::-1], flags=cv2.INTER_NEAREST), np.uint8)


def _likeness(picture: NDArray[np.uint8], angle: float) -> tuple[float, float]:
    """Overlap (IoU) with the mirror image about the best axis along `angle`, and that axis's distance
    from the centroid in mm, positive to the right of the way up."""
    turned = _turned(picture, angle)
    wide, mirrored = turned.shape[1], turned[:, ::-1]
    round_about = np.hstack([mirrored[:, -_MOVED:], mirrored, mirrored[:, :_MOVED]])
    area = int(np.count_nonzero(turned))
    best = (0.0, 0.0)
    for shift in range(-_MOVED, _MOVED + 1, 2):
        both = int(np.count_nonzero(turned & round_about[:, _MOVED - shift : _MOVED - shift + wide]))
        best = max(best, (both / max(2 * area - both, 1), 0.5 * shift * _STEP))
    return best


def _which_end(turned: NDArray[np.uint8]) -> tuple[bool, bool, bool]:
    """Whether the picture's top is the garment's up; whether it has legs; whether that is sure."""
    rows = np.flatnonzero(turned.any(axis=1))
    body = turned[rows[0] : rows[-1] + 1]
    length = len(body)
    parted = np.array([_stretches(row) == 2 for row in body])
    run_top, run_bottom = _run(parted), _run(parted[::-1])
    if max(run_top, run_bottom) > _LEGS * length:
        return bool(run_bottom > run_top), True, True
    share = max(1, int(0.07 * length))
    width = body.sum(axis=1)
    top, bottom = float(width[:share].mean()), float(width[-share:].mean())
    return top < bottom, False, bool(max(top, bottom) > 1.2 * min(top, bottom))


def _stretches(row: NDArray[np.uint8]) -> int:
    return int(np.count_nonzero(np.diff(row, prepend=0) == 1))


def _run(flags: NDArray[np.bool_]) -> int:
    """How long flags hold from the start (the first few may not: a ragged hem)."""
    start = 3
    off = np.flatnonzero(~flags[start:])
    return int(off[0]) + start if len(off) else len(flags)


def _length_way(shape: Polygon) -> float:
    """Direction of a shape's length, degrees in [0, 180)."""
    box = minimum_rotated_rectangle(shape)
    corners = np.asarray(box.exterior.coords)[:3]
    edges = np.diff(corners, axis=0)
    long = edges[int(np.linalg.norm(edges, axis=1).argmax())]
    return float(np.degrees(np.arctan2(long[1], long[0])) % 180.0)


def length_way(shape: Polygon) -> float:
    """Direction in which a shape is longest, from the spread of its area; degrees in [0, 180)."""
    mask = rasterise(shape, _frame(shape), 3.0, shape.bounds[0], shape.bounds[3])
    y, x = np.nonzero(mask)
    if len(x) < 10:
        return _length_way(shape)
    values, vectors = np.linalg.eigh(np.cov(np.stack([x, -y])))
    way = vectors[:, int(values.argmax())]
    return float(np.degrees(np.arctan2(way[1], way[0])) % 180.0)


def _frame(shape: Polygon) -> tuple[int, int]:
    left, low, right, top = shape.bounds
    return int((top - low) / 3.0) + 2, int((right - left) / 3.0) + 2

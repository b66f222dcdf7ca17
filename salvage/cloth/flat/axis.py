"""The garment's own axis: the line it is symmetric about, and which of its ends is up (collar or waist)."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray
from shapely import affinity, minimum_rotated_rectangle, transform
from shapely.geometry import LineString, Polygon

from salvage.cloth.flat.mirror import Mirrored, MirrorLine
from salvage.cloth.flat.picture import rasterise
from salvage.shapes import polygons_of

_ALIKE = 0.84  # share of the outline that must lie on its mirror image to call it symmetric
_BODY_TURN = 8.0  # degrees the body's axis may be off the whole garment's
_BODY = 0.5, 0.87  # share of the garment that a body without its sleeves has, at least and at most
_BODY_ALIKE = 0.88  # what such a body must be like its mirror image
_HARDLY = 0.7  # a whole garment so unlike its mirror image tells nothing
_NEARLY = 0.05  # two axes of a body that are so nearly alike in likeness: the whole garment decides
_SLEEVE = 0.16  # half width of a sleeve at most, in square roots of the garment's area
_ACROSS = 45.0  # degrees
_OFF_UP = 15.0  # degrees the axis may be off the way up that was told
_LEAST_BODY = 0.4  # share of the garment under which what is left without narrow parts is no body
_BELOW = 0.01  # by so much is less than alike what can't be called so, for all its likeness
# by likeness at least; degrees
_PLUS_MINUS = ((0.97, 1.5), (0.94, 2.0), (0.9, 8.0), (_ALIKE, 15.0), (0.0, 90.0))
_LEGS = 0.3  # share of the length over which two legs are apart


_COMPARES = 8.0  # degrees that it may be off
_Shape = TypeVar("_Shape", LineString, Polygon)


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

    @property
    def compares(self) -> bool:
        """Whether it is known well enough for one half to tell of the other."""
        return self.is_symmetric and self.plus_minus <= _COMPARES

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

    def like_of(self, shape: _Shape) -> _Shape:
        """Where the like of a shape lies on the garment's other half; both in mm on the plane."""
        mirrored = affinity.scale(transform(shape, self.own), -1.0, 1.0, origin=(0.0, 0.0))
        return cast(_Shape, transform(mirrored, self.on_plane))


def find_axis(cloth: Polygon) -> Axis:
    """The axis of a garment's outline; of a shape without symmetry, the direction of its length."""
    whole, body = Mirrored(cloth), _without_sleeves(cloth)
    line = whole.best()
    by_body = _by_body(cloth, body, line) if body is not None and line.likeness < _BODY_ALIKE else None
    body_tells = by_body is not None and by_body.likeness >= _BODY_ALIKE
    if by_body is not None and body_tells:
        line = by_body
    elif line.likeness < _ALIKE:
        likeness = line.likeness if by_body is None else min(by_body.likeness, _ALIKE - _BELOW)
        return Axis(_along_its_box(cloth), (cloth.centroid.x, cloth.centroid.y), likeness, False)
    ahead, legs, sure = _which_end(whole.turned(line.angle))
    if body is not None and not body_tells and not legs:
        finer = Mirrored(body).best_near(line.angle, _BODY_TURN)
        line = finer if finer.likeness >= line.likeness else line
    up = line.angle if ahead else line.angle + 180.0
    return Axis(up % 360.0, line.at, line.likeness, sure, legs)


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
    whole = Mirrored(cloth)
    legs = _which_end(whole.turned(up))[1]
    body = None if legs else _without_sleeves(cloth)
    line = whole.best_near(up, _OFF_UP)
    if body is not None:
        line = max(line, Mirrored(body).best_near(up, _OFF_UP), key=lambda each: each.likeness)
    return Axis(line.angle % 360.0, line.at, line.likeness, True, legs)


def is_across(one: float, other: float) -> bool:
    """Whether two directions, in degrees, lie across one another rather than along."""
    return abs((one - other + 90.0) % 180.0 - 90.0) > _ACROSS


def _by_body(cloth: Polygon, body: Polygon, whole: MirrorLine) -> MirrorLine | None:
    """The line of the body alone, of a garment that is hardly like its mirror image; None where the body is too much
    or too little of it to tell. Sleeves that lie about as they fell hide how alike the body is.

    Of lines that are nearly as good, as a body that is nearly square has them, the nearest to the whole garment's, if
    that tells anything."""
    if not _BODY[0] < body.area / cloth.area < _BODY[1]:
        return None
    mirrored = Mirrored(body)
    return mirrored.best_toward(whole.angle, _NEARLY) if whole.likeness >= _HARDLY else mirrored.best()


def _without_sleeves(cloth: Polygon) -> Polygon | None:
    """The body alone: sleeves, which seldom lie alike, are narrower than it."""
    width = _SLEEVE * np.sqrt(cloth.area)
    parts = polygons_of(cloth.buffer(-width).buffer(width))
    return parts[0] if parts and parts[0].area > _LEAST_BODY * cloth.area else None


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


def _along_its_box(shape: Polygon) -> float:
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
        return _along_its_box(shape)
    values, vectors = np.linalg.eigh(np.cov(np.stack([x, -y])))
    way = vectors[:, int(values.argmax())]
    return float(np.degrees(np.arctan2(way[1], way[0])) % 180.0)


def _frame(shape: Polygon) -> tuple[int, int]:
    left, low, right, top = shape.bounds
    return int((top - low) / 3.0) + 2, int((right - left) / 3.0) + 2

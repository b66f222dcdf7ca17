"""How a shape lies on its mirror image, whichever way the line leads that it is mirrored in."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from salvage.cloth.flat.picture import rasterise

_STEP = 8.0  # mm between pixels of the shape's picture
_TURN = 2.0  # degrees between lines tried all round
_FINE = 0.5  # and near one of them
_MOVED = 6  # pixels that the mirror image is moved by at most; the line moves half as far
_TIE = 1e-4  # likenesses no further apart are one, and the line between them is meant


@dataclass(frozen=True, slots=True)
class MirrorLine:
    """A line in which a shape was mirrored. Which of its ends is up isn't known.

    angle: degrees counter-clockwise from +x. at: a point on it, mm. likeness: overlap of the shape with its mirror
    image (IoU), 0 to 1.
    """

    angle: float
    at: tuple[float, float]
    likeness: float


class Mirrored:
    """A shape on the plane, in a picture that can be mirrored in any line that passes near its centroid."""

    def __init__(self, shape: Polygon) -> None:
        self.shape = shape
        self._picture = _in_a_square(shape)

    def turned(self, angle: float) -> NDArray[np.uint8]:
        """The picture turned so that the direction `angle` points up: square, 1 on the shape, _STEP mm a pixel."""
        middle = (self._picture.shape[1] - 1) / 2
        matrix = cv2.getRotationMatrix2D((middle, middle), 90.0 - angle, 1.0)
        size = self._picture.shape[::-1]
        return np.asarray(cv2.warpAffine(self._picture, matrix, size, flags=cv2.INTER_NEAREST), np.uint8)

    def best(self) -> MirrorLine:
        """The line of all in which the shape is most like its mirror image."""
        angles, likeness = self._all_round()
        return self.best_near(float(angles[int(likeness.argmax())]), _TURN)

    def best_near(self, angle: float, within: float) -> MirrorLine:
        """The same of those within some degrees of `angle`."""
        angles = np.arange(angle - within, angle + within + 0.1, _FINE)
        found = [self._likeness(float(each)) for each in angles]
        likeness, shift = max(found)
        alike = [each for each, (its, _) in zip(angles, found, strict=True) if its >= likeness - _TIE]
        mean = float(np.mean(alike))
        return MirrorLine(mean, self._beside_centroid(mean, shift), likeness)

    def best_toward(self, angle: float, nearly: float) -> MirrorLine:
        """The nearest to `angle` of the lines that are better than those beside them, and nearly as good as the best.

        nearly: by how much less like its mirror image the shape may be. A shape that is nearly square, or round, has
        several such lines.
        """
        angles, likeness = self._all_round()
        peaks = (likeness >= np.roll(likeness, 1)) & (likeness >= np.roll(likeness, -1))
        good = angles[peaks & (likeness >= likeness.max() - nearly)]
        off = np.abs((good - angle + 90.0) % 180.0 - 90.0)
        return self.best_near(float(good[off.argmin()]), _TURN)

    def _all_round(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Angles from 0 to 180 degrees, and the likeness at each."""
        angles = np.arange(0.0, 180.0, _TURN)
        return angles, np.array([self._likeness(float(angle))[0] for angle in angles])

    def _likeness(self, angle: float) -> tuple[float, float]:
        """The most that the shape overlaps (IoU) its mirror image in a line along `angle`, and how far that line lies
        from the centroid, mm, positive to the right of the direction `angle`."""
        turned = self.turned(angle)
        wide, mirrored = turned.shape[1], turned[:, ::-1]
        round_about = np.hstack([mirrored[:, -_MOVED:], mirrored, mirrored[:, :_MOVED]])
        area = int(np.count_nonzero(turned))
        best = (0.0, 0.0)
        for shift in range(-_MOVED, _MOVED + 1, 2):
            both = int(np.count_nonzero(turned & round_about[:, _MOVED - shift : _MOVED - shift + wide]))
            best = max(best, (both / max(2 * area - both, 1), 0.5 * shift * _STEP))
        return best

    def _beside_centroid(self, angle: float, shift: float) -> tuple[float, float]:
        """The point that lies `shift` mm to the right of the centroid, for who looks along `angle`."""
        along, centre = math.radians(angle), self.shape.centroid
        return (centre.x + shift * math.sin(along), centre.y - shift * math.cos(along))


def _in_a_square(shape: Polygon) -> NDArray[np.uint8]:
    """The shape in a square picture with its centroid in the middle, and room to turn."""
    centre = shape.centroid
    reach = max(
        abs(shape.bounds[0] - centre.x), abs(shape.bounds[1] - centre.y),
        abs(shape.bounds[2] - centre.x), abs(shape.bounds[3] - centre.y),
    )  # fmt: skip
    half = int(np.ceil(1.45 * reach / _STEP)) + 2  # the diagonal of a square is 1.42 of its side
    size = 2 * half + 1
    left, top = centre.x - half * _STEP, centre.y + half * _STEP
    return rasterise(shape, (size, size), _STEP, left, top).astype(np.uint8)

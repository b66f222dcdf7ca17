"""A leaf of paper: fields on it, each drawn on by pens of its own, and pictures laid on it.

What is put on a leaf is kept; `pdf` binds leaves, `svg` writes one as a drawing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from salvage.report.pen.marks import Area, Mark, Stroke, Words
from salvage.units import MM_PER_INCH

POINTS_PER_MM = 72 / MM_PER_INCH

# left, low, right and high edge, points from the leaf's lower left corner
Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class LeafPen:
    """Keeps marks for a leaf. scale: points to a page unit; at: points, where the page's (0, 0) lies on the leaf.

    clip: areas and lines are cut off at it; words too, if clips_words.
    """

    scale: float
    at: tuple[float, float]
    clip: Box | None
    clips_words: bool
    marks: list[Mark] = field(default_factory=list)

    def put(self, mark: Mark) -> None:
        self.marks.append(mark)

    def _moved(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        return points * self.scale + self.at

    def in_points(self, mark: Mark) -> Mark:
        """A mark as it lies on the leaf."""
        if isinstance(mark, Area):
            return replace(mark, parts=tuple(shapely.transform(np.array(mark.parts, object), self._moved)))
        if isinstance(mark, Stroke):
            return replace(mark, runs=tuple(map(self._moved, mark.runs)))
        x, y = self._moved(np.array([mark.x, mark.y]))
        return replace(mark, x=float(x), y=float(y))

    def cut_off(self, mark: Mark) -> Box | None:
        """Where a mark in points is cut off; None for one that lies within."""
        if self.clip is None or (isinstance(mark, Words) and not self.clips_words):
            return None
        if isinstance(mark, Words):
            return self.clip
        width = mark.width
        if isinstance(mark, Stroke) and mark.casing is not None:
            width = max(width, mark.casing.width)
        left, low, right, high = _bounds(mark)
        beyond = min(left - self.clip[0], low - self.clip[1], self.clip[2] - right, self.clip[3] - high)
        return self.clip if beyond < width else None


def _in_points(left: float, low: float, right: float, high: float) -> Box:
    return left * POINTS_PER_MM, low * POINTS_PER_MM, right * POINTS_PER_MM, high * POINTS_PER_MM


def _bounds(mark: Area | Stroke) -> Box:
    if isinstance(mark, Area):
        left, low, right, high = shapely.total_bounds(np.array(mark.parts, object))
        return float(left), float(low), float(right), float(high)
    points = np.vstack(mark.runs)
    (left, low), (right, high) = points.min(axis=0), points.max(axis=0)
    return float(left), float(low), float(right), float(high)


@dataclass(frozen=True, slots=True, eq=False)
class Pasted:
    """A picture laid on a leaf. pixels: (h, w, 3)."""

    pixels: NDArray[np.uint8]
    place: Box


@dataclass(frozen=True, slots=True, eq=False)
class Leaf:
    """width, height: mm. layers: from the lowest up; all that one pen puts lies below all that the next one puts."""

    width: float
    height: float
    layers: list[LeafPen | Pasted] = field(default_factory=list)

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in points."""
        return self.width * POINTS_PER_MM, self.height * POINTS_PER_MM

    def field(
        self, left: float = 0.0, low: float = 0.0, width: float | None = None, height: float | None = None
    ) -> Field:
        """A part of the leaf, mm; all of it unless told."""
        return Field(self, _in_points(left, low, left + (width or self.width), low + (height or self.height)))

    def pen(self, clip: Box | None = None) -> LeafPen:
        """A pen whose page unit is a millimetre of the leaf. clip: mm, at which all that it puts is cut off."""
        return self.with_pen(LeafPen(POINTS_PER_MM, (0.0, 0.0), clip and _in_points(*clip), True))

    def with_pen(self, pen: LeafPen) -> LeafPen:
        self.layers.append(pen)
        return pen

    def marks(self) -> Iterator[tuple[Mark | Pasted, Box | None]]:
        """All that was put on it, in points, in the order in which it is drawn, and at what box it is cut off."""
        for layer in self.layers:
            if isinstance(layer, Pasted):
                yield layer, None
                continue
            for mark in sorted(layer.marks, key=lambda each: each.order):
                drawn = layer.in_points(mark)
                yield drawn, layer.cut_off(drawn)


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """A rectangle of a leaf that a drawing fills."""

    leaf: Leaf
    place: Box

    def pen(
        self, low_x: float, low_y: float, high_x: float, high_y: float, *, clipped: bool = True
    ) -> LeafPen:
        """A pen for which the field reaches from (low_x, low_y) to (high_x, high_y), page units.

        clipped: areas and lines end at its edge.
        """
        left, low, right, _ = self.place
        scale = (right - left) / (high_x - low_x)
        at = (left - low_x * scale, low - low_y * scale)
        return self.leaf.with_pen(LeafPen(scale, at, self.place if clipped else None, False))

    def lay(self, pixels: NDArray[np.uint8]) -> None:
        """Fill it with a picture."""
        self.leaf.layers.append(Pasted(pixels, self.place))

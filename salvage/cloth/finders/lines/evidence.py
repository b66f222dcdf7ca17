"""What speaks for a line of the look at the whole garment, and the chance that this leaves it.

A seam runs from edge to edge or from line to line, is about as plain all along, and has its like on the other half of
the garment; a crease fades within the cloth. What each of these is worth was fitted on drawn garments that no training
saw (fixtures/train/fit_lines.py, which says how); the constants stand in evidence.json beside this.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import STRtree
from shapely.geometry import LineString, Point, Polygon

from salvage.cloth.finders.found import Seam
from salvage.cloth.finders.weigh import logit
from salvage.cloth.flat.axis import Axis
from salvage.cloth.flat.whole import Whole
from salvage.cloth.garment import BlockedKind
from salvage.shapes import points_on

_LED = 30.0  # mm from the outline or another line, within which a line ends there
_LIKE = (
    5  # grid px across, within which a line's like on the other half may lie: garments seldom lie quite even
)
_MIDDLE, _STEEP = 60.0, 60.0  # mm from the garment's middle, and degrees from across, of what has no like
Map = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Evidence:
    """A line as the look at the whole garment shows it.

    kind: "seam", "hem", "closure" or "fold". mean: chance along it. weaker: mean chance of any line within a grid pixel
    by the look that sees less of it: what only one of two looks at the same cloth sees is mostly none. free_ends: how
    many of its ends lie neither at the outline nor at another line. length: mm. like: mean chance of any line near where
    its like on the other half would run; None where the garment isn't symmetric enough to know, and of a line along its
    middle.
    """

    kind: str
    mean: float
    weaker: float
    free_ends: int
    length: float
    like: float | None

    def terms(self) -> list[float]:
        """What the constants of evidence.json are factors of, in their order."""
        like = 0.0 if self.like is None else logit(self.like)
        known = float(self.like is not None)
        return [1.0, logit(self.mean), logit(self.weaker), float(self.free_ends), like, known]


def chance_of(line: Evidence) -> float:
    """The chance that a line is there, 0 to 1. Of a kind that nothing was fitted for it is its mean chance: hems,
    and closures too, end within the cloth by their make."""
    factors = _constants().get(line.kind)
    if factors is None:
        return line.mean
    total = sum(factor * term for factor, term in zip(factors, line.terms(), strict=True))
    return 1.0 / (1.0 + math.exp(-total))


@lru_cache(maxsize=1)
def _constants() -> dict[str, tuple[float, ...]]:
    card = json.loads(Path(__file__).with_name("evidence.json").read_text())
    return {kind: tuple(map(float, factors)) for kind, factors in card["constants"].items()}


class LineWitness:
    """What the look at the whole garment says of lines on it (mm).

    near: chance that any line runs within a grid pixel. axis: the garment's own, where known.
    """

    def __init__(self, whole: Whole, cloth: Polygon, axis: Axis | None) -> None:
        self.near = near_a_line(whole)
        self._looks = [_widened(each) for each in whole.looks] or [self.near]
        self._whole, self._edge = whole, cloth.boundary
        self._axis = axis if axis is not None and axis.is_symmetric else None
        self._about = np.asarray(cv2.dilate(self.near, np.ones((_LIKE, _LIKE), np.uint8)), np.float32)

    def along(self, line: LineString) -> float:
        """The mean chance along a line that one runs within a grid pixel."""
        return float(self._whole.at(self.near, points_along(line, self._whole.step)).mean())

    def evidence(self, seam: Seam, mean: float, others: Sequence[LineString]) -> Evidence:
        """What speaks for a seam of such a mean chance, among other lines."""
        points = points_along(seam.line, self._whole.step)
        like = None
        if self._axis is not None and not along_the_middle(own := self._axis.own(points)):
            like = self._about_at(self._axis.on_plane(own * [-1.0, 1.0]))
        free = sum(not self.leads_on(end, others) for end in ends_of(seam.line))
        weaker = min(float(self._whole.at(each, points).mean()) for each in self._looks)
        return Evidence(kind_of(seam), mean, weaker, free, seam.line.length, like)

    def about(self, line: LineString) -> float:
        """The mean chance that one runs near a line, which was seen on the other half, so that it may lie a little off."""
        return self._about_at(points_along(line, self._whole.step))

    def _about_at(self, points: NDArray[np.float64]) -> float:
        return float(self._whole.at(self._about, points).mean())

    def leads_on(self, end: Point, others: Sequence[LineString]) -> bool:
        """Whether the end of a line lies at the outline or at another line."""
        return self._edge.distance(end) <= _LED or any(each.distance(end) <= _LED for each in others)


def along_the_middle(own: NDArray[np.float64]) -> bool:
    """Whether a line, (n, 2) mm in the garment's own frame, is one that has no like: a placket, a fly, a front edge."""
    wide, tall = np.abs(own[-1] - own[0])
    steep = np.degrees(np.arctan2(tall, wide)) > _STEEP
    return bool(steep and np.abs(own[:, 0]).mean() < _MIDDLE)


class Neighbours:
    """The other lines near each of some lines."""

    def __init__(self, lines: Sequence[LineString]) -> None:
        self._lines, self._tree = lines, STRtree(lines)

    def of(self, number: int, reach: float = _LED) -> list[LineString]:
        """Those within reach (mm) of the box round the line of that number, itself left out."""
        near = self._tree.query(self._lines[number].envelope.buffer(reach))
        return [self._lines[each] for each in near if each != number]


def near_a_line(whole: Whole) -> Map:
    """The chance that any line runs within a grid pixel."""
    return np.asarray(np.max([_widened(each) for each in whole.lines.values()], axis=0), np.float32)


def _widened(chances: Map) -> Map:
    return np.asarray(cv2.dilate(chances, np.ones((3, 3), np.uint8)), np.float32)


def points_along(line: LineString, step: float) -> NDArray[np.float64]:
    """(n, 2) mm, evenly along a line, about `step` mm apart."""
    return points_on(line, np.linspace(0, line.length, max(2, int(line.length / step) + 1)))


def ends_of(line: LineString) -> tuple[Point, Point]:
    return Point(line.coords[0]), Point(line.coords[-1])


def kind_of(seam: Seam) -> str:
    """What the look at the whole calls such a line."""
    if seam.kind is BlockedKind.CLOSURE:
        return "closure"
    return "hem" if seam.hem else "fold" if seam.kind is BlockedKind.OTHER else "seam"

"""Straight lines of the floor: joints between boards, grout between tiles.

On the floor they are straight, run one of two ways square to each other, and often lie at equal distances;
in the picture the lens bends them and perspective makes them meet. Each of these facts, where it is sure,
says something about the camera that one small square can't say.

Words: a segment is one straight edge in the picture; a line is the segments of one joint and one side of
it (dark to bright or bright to dark); a family is all lines that run one way. Way 0 is that of the boards,
way 1 is square to it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from salvage.scale.solving.bundle import differences
from salvage.scale.solving.camera import project, unproject
from salvage.scale.solving.sums import Groups, Sparse

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# How straight and square floors are laid; common practice.
CROOKED = 3e-4  # slope, radians: one joint against its family
CROOKED_SHORT = 1.5e-3  # the same for the ends of boards
BENT = 0.2  # mm, at the middle of a line against its ends
OUT_OF_SQUARE = 1.5e-3  # radians between the two families
UNEVEN = 0.6  # mm, of one joint's place in an even row
UNLIKE = 2e-3  # relative, of the distances of tiles along and across


@dataclass(frozen=True, slots=True, eq=False)
class Even:
    """An even row of lines: which lines, and the number of each in the row."""

    way: int
    lines: Ints
    number: Ints
    distance: float


@dataclass(frozen=True, eq=False)  # no slots: what is worked out once is kept
class FloorLines:
    """Lines of a floor as observations of the camera (a block for `bundle.solve`).

    Of every point (n): its pixel, the unit direction across its line in the picture, its line and its
    segment, standard deviation px. softness: the (k, n) matrix S for which off - S^T S off has unit
    covariance. Of every line (m): its way (0, 1) and its side (0, 1).
    uneven: (m,) mm, of each line's place in an even row. alike: (m,) so many lines the lens bends as one.
    Unknowns: direction of way 0 and how far way 1 is out of square (radians), then the logarithms of
    the distances of the even rows.
    """

    points_px: Floats
    across_px: Floats
    sd_px: Floats
    line: Ints
    way: Ints
    side: Ints
    segment: Ints
    direction: float
    softness: Sparse
    uneven: Floats
    alike: Floats
    rows: tuple[Even, ...] = ()

    @property
    def start(self) -> Floats:
        return np.array([self.direction, 0.0, *(math.log(row.distance) for row in self.rows)])

    def residuals(self, camera: Floats, own: Floats) -> Floats:
        """(..., rows) whitened: points against their lines, squareness, even rows; for (..., 8) cameras at once."""
        floor, normal, place = self.places(camera, own)
        mean = self._line_means(place)
        foot = floor - (place - mean[..., self.line])[..., None] * normal
        flat = np.concatenate([foot, np.zeros((*foot.shape[:-1], 1))], axis=-1)
        off = np.sum((self.points_px - project(camera, flat)) * self.across_px, axis=-1) / self.sd_px
        off -= self.softness.back(self.softness.times(off))
        parts = [off, own[..., 1:2] / OUT_OF_SQUARE]
        for k, row in enumerate(self.rows, 2):
            parts.append(self._uneven(row, np.exp(own[..., k]), mean))
        if len(self.rows) == 2:
            parts.append((own[..., 3:4] - own[..., 2:3]) / UNLIKE)
        return np.concatenate(parts, axis=-1)

    def jacobian(self, camera: Floats, own: Floats) -> Floats:
        """(residuals, 8 + own), by forward differences."""
        return differences(self, camera, own, 1e-6 * np.eye(len(own)))

    def places(self, camera: Floats, own: Floats) -> tuple[Floats, Floats, Floats]:
        """Of every point: where it lies on the floor (..., n, 2), its line's normal (..., n, 2), its place along
        that (..., n), mm."""
        floor = unproject(camera, self.points_px)
        angle = own[..., :1] + (math.pi / 2 + own[..., 1:2]) * self.way[self.line]
        normal = np.stack([-np.sin(angle), np.cos(angle)], axis=-1)
        return floor, normal, np.asarray(np.sum(floor * normal, axis=-1))

    def line_places(self, camera: Floats, own: Floats) -> Floats:
        """(m,) place of every line along its family's normal, mm."""
        return self._line_means(self.places(camera, own)[2])

    @property
    def line_lengths_px(self) -> Floats:
        """(m,) how much of every line was seen."""
        steps = np.hypot(*np.diff(self.points_px, axis=0).T) * (np.diff(self.segment) == 0)
        return np.asarray(np.bincount(self.line[1:], steps, minlength=len(self.way)), dtype=float)

    def _line_means(self, place: Floats) -> Floats:
        lines, weight, whole = self._weights
        return np.asarray(lines.sums(weight * place) / whole)

    @cached_property
    def _weights(self) -> tuple[Groups, Floats, Floats]:
        """The points by their lines, their weights and those of the lines: sorted once, asked for at every step."""
        lines, weight = Groups.of(self.line), self.sd_px**-2
        return lines, weight, np.maximum(lines.sums(weight), 1e-12)

    def _uneven(self, row: Even, distance: Floats, mean: Floats) -> Floats:
        rest = mean[..., row.lines] - row.number * distance[..., None]
        side = self.side[row.lines]
        for s in (0, 1):
            if np.any(side == s):
                rest[..., side == s] -= rest[..., side == s].mean(axis=-1, keepdims=True)
        return np.asarray(rest / self.uneven[row.lines])

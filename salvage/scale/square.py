"""Reference squares as found in a photograph."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray


class SquareKind(StrEnum):
    PLAIN = "plain"  # card of one colour
    PRINTED = "printed"  # marker of AprilTag family 36h11, side across its black border
    PAPER = "paper"  # a sheet or card of standard size, not square


@dataclass(frozen=True, slots=True, eq=False)
class Square:
    """One reference found in the picture.

    width, length: mm, equal for a square. corners_px: (4, 2), going round the reference so that, seen
    from above, they run counter-clockwise; corners 0-1 and 2-3 are the width.
    corner_sd_px: (4,) standard deviation of each corner in each direction.
    edge_points_px: sub-pixel points along each of the four edges (edge i runs from corner i to i + 1),
    for a solution that takes the lens's bending of the edges into account.
    confidence: 0 to 1.
    """

    kind: SquareKind
    width: float
    length: float
    corners_px: NDArray[np.float64]
    corner_sd_px: NDArray[np.float64]
    edge_points_px: tuple[NDArray[np.float64], ...] = ()
    confidence: float = 1.0

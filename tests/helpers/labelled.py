"""Real photographs with labels drawn by hand: their scale, their measure, and what is found in the labels' pixels."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import numpy as np
import shapely
from modules import module_at
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Piece
from salvage.cloth.usable import usable

CORNER = 0.5  # px from the corner of the top left pixel, where the labels count from, to its centre


@dataclass(frozen=True)
class NominalPlane:
    """A camera straight above: y up, the scale the same everywhere."""

    mm_per_px: float
    plus_minus_percent: float = 0.0

    def to_px(self, points: np.ndarray) -> np.ndarray:
        return np.asarray(points, float) * [1.0, -1.0] / self.mm_per_px

    def to_mm(self, points: np.ndarray) -> np.ndarray:
        return np.asarray(points, float) * [1.0, -1.0] * self.mm_per_px


def scorer(folder: Path) -> ModuleType:
    """inside_score.py of the photographs' own folder."""
    return module_at(folder / "inside_score.py")


def shifted(shape: BaseGeometry, by: float) -> BaseGeometry:
    return affinity.translate(shape, by, by)


def usable_px(pieces: tuple[Piece, ...], plane: NominalPlane) -> list[BaseGeometry]:
    """The usable cloth of each piece, in the labels' pixels."""
    return [shifted(shapely.transform(usable(piece), plane.to_px), CORNER) for piece in pieces]

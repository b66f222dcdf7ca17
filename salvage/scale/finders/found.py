"""What finders of reference squares find in a photograph, before anything is chosen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from salvage.scale.finders.sight import SquareSight
from salvage.scale.finders.squareness import Pose
from salvage.scale.seeing.corners import QuadFit
from salvage.scale.seeing.regions import Region
from salvage.scale.seeing.surface import Surface

# AprilTag (Olson, ICRA 2011; Wang and Olson, IROS 2016): 6 x 6 bits in a black border one bit wide.
MODULES_ACROSS = 8


@dataclass(frozen=True, slots=True, eq=False)
class PrintedFit:
    """One marker. number: its id in its family. fit: the outer edge of its black border.

    side: mm across that border, as its number says; None where it says nothing.
    """

    number: int
    fit: QuadFit
    side: float | None = None

    def holds(self, point_px: tuple[float, float]) -> bool:
        """Whether a pixel lies on it or on its white margin."""
        corners = self.fit.corners_px
        whole = corners.mean(axis=0) + (1.0 + 2.0 / MODULES_ACROSS) * (corners - corners.mean(axis=0))
        return cv2.pointPolygonTest(whole.astype(np.float32), point_px, False) >= 0


@dataclass(frozen=True, slots=True, eq=False)
class Card:
    """Something flat, of one colour, with four straight edges. score: 0 to 1, how like a card it looks.

    miss: how far its shape is from a square's, in tolerances. reasons: what the score is made of, each 0 to 1.
    places: at how many places of the picture, its own included, lies something of its size and colour.
    """

    fit: QuadFit
    score: float
    miss: float
    pose: Pose
    surface: Surface
    reasons: dict[str, float]
    places: int

    @property
    def side_px(self) -> float:
        return float(np.sqrt(cv2.contourArea(self.fit.corners_px.astype(np.float32))))


@dataclass(frozen=True, slots=True, eq=False)
class CutCard:
    """region: in the full picture. score: 0 to 1, how like the rest of a card or of a printed square it looks."""

    region: Region
    score: float
    surface: Surface


@dataclass(frozen=True, slots=True)
class FoundSquares:
    """printed: markers. cards: plain cards, best first. cut: what the frame cuts, best first."""

    printed: tuple[PrintedFit, ...] = ()
    cards: tuple[Card, ...] = ()
    cut: tuple[CutCard, ...] = ()


# Looks at the photograph, knows what those before it found, and gives that with its own finds added.
SquareFinder = Callable[[SquareSight, FoundSquares], FoundSquares]

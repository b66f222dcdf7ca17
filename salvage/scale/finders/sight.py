"""What every finder of reference squares looks at: the photograph, reduced once, and its four-cornered regions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.scale.finders.squareness import View
from salvage.scale.seeing.regions import WORK_PX, Region, Regions, find_regions
from salvage.scale.seeing.surface import Glance, glance

_LEAST_LOOKED_FOR_PX = 24.0  # smaller ones than can be measured from are found too, to say so


@dataclass(frozen=True, eq=False)  # no slots: what is worked out once is kept
class SquareSight:
    """pixels: (h, w, 3) sRGB. aspect: of what is looked for, width over length; 1 for squares.

    printed: whether a printed square may be meant (not where a sheet of paper is told). pointed_at: pixels inside the
    references that the person means; others are then left aside.
    """

    pixels: NDArray[Any]
    view: View
    aspect: float = 1.0
    printed: bool = True
    pointed_at: tuple[tuple[float, float], ...] = ()

    @cached_property
    def factor(self) -> float:
        """By which the picture is reduced to look for regions."""
        return min(1.0, WORK_PX / max(self.pixels.shape[:2]))

    @cached_property
    def small(self) -> NDArray[Any]:
        """The picture reduced."""
        return cv2.resize(self.pixels, None, fx=self.factor, fy=self.factor, interpolation=cv2.INTER_AREA)

    @cached_property
    def _regions(self) -> Regions:
        return find_regions(self.small, least_side_px=max(_LEAST_LOOKED_FOR_PX * self.factor, 9.0))

    @cached_property
    def glances(self) -> list[Glance]:
        """At the whole regions of the reduced picture."""
        return glance(self.small, self._meant(self._regions.whole))

    @cached_property
    def cut(self) -> list[Region]:
        """The regions of the reduced picture that the frame cuts."""
        return self._meant(self._regions.cut)

    def _meant(self, regions: Sequence[Region]) -> list[Region]:
        return [r for r in regions if not self.pointed_at or self._is_pointed_at(r)]

    def _is_pointed_at(self, region: Region) -> bool:
        outline = region.scaled(1 / self.factor).corners_px.astype(np.float32)
        return any(
            cv2.pointPolygonTest(outline, (float(x), float(y)), False) >= 0 for x, y in self.pointed_at
        )

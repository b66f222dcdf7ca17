"""Light on the cloth's relief: folds in shade, and highlights on leather and coated cloth, look like worn places.

What light does to a surface of one colour only makes it darker, or lighter and paler: hue and saturation in equal light hardly
change. And it comes again: cloth with one strong highlight or deep fold has others. So a place without a colour of its own
that stands out no more than the relief of this cloth does elsewhere may be the light's doing. A stain may look so too:
such a place is doubtful, no more.
Source of the first: Shafer, Using color to separate reflection components, Color Research and Application 10 (1985).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from salvage.cloth.finders.wear.proof import Shades, stands_out
from salvage.cloth.flat.picture import Flat

_SMALL, _LARGE = 5.0, 20.0  # mm (standard deviation): of a place, and of what it is compared with
_COARSER = 4  # the wide mean is taken on a grid this much coarser
_USUAL_PERCENT = (
    90.0  # of the cloth stands out by less: a place of a twentieth of it must not be its own measure
)
_NO_COLOUR = 0.3  # of the difference of lightness that the one of colour stays below
_TIMES = 3.0  # as much as usual that a place may stand out and be explained
_MOST = 20.0  # L, however deep its folds are: a hole is darker, the floor under it lighter
_STRONG = (
    3.0  # L that stands out usually on cloth whose relief the light shows at all; flat cloth has about 0.5
)


@dataclass(frozen=True, slots=True)
class Relief:
    """How far light and shade make the cloth stand out from itself. usual: difference in L."""

    usual: float

    @classmethod
    def of(cls, flat: Flat, sound: NDArray[np.bool_]) -> Relief:
        """flat: without its print. sound: (h, w), cloth that is neither edge nor seam, closure or pocket."""
        if not sound.any():
            return cls(0.0)
        light, weight = flat.lab[..., 0], sound.astype(np.float32)
        size = (weight.shape[1] // _COARSER + 1, weight.shape[0] // _COARSER + 1)
        small = [cv2.resize(each, size, interpolation=cv2.INTER_AREA) for each in (light * weight, weight)]
        step = flat.step * weight.shape[0] / size[1]
        near, round_it = (
            cv2.GaussianBlur(small[0], (0, 0), sigma / step)
            / np.maximum(cv2.GaussianBlur(small[1], (0, 0), sigma / step), 0.05)
            for sigma in (_SMALL, _LARGE)
        )
        differs = np.abs(near - round_it)[small[1] > 0.5]
        return cls(float(np.percentile(differs, _USUAL_PERCENT)) if differs.size else 0.0)

    def explains(self, shape: Polygon, flat: Flat, looks: Shades) -> bool:
        """Whether a place (mm) may be light and shade alone."""
        if self.usual < _STRONG:
            return False
        light, colour = stands_out(shape, flat, looks)
        return colour < _NO_COLOUR * abs(light) and abs(light) < min(_TIMES * self.usual, _MOST)

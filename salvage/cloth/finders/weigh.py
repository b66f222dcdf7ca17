"""What finds are weighed by: chances as they are added up, and the places of a find at which a look is asked."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from shapely import contains_xy
from shapely.geometry import Polygon

_LEAST = 0.02  # of a chance, and of what it lacks to 1: no find is surer than that by one witness


def logit(chance: float) -> float:
    """The logarithm of a chance's odds; a chance of nearly 0 or 1 is held within it."""
    held = min(max(chance, _LEAST), 1.0 - _LEAST)
    return math.log(held / (1.0 - held))


def points_in(shape: Polygon, step: float) -> NDArray[np.float64]:
    """(n, 2) mm: points of a grid that lie in a shape, its middle at least."""
    left, low, right, high = shape.bounds
    x, y = np.meshgrid(np.arange(left, right, step), np.arange(low, high, step))
    inside = contains_xy(shape, x, y)
    middle = shape.representative_point()
    return np.vstack([np.stack([x[inside], y[inside]], 1), [[middle.x, middle.y]]])

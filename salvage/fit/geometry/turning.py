"""Shapes turned and mirrored, exact where they are turned by quarters."""

from __future__ import annotations

import math

from shapely import affinity
from shapely.geometry import Polygon


def trig(angle: float) -> tuple[float, float]:
    """Cosine and sine, exact at multiples of 90 degrees."""
    quarter = angle % 360 / 90
    if quarter == int(quarter):
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter)]
    return math.cos(math.radians(angle)), math.sin(math.radians(angle))


def turned(polygon: Polygon, angle: float, flipped: bool = False) -> Polygon:
    """Mirrored (x -> -x) if flipped, then turned about (0, 0)."""
    cos, sin = trig(angle)
    sign = -1.0 if flipped else 1.0
    return affinity.affine_transform(polygon, [cos * sign, -sin, sin * sign, cos, 0, 0])

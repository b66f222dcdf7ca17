"""Where the cloth lies in a photograph: one polygon for each piece, and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiLineString, MultiPolygon

from salvage.photo.photo import Photo
from salvage.photo.problem import Problem

from .outline_local import sharpen
from .outline_net import chance_of_cloth
from .outline_refine import refine
from .outline_trace import assemble

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Outline:
    """The outline of the cloth in the pixels of the upright photograph.

    shape_px: one polygon for each piece of cloth, floor seen through it as holes; (column, row), with the
        centre of the top-left pixel at (0, 0). Empty if no cloth was found.
    confidence: 0 to 1. doubtful_px: stretches of the outline a person should look at.
    """

    shape_px: MultiPolygon
    confidence: float
    doubtful_px: MultiLineString = MultiLineString()
    problems: tuple[Problem, ...] = ()


def find_outline(
    photo: Photo,
    *,
    references_px: Sequence[NDArray[np.float64]] = (),
    cloth_at: Sequence[Point] = (),
    floor_at: Sequence[Point] = (),
    px_per_mm: float | None = None,
) -> Outline:
    """Find the cloth in a photograph.

    references_px: (4, 2) corners of each reference square; they are never cloth.
    cloth_at, floor_at: pixels a person says are cloth or floor.
    px_per_mm: rough scale, where known.
    """
    size = (photo.width_px, photo.height_px)
    hints = (references_px, cloth_at, floor_at)
    rough = chance_of_cloth(photo.pixels, *hints)
    near = sharpen(photo.pixels, rough.cloth, *hints)
    rings = refine(photo.pixels, near)
    shape = assemble([ring.points for ring in rings], cloth_at)
    return Outline(shape, 0.5)

"""Where the cloth lies in a photograph: one polygon for each piece, and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiLineString, MultiPolygon

from salvage.cloth.outline.colour import shrink, split_by_colour, to_grid
from salvage.cloth.outline.holes import true_rings
from salvage.cloth.outline.local import sharpen
from salvage.cloth.outline.net import chance_of_cloth
from salvage.cloth.outline.problems import is_faint, nothing, problems
from salvage.cloth.outline.refine import Ring, refine
from salvage.cloth.outline.sure import NUDGE_PX, confidence, doubtful, nudged, signs
from salvage.cloth.outline.trace import assemble
from salvage.cloth.outline.under import FloorLooks, may_be_floor
from salvage.photo.photo import Photo
from salvage.photo.problem import Problem

Point = tuple[float, float]

FINE_PX = 1600  # long side at which edges are sought; a finer picture is scaled down


@dataclass(frozen=True, slots=True)
class Outline:
    """The outline of the cloth in the pixels of the upright photograph.

    shape_px: one polygon for each piece of cloth, floor seen through it as holes; (column, row), with the
        centre of the top-left pixel at (0, 0). Empty if no cloth was found.
    confidence: 0 to 1. doubtful_px: stretches of the outline a person should look at. may_be_floor_px: areas within it
        that may be what lies under the garment.
    """

    shape_px: MultiPolygon
    confidence: float
    doubtful_px: MultiLineString = field(default_factory=MultiLineString)
    may_be_floor_px: MultiPolygon = field(default_factory=MultiPolygon)
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class RawOutline:
    """What was found in a picture before it is judged. signs: see salvage.cloth.outline.sure. seen: looks at
    the photograph that tell what may be floor."""

    shape: MultiPolygon
    rings: list[Ring]
    few_many: tuple[NDArray[np.float32], NDArray[np.float32]]
    signs: NDArray[np.float64]
    seen: FloorLooks


def look_for_cloth(
    photo: Photo,
    references_px: Sequence[NDArray[np.float64]] = (),
    cloth_at: Sequence[Point] = (),
    floor_at: Sequence[Point] = (),
) -> RawOutline | None:
    """Find the cloth and the signs of how sure it is; None where there is none. Arguments: see find_outline."""
    fine = shrink(photo.pixels, FINE_PX)
    full, size = (photo.width_px, photo.height_px), (fine.shape[1], fine.shape[0])
    references = [to_grid(corners, full, size) for corners in references_px]
    cloth, floor = (
        [tuple(p) for p in to_grid(np.array(at, float), full, size)] for at in (cloth_at, floor_at)
    )
    hints = (references, cloth, floor)
    with ThreadPoolExecutor(1) as other_core:
        by_frame = other_core.submit(split_by_colour, fine, *hints, NUDGE_PX)
        rough = chance_of_cloth(fine, *hints)
        nudging = other_core.submit(nudged, fine, rough.cloth, *hints)
        near = sharpen(fine, rough.cloth, *hints)
        rings = refine(fine, near)
        rings = true_rings(fine, rings, assemble([ring.points for ring in rings], cloth), references, floor)
        shape = assemble([ring.points for ring in rings], cloth)
        if shape.is_empty:
            return None
        few_many = nudging.result()
        found = signs(fine, rough, near, few_many, by_frame.result(), shape, rings, references)
    rings = [Ring(to_grid(ring.points, size, full), ring.support) for ring in rings]
    shape = assemble([ring.points for ring in rings], cloth_at)
    return RawOutline(shape, rings, few_many, found, FloorLooks(near, by_frame.result(), rough.edge))


def find_outline(
    photo: Photo,
    *,
    references_px: Sequence[NDArray[np.float64]] = (),
    cloth_at: Sequence[Point] = (),
    floor_at: Sequence[Point] = (),
) -> Outline:
    """Find the cloth in a photograph.

    references_px: (4, 2) corners of each reference square; they are never cloth.
    cloth_at, floor_at: pixels a person says are cloth or floor; always obeyed.
    """
    found = look_for_cloth(photo, references_px, cloth_at, floor_at)
    if found is None:
        return Outline(MultiPolygon(), 0.0, problems=(nothing(),))
    where = doubtful(found.rings, found.few_many, found.shape, (photo.width_px, photo.height_px))
    faint = is_faint(photo.pixels, found.shape)
    floor = may_be_floor(found.seen, found.shape, (photo.width_px, photo.height_px), cloth_at=cloth_at)
    wrong = problems(photo.pixels, found.shape, faint, floor)
    return Outline(found.shape, confidence(found.signs), where, floor, wrong)

"""How sure an outline is, and where to look at it.

Signs are taken from the picture alone: how undecided the network is and how much its looks differ, how
much the outline changes when it starts from a little more or a little less cloth, whether colours by
themselves (started from the frame) give the same, how clear the edge is along the outline, and how much
the two sides look alike. A logistic
function of them, fitted on drawn scenes the network never saw (fixtures/train/fit_sure.py), gives the
chance that the outline is right.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString, MultiPolygon

from salvage.cloth.outline.alike import alike, count_sides
from salvage.cloth.outline.colour import Array, to_grid
from salvage.cloth.outline.local import chance, logit, sharpen
from salvage.cloth.outline.net import Chance
from salvage.cloth.outline.refine import Ring
from salvage.cloth.outline.trace import paint

Point = tuple[float, float]

NUDGE_PX = 240  # long side at which this is tried
NUDGE = 1.5  # logit added and taken away to see whether the outline stays
WEAK = 0.2  # support below which a place is doubtful
SWING = 0.5  # change of chance between the two nudged outlines that makes a place doubtful
LOOK_PX = 3  # how far round a place its change is sought, in pixels of the chances
SHORTEST = 0.012  # of the picture's long side: shorter doubtful stretches are left out
JOIN = 0.02  # of the long side: doubtful stretches nearer along the outline than this are one
NAMES = (
    "undecided",
    "blurred",
    "looks differ",
    "moved",
    "unsteady",
    "colours differ",
    "weak edge",
    "scattered",
    "looks shared",
    "hues shared",
    "floor within",
    "cloth beside",
)

# Fitted by fixtures/train/fit_sure.py: mean and spread of each sign, its weight, and the constant.
MEANS = (-3.517, -2.885, -4.181, 0.026, 0.038, 0.194, 0.047, 0.003, 0.124, 0.121, -4.290, -4.042)
SPREADS = (0.653, 0.646, 0.982, 0.028, 0.076, 0.225, 0.062, 0.010, 0.081, 0.089, 0.635, 0.909)
WEIGHTS = (0.579, 0.344, 0.320, 0.212, 0.377, 0.093, 0.040, 0.471, 0.309, 0.158, 0.278, 0.274)
CONSTANT = 3.485


def _apart(a: Array, b: Array) -> float:
    """One less intersection over union."""
    return 1.0 - float((a & b).sum()) / max(1, int((a | b).sum()))


def nudged(
    pixels: Array,
    rough: Array,
    references_px: Sequence[NDArray[np.float64]],
    cloth_at: Sequence[Point],
    floor_at: Sequence[Point],
) -> tuple[Array, Array]:
    """Chances of cloth when the network is believed a little less and a little more."""
    few, many = (
        sharpen(pixels, chance(logit(rough) + step), references_px, cloth_at, floor_at, work_px=NUDGE_PX)
        for step in (-NUDGE, NUDGE)
    )
    return few, many


def signs(
    pixels: Array,
    rough: Chance,
    near: Array,
    few_many: tuple[Array, Array],
    by_frame: Array,
    shape: MultiPolygon,
    rings: Sequence[Ring],
    references_px: Sequence[NDArray[np.float64]],
) -> NDArray[np.float64]:
    """The signs of NAMES, each larger for a worse outline. by_frame: the cloth by colours alone, any size."""
    size, full = (near.shape[1], near.shape[0]), (pixels.shape[1], pixels.shape[0])
    area = float((near > 0.5).sum()) + 1.0
    final = paint(shape, size, full) > 0
    net = cv2.resize(rough.cloth, size)
    spread = cv2.resize(rough.spread, size)
    frame = cv2.resize(by_frame, size) > 0.5
    few, many = (part > 0.5 for part in few_many)
    support = np.concatenate([r.support for r in rings]) if rings else np.zeros(1, np.float32)
    lost = float(((near > 0.5) & ~final).sum()) / area
    floor = (~final).astype(np.uint8)
    for corners in references_px:
        cv2.fillPoly(floor, [np.round(to_grid(corners, full, size)).astype(np.int32)], 0)
    sides = count_sides(pixels, final, floor > 0)
    return np.array(
        [
            np.log(float(np.minimum(net, 1 - net).sum()) / area + 1e-3),
            np.log(float(np.minimum(near, 1 - near).sum()) / area + 1e-3),
            np.log(float(spread.sum()) / area + 1e-3),
            _apart(net > 0.5, final),
            _apart(few, many),
            _apart(frame, final),
            float((support < WEAK).mean()),
            lost,
            *alike(sides),
        ]
    )


def confidence(found: NDArray[np.float64]) -> float:
    """Chance that the outline is right, from its signs."""
    z = (found - np.array(MEANS)) / np.array(SPREADS)
    return float(1 / (1 + np.exp(-np.clip(CONSTANT - z @ np.array(WEIGHTS), -30, 30))))


def doubtful(
    rings: Sequence[Ring], few_many: tuple[Array, Array], shape: MultiPolygon, full: tuple[int, int]
) -> MultiLineString:
    """Stretches of the outline that are weak or would move, in the photograph's pixels."""
    few, many = few_many
    swing = cv2.dilate(np.abs(many - few), np.ones((2 * LOOK_PX + 1,) * 2, np.uint8))
    lines: list[LineString] = []
    boundary = shape.boundary.buffer(1.0)
    for ring in rings:
        at = np.round(to_grid(ring.points, full, (few.shape[1], few.shape[0]))).astype(int)
        column, row = np.clip(at[:, 0], 0, few.shape[1] - 1), np.clip(at[:, 1], 0, few.shape[0] - 1)
        bad = (ring.support < WEAK) | (swing[row, column] > SWING)
        lines += _stretches(ring.points, bad, max(full))
    return MultiLineString([line for line in lines if line.intersects(boundary)])


def _stretches(points: NDArray[np.float64], bad: Array, long_px: int) -> list[LineString]:
    """Runs of bad points of a closed ring, short gaps closed, short runs dropped."""
    if not bad.any():
        return []
    if bad.all():
        return [LineString(np.vstack([points, points[:1]]))]
    start = int(np.argmin(bad))  # begin at a good point, so that no run is split
    points, bad = np.roll(points, -start, axis=0), np.roll(bad, -start)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], bad.astype(np.int8), [0]])))
    runs = [[int(a), int(b)] for a, b in zip(edges[::2], edges[1::2], strict=True)]
    joined = runs[:1]
    for run in runs[1:]:
        gap = points[joined[-1][1] - 1 : run[0] + 1]
        if np.linalg.norm(np.diff(gap, axis=0), axis=1).sum() < JOIN * long_px:
            joined[-1][1] = run[1]
        else:
            joined.append(run)
    lines = [LineString(points[a:b]) for a, b in joined if b - a >= 2]
    return [line for line in lines if line.length >= SHORTEST * long_px]

"""Hatchings and dashes as lines and dots, for whoever draws them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiLineString, MultiPoint
from shapely.geometry.base import BaseGeometry

from salvage.report.pen.marks import Dashes, Run
from salvage.shapes import lines_of

DOT, RING = 0.6, 1.2  # points, radius of a hatching's dots and rings
_APART = 6.0  # points, of two lines or dots of a hatching along the page
_SHORTEST = 1e-3  # of a dash, in whatever the line is measured in


def is_dotted(hatch: str) -> bool:
    """Whether a hatching is of dots or rings, not of lines."""
    return hatch[0] in ".o"


def hatching(shape: BaseGeometry, hatch: str, point: float, *, downwards: bool) -> list[Run]:
    """The lines of a hatching within a shape. They lie on a grid of the whole page, so that hatchings that meet go on
    in each other.

    point: length of a point of paper in the shape's units. downwards: y runs down.
    """
    apart = _APART * point
    left, low, right, high = shape.bounds
    up = -1.0 if downwards else 1.0
    lines: list[list[tuple[float, float]]] = []
    if hatch[0] == "-":
        lines += [[(left, y), (right, y)] for y in _grid(low, high, apart)]
    if hatch[0] == "|":
        lines += [[(x, low), (x, high)] for x in _grid(left, right, apart)]
    for slant in {"/": [up], "\\": [-up], "x": [-1.0, 1.0]}.get(hatch[0], []):
        at_low, over = slant * low, slant * (high - low)
        starts = _grid(left - at_low - max(over, 0.0), right - at_low - min(over, 0.0), 2 * apart)
        lines += [[(x + at_low, low), (x + at_low + over, high)] for x in starts]
    return [np.asarray(line.coords) for line in lines_of(shapely.intersection(MultiLineString(lines), shape))]


def dots(shape: BaseGeometry, point: float) -> MultiPoint:
    """The middles of the dots or rings of a hatching that lie within a shape. point: as for `hatching`."""
    apart = _APART * point
    left, low, right, high = shape.bounds
    places = [
        (x + apart / 2 * (round(y / apart) % 2), y)
        for y in _grid(low, high, apart)
        for x in _grid(left, right, apart)
    ]
    inside = shapely.intersection(MultiPoint(places), shape)
    # where no dot falls into a small shape, shapely gives a single point that is nowhere
    return MultiPoint([(each.x, each.y) for each in shapely.get_parts(inside) if not each.is_empty])


def _grid(low: float, high: float, apart: float) -> NDArray[np.float64]:
    """Whole steps that hold everything between low and high."""
    return np.arange(math.floor(low / apart), high / apart + 1) * apart


def dashed(runs: Sequence[Run], dashes: Dashes, width: float) -> Iterator[Run]:
    """The drawn stretches of lines of that width."""
    lengths = [max(each * width, _SHORTEST) for each in dashes]
    for run in runs:
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(run, axis=0).T))])
        at = 0.0
        for index in itertools.count():
            if at >= along[-1]:
                break
            end = min(at + lengths[index % len(lengths)], along[-1])
            if index % 2 == 0:
                inner = run[(along > at) & (along < end)]
                ends = np.column_stack([np.interp([at, end], along, run[:, k]) for k in (0, 1)])
                yield np.vstack([ends[:1], inner, ends[1:]])
            at = end

"""Outlines of panels: polygons for curves, the cut line round a stitching line and the way back.

A polygon for a curve holds the curve, and a cut outline may only grow: what is planned holds what is meant.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from salvage.project.project import Panel, Point, Strip

CURVE = 0.1  # mm; how far a polygon may stand off the curve that it holds
_MITRE = 3.0  # at an obtuse corner of a flattened curve a mitre adds next to nothing, and no corners


def ring_of(polygon: Polygon) -> tuple[Point, ...]:
    """The corners of a polygon, counter-clockwise, the first not repeated."""
    return tuple((float(x), float(y)) for x, y in list(orient(polygon).exterior.coords)[:-1])


def grown(outline: Sequence[Point], allowance: float) -> tuple[Point, ...]:
    """The cut line at an allowance all round a finished outline."""
    return ring_of(Polygon(outline).buffer(allowance, join_style="mitre", mitre_limit=_MITRE))


def rectangle(
    width: float, length: float, left: float = 0.0, bottom: float = 0.0, right: float = 0.0, top: float = 0.0
) -> tuple[Point, ...]:
    """A rectangle with its lower left corner at (0, 0), let out on each side by so much."""
    return (
        (-left, -bottom),
        (width + right, -bottom),
        (width + right, length + top),
        (-left, length + top),
    )


def circle(radius: float) -> tuple[Point, ...]:
    """A polygon round a circle about (0, 0), with a corner at neither end of its axes."""
    count = 4 * max(4, math.ceil(_corners_of(radius) / 4))
    return tuple(_around(radius, 2 * math.pi * (k + 0.5) / count, math.pi / count) for k in range(count))


def arc(radius: float, start: float, end: float, *, holds: bool = True) -> tuple[Point, ...]:
    """Points of an arc about (0, 0) from one angle to another (degrees).

    holds: lie outside of it, as an outer edge must; else on it, so that the chords lie inside the circle, as the
    edge of a hole must.
    """
    span = math.radians(end - start)
    count = max(3, math.ceil(_corners_of(radius) * abs(span) / (2 * math.pi)))
    first = math.radians(start)
    if not holds:
        return tuple(
            (radius * math.cos(first + span * k / count), radius * math.sin(first + span * k / count))
            for k in range(count + 1)
        )
    step = span / count
    middle = [_around(radius, first + step * (k + 0.5), step / 2) for k in range(count)]
    ends = [(radius * math.cos(first + span * k), radius * math.sin(first + span * k)) for k in (0, 1)]
    return (ends[0], *middle, ends[1])


def _around(radius: float, angle: float, half_step: float) -> Point:
    """Where two tangents meet that touch the circle half a step to either side."""
    out = radius / math.cos(half_step)
    return out * math.cos(angle), out * math.sin(angle)


def _corners_of(radius: float) -> float:
    return math.pi / math.acos(radius / (radius + CURVE))


def outline_of(item: Panel | Strip) -> tuple[Point, ...]:
    """The cut outline of a panel, or of a strip as sewn together."""
    if isinstance(item, Strip):
        return rectangle(item.cut_width, item.length)
    return item.outline


def stitching_line(item: Panel | Strip) -> Polygon | None:
    """Where it is stitched, in the outline's frame; None where nothing is taken in.

    A folded strip has its allowance at its ends only, and a strip of which only the cut width is known none that
    could be told.
    """
    if isinstance(item, Strip):
        return None
    if item.stitching:
        return Polygon(item.stitching)
    if item.seam_allowance <= 0:
        return None
    inner = Polygon(item.outline).buffer(-item.seam_allowance, join_style="mitre")
    return inner if isinstance(inner, Polygon) and not inner.is_empty else None

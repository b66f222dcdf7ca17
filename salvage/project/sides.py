"""Sides of panels by name, and the notches where two of them meet."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as ShapelyPoint
from shapely.ops import nearest_points

from salvage.project.outlines import outline_of, ring_of, stitching_line
from salvage.project.project import Notch, Panel, Point, Project, Seam, Strip
from salvage.units import Unit, format_length

SIDES = {"top": 90.0, "left": 180.0, "bottom": 270.0, "right": 0.0}

# Common practice: so much of a longer edge can be eased in without a pleat, in share of its length and at least.
EASED, EASED_LEAST = 0.03, 3.0
_FARTHEST = 500.0  # mm from a stitching line to its cut line; no allowance or hem is as deep


def side_of(item: Panel | Strip, side: str) -> LineString:
    """A side of the stitching line (of the cut line where there is no other), first point to last counter-clockwise.

    It is the longest run of edges that look that way rather than another: their outward direction lies
    within 45 degrees of it. Empty where none does.
    """
    line = stitching_line(item)
    return run_of(line if line is not None else Polygon(outline_of(item)), side)


def run_of(shape: Polygon, side: str) -> LineString:
    """A side of any outline, likewise."""
    ring = ring_of(shape)
    edges = list(zip(ring, (*ring[1:], ring[0]), strict=True))
    fits = [_looks(a, b, SIDES[side]) for a, b in edges]
    if all(fits) or not any(fits):
        return LineString()
    start = fits.index(False)  # begin where no run is cut in two
    runs: list[list[Point]] = [[]]
    for k in range(len(edges)):
        (a, b), fit = edges[(start + k) % len(edges)], fits[(start + k) % len(edges)]
        if not fit:
            runs.append([])
        else:
            runs[-1] += [b] if runs[-1] else [a, b]
    return max((LineString(run) for run in runs if run), key=lambda run: run.length)


def _looks(a: Point, b: Point, way: float) -> bool:
    outward = math.degrees(math.atan2(a[0] - b[0], b[1] - a[1]))
    return abs((outward - way + 180.0) % 360.0 - 180.0) < 45.0 + 1e-9


def notch_on(item: Panel | Strip, run: LineString, part: float, label: str) -> Notch:
    """A notch at a share of the length of a run of the stitching line, counter-clockwise."""
    here = run.interpolate(part, normalized=True)
    step = min(1.0, run.length / 4) / run.length
    (x0, y0), (x1, y1) = (
        run.interpolate(min(max(at, 0.0), 1.0), normalized=True).coords[0]
        for at in (part - step, part + step)
    )
    long = math.hypot(x1 - x0, y1 - y0)
    return notch_at(item, (here.x, here.y), ((y1 - y0) / long, (x0 - x1) / long), label)


def notch_at(item: Panel | Strip, point: Point, outward: Point, label: str) -> Notch:
    """A notch at a point of the stitching line, on the cut line that lies that way."""
    ray = LineString([point, (point[0] + outward[0] * _FARTHEST, point[1] + outward[1] * _FARTHEST)])
    met = ray.intersection(Polygon(outline_of(item)).exterior)
    at = point
    if not met.is_empty:
        nearest = nearest_points(met, ShapelyPoint(point))[0]
        at = (float(nearest.x), float(nearest.y))
    return Notch(at, (-outward[0], -outward[1]), label)


def with_notches(project: Project) -> Project:
    """The project with a notch at the middle of each side that is sewn to another, and all of them numbered."""
    items: dict[str, Panel | Strip] = {each.name: each for each in project.panels}
    items |= {each.name: each for each in project.strips}
    for number, seam in enumerate(project.seams):
        for name, side in dict.fromkeys(((seam.first, seam.first_side), (seam.second, seam.second_side))):
            item = items[name]
            notch = notch_on(item, side_of(item, side), 0.5, f"seam {number}")
            items[name] = replace(item, notches=(*item.notches, notch))
    numbers: dict[str, str] = {}
    for item in items.values():
        for mark in item.notches:
            numbers.setdefault(mark.label, str(len(numbers) + 1))
    named = {name: _numbered(item, numbers) for name, item in items.items()}
    panels = tuple(each for panel in project.panels if isinstance(each := named[panel.name], Panel))
    strips = tuple(each for strip in project.strips if isinstance(each := named[strip.name], Strip))
    return replace(project, panels=panels, strips=strips)


def _numbered(item: Panel | Strip, numbers: Mapping[str, str]) -> Panel | Strip:
    return replace(item, notches=tuple(replace(each, label=numbers[each.label]) for each in item.notches))


def uneven(items: Mapping[str, Panel | Strip], seams: Sequence[Seam], unit: Unit) -> Iterator[str]:
    """A sentence for each seam whose two sides are too different to be eased together."""
    for seam in seams:
        first = side_of(items[seam.first], seam.first_side).length
        second = side_of(items[seam.second], seam.second_side).length
        if abs(first - second) > max(EASED_LEAST, EASED * max(first, second)):
            yield (
                f"{seam.first}, {seam.first_side} is {format_length(first, unit)} long along the stitching and "
                f"{seam.second}, {seam.second_side}, to which it is sewn, {format_length(second, unit)}: is that "
                "meant (gathered or pleated), or is one of the sizes wrong?"
            )

"""What is pieced of many equal panels: patchwork, and a hat's crown of gores with its brim."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

from shapely.geometry import LineString

from salvage.project.outlines import arc, rectangle
from salvage.project.parts.measures import Made, Measures
from salvage.project.project import Point, Seam
from salvage.project.sides import notch_on, side_of

MOST_PATCHES = 400
HEAD_EASE = 10.0  # mm more than the head measures, so that it comes off again; common practice
_GORE_STEPS = 24


def patchwork(m: Measures) -> Made:
    """A grid of equal patches, its fabrics by turns along the rows and from row to row."""
    width, height = m.size("width"), m.size("height")
    columns, rows = m.count("columns", 0, 1, 100), m.count("rows", 0, 1, 100)
    if columns * rows > MOST_PATCHES:
        raise m.wrong(f"{columns * rows} patches are too many; {MOST_PATCHES} is the most.")
    fabrics = m.entry.get("fabrics", [m.text("fabric", "shell")])
    if (
        not isinstance(fabrics, list)
        or not fabrics
        or not all(isinstance(f, str) and f.strip() for f in fabrics)
    ):
        raise m.wrong('fabrics must be a list of names, such as ["shell", "lining"].')
    if len(set(fabrics)) < len(fabrics):
        raise m.wrong("fabrics must name each fabric once.")
    outline = rectangle(width / columns, height / rows)
    panels, seams = [], []
    for index, fabric in enumerate(fabrics):
        cut = sum((c + r) % len(fabrics) == index for c in range(columns) for r in range(rows))
        if cut:
            role = "patch" if len(fabrics) == 1 else f"patch of {fabric}"
            panels.append(m.panel(role, outline, cut=cut, fabric=fabric))
    first, last = panels[0].name, panels[-1].name
    if columns > 1:
        seams.append(Seam(first, "right", last, "left"))
    if rows > 1:
        seams.append(Seam(first, "top", last, "bottom"))
    return Made(
        tuple(panels),
        seams=tuple(seams),
        formulas=("patch = width / columns by height / rows, rows × columns of them",),
    )


def hat(m: Measures) -> Made:
    """A crown of equal gores that meet in the middle, and a brim in two halves, doubled.

    A gore is a lune of the sphere: at s along it from the edge it is (head / gores) x cos(pi s / (2 crown)) wide.
    With crown = head / 4 that is a half sphere; a longer crown stands higher. The brim is a part of a ring, flat
    with slope 0, else the shell of a cone that slopes down by so many degrees.
    Source: a sphere's parallel at latitude b is 2 pi r cos b long (gores of globes; Snyder, Map Projections: A
    Working Manual, USGS Professional Paper 1395, 1987, p. 243 on the sinusoidal projection: from memory). The brim:
    a cone unrolled.
    """
    head, crown = m.size("head") + m.length("ease", HEAD_EASE), m.size("crown")
    gores = m.count("gores", 6, 3, 24)
    base = head / gores
    gore = m.panel("gore", _gore(base, crown), cut=gores)
    run = side_of(gore, "bottom")
    middle = notch_on(gore, run, 0.5, f"{m.name}: middle of a gore")
    panels = [replace(gore, notches=(middle,))]
    seams = [Seam(gore.name, "left", gore.name, "right")]
    formulas = [
        "gore = (head + ease) / gores wide at its edge, narrowing as cos(90° × s / crown) at s along it to a point",
    ]
    brim = m.length("brim", 0.0)
    if brim > 0:
        slope = m.entry.get("slope", 0)
        if isinstance(slope, bool) or not isinstance(slope, (int, float)) or not 0 <= slope <= 75:
            raise m.wrong("slope must be a number of degrees from 0 (flat) to 75.")
        half = m.panel("brim half", _half_ring(head, brim, float(slope)), cut=4)
        inner = head / (2 * math.pi) / math.cos(math.radians(slope))
        sweep = 180 * math.cos(math.radians(slope))
        edge = LineString(arc(inner, 90 + sweep / 2, 90 - sweep / 2, holds=False))
        marks = [
            notch_on(half, edge, (k + 0.5) * 2 / gores, f"{m.name}: middle of a gore")
            for k in range(gores // 2 if gores % 2 == 0 else 0)
        ]
        panels.append(replace(half, notches=tuple(marks)))
        formulas.append(
            "brim half = half of a ring round (head + ease) / 6.283, brim wide"
            + (", on a radius larger by 1 / cos(slope) and so much less of a turn" if slope else "")
            + "; two halves above, two below"
        )
    return Made(tuple(panels), seams=tuple(seams), formulas=tuple(formulas))


def _gore(base: float, crown: float) -> tuple[Point, ...]:
    """The outline of a gore, its edge along y = 0 about x = 0; its corners stand off the curve, which bows outward."""
    right: list[Point] = []
    for k in range(_GORE_STEPS + 1):
        s = crown * k / _GORE_STEPS
        right.append((base / 2 * math.cos(math.pi * s / (2 * crown)), s))
    # Tangents at neighbouring points meet outside a curve that bows outward; the polygon of these holds it.
    held = [right[0]]
    for (x0, s0), (_, s1) in pairwise(right):
        slope0 = -base / 2 * math.pi / (2 * crown) * math.sin(math.pi * s0 / (2 * crown))
        slope1 = -base / 2 * math.pi / (2 * crown) * math.sin(math.pi * s1 / (2 * crown))
        x1 = base / 2 * math.cos(math.pi * s1 / (2 * crown))
        s = s0 if abs(slope0 - slope1) < 1e-12 else (x1 - x0 + slope0 * s0 - slope1 * s1) / (slope0 - slope1)
        held.append((x0 + slope0 * (s - s0), s))
    held.append((0.0, crown))
    left = [(-x, s) for x, s in reversed(held[:-1])]
    return (*held, *left)


def _half_ring(head: float, brim: float, slope: float) -> tuple[Point, ...]:
    stretch = math.cos(math.radians(slope))
    inner = head / (2 * math.pi) / stretch
    sweep = 180 * stretch
    outside = arc(inner + brim, 90 - sweep / 2, 90 + sweep / 2)
    inside = arc(inner, 90 + sweep / 2, 90 - sweep / 2, holds=False)
    return (*outside, *inside)

"""Bags: boxed corners, a gusset between two faces, a round base with its side, and the linings of all three."""

from __future__ import annotations

import math
from dataclasses import replace
from enum import StrEnum

from shapely.geometry import LineString

from salvage.project.outlines import arc, circle, rectangle
from salvage.project.parts.measures import Made, Measures
from salvage.project.project import Guide, Join, Point, Seam
from salvage.project.sides import notch_at, notch_on, side_of


class Bottom(StrEnum):
    SEAM = "seam"
    FOLD = "fold"


def bag(m: Measures) -> Made:
    """A bag body with boxed corners: the corner, flattened, is sewn straight across depth / 2 from its tip.

    Each wall carries half of the floor. Sewn round, both walls make 2 x width + 2 x depth; the bottom, less half
    of the depth at each end, is as wide as the bag, and half of the depth of each wall becomes floor.
    """
    width, height, depth = m.size("width"), m.size("height"), m.size("depth")
    if depth >= width:
        raise m.wrong("depth must be less than width; turn the bag round, or make it a round base.")
    half = depth / 2
    top = _top(m)
    if m.choice("bottom", Bottom, Bottom.SEAM) is Bottom.FOLD:
        size = width + depth, 2 * height + depth
        guides = (
            Guide("fold: the middle of the floor", ((0.0, height + half), (size[0], height + half))),
            *(_boxed(x, sign, height, half, fold=True) for x, sign in ((0.0, 1), (size[0], -1))),
        )
        outline = rectangle(*size)
        whole = m.panel("body", outline, guides=guides)
        if top is not None:
            whole = replace(
                whole, outline=rectangle(*size, m.allowance, top, m.allowance, top), stitching=outline
            )
        sides = [notch_on(whole, side_of(whole, side), 0.5, f"{m.name}: fold") for side in ("left", "right")]
        return Made(
            (replace(whole, notches=tuple(sides)),),
            formulas=("body = width + depth by 2 × height + depth", _CORNERS),
        )
    size = width + depth, height + half
    guides = tuple(_boxed(x, sign, 0.0, half) for x, sign in ((0.0, 1), (size[0], -1)))
    wall = m.panel("wall", rectangle(*size), cut=2, top=top, guides=guides)
    seams = (Seam(wall.name, "left", wall.name, "right"), Seam(wall.name, "bottom", wall.name, "bottom"))
    return Made((wall,), seams=seams, formulas=("wall = width + depth by height + depth / 2", _CORNERS))


_CORNERS = "boxed corners: flatten each, sew straight across depth / 2 from its tip"


def _boxed(x: float, sign: int, y: float, half: float, *, fold: bool = False) -> Guide:
    """The seam across a boxed corner, as it lies on the flat panel: two sides of a square of depth / 2."""
    inner = x + sign * half
    points: tuple[Point, ...] = (
        ((x, y), (inner, y), (inner, y + 2 * half), (x, y + 2 * half))
        if fold
        else ((x, y + half), (inner, y + half), (inner, y))
    )
    return Guide("boxed corner", points)


def _top(m: Measures) -> float | None:
    """What is added at the top for a hem turned twice: its depth and once more the allowance; None without one."""
    hem = m.length("hem", 0.0)
    return hem + m.allowance if hem > 0 else None


def gusset(m: Measures) -> Made:
    """Two faces with one strip round their sides and bottom.

    The strip is as long as that edge of a face: width + 2 x height, less 2 - pi / 2 of the radius at each of
    the two rounded corners.
    """
    width, height, depth = m.size("width"), m.size("height"), m.size("depth")
    radius = m.length("corner", 0.0)
    if 2 * radius > width or radius > height:
        raise m.wrong(
            "corner, the radius of the rounded corners, must be no more than height and half of width."
        )
    face = m.panel("face", _face(width, height, radius), cut=2, top=None if radius else _top(m))
    length = width + 2 * height - 2 * (2 - math.pi / 2) * radius
    strip = m.strip(
        "gusset", depth + 2 * m.allowance, length + 2 * m.allowance, join=Join.STRAIGHT, finished_width=depth
    )
    bend = height - radius
    label = f"{m.name}: "
    bottom, left, right = (side_of(face, side) for side in ("bottom", "left", "right"))
    floor = notch_on(face, bottom, 0.5, label + "bottom")
    ends = [
        notch_at(face, (x, height - bend), (way, 0.0), label + "corner")
        for x, way in ((0.0, -1.0), (width, 1.0))
        if radius or not (left.is_empty or right.is_empty)
    ]
    along = ((length / 2, "bottom"), (bend, "corner"), (length - bend, "corner"))
    marks = tuple(
        notch_at(strip, (x, at + m.allowance), (way, 0.0), label + name)
        for at, name in along
        for x, way in ((m.allowance, -1.0), (strip.cut_width - m.allowance, 1.0))
    )
    said = "gusset = depth wide, width + 2 × height long"
    return Made(
        (replace(face, notches=(floor, *ends)),),
        (replace(strip, notches=marks),),
        formulas=(
            "face = width by height",
            said + (", less 0.43 × corner at each rounded corner" if radius else ""),
        ),
    )


def _face(width: float, height: float, radius: float) -> tuple[Point, ...]:
    if radius <= 0:
        return rectangle(width, height)
    right = [(x + width - radius, y + radius) for x, y in arc(radius, 270, 360)]
    left = [(x + radius, y + radius) for x, y in arc(radius, 180, 270)]
    return (*left, *right, (width, height), (0.0, height))


def round_base(m: Measures) -> Made:
    """A round base and the side that goes round it: pi x diameter along the stitching line, in one or more panels."""
    across, height = m.size("diameter"), m.size("height")
    sides = m.count("sides", 1, 1, 12)
    radius = across / 2
    base = m.panel("base", circle(radius))
    each = math.pi * across / sides
    side = m.panel("side", rectangle(each, height), cut=sides, top=_top(m))
    label = f"{m.name}: "
    shares = {0.0: "seam", 0.5: "half"} | ({0.25: "quarter", 0.75: "quarter"} if sides == 1 else {})
    round_ = []
    for k in range(sides):
        for share, name in shares.items():
            turn = 2 * math.pi * (k + share) / sides + math.pi / 2
            out = (math.cos(turn), math.sin(turn))
            round_.append(notch_at(base, (radius * out[0], radius * out[1]), out, label + name))
    run = LineString([(0.0, 0.0), (each, 0.0)])
    along = [notch_on(side, run, share, label + name) for share, name in shares.items() if 0 < share < 1]
    other = "left" if sides == 1 else "left of the next"
    return Made(
        (replace(base, notches=tuple(round_)), replace(side, notches=tuple(along))),
        seams=(Seam(side.name, "left", side.name, "right"),),
        formulas=(
            "base = a circle of the diameter",
            f"side = 3.1416 × diameter{' / sides' if sides > 1 else ''} by height; its right edge is sewn to its "
            f"{other}; clip its lower allowance to get round the base",
        ),
    )

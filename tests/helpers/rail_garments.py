"""Garments and projects for the rail, made by a generator: the same number gives the same ones.

Nobody's cut: a garment is a few pieces of plausible size, some with stains, pockets and zips in them. They are
harder than real ones in that no two are alike, and easier in that their edges have few corners.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece, PlusMinus
from salvage.project.project import Grain, Panel, Project, Strip

KINDS = ("denim", "woven", "canvas", "knit", "")


def garments(count: int, seed: int = 1) -> list[Garment]:
    """So many garments, one in twelve of them padded."""
    return [garment(seed * 10_000 + number) for number in range(count)]


def garment(number: int) -> Garment:
    rng = np.random.default_rng(number)
    kind = "padded" if rng.random() < 1 / 12 else str(rng.choice(KINDS))
    pieces = [_piece(f"piece {k + 1}", rng) for k in range(int(rng.integers(1, 5)))]
    if rng.random() < 0.3:
        pieces.append(_piece("lining", rng, fabric="lining"))
    return Garment(f"garment {number}", tuple(pieces), kind=kind)


def _piece(name: str, rng: np.random.Generator, *, fabric: str = "shell") -> Piece:
    width, length = float(rng.uniform(120, 520)), float(rng.uniform(180, 720))
    slope = float(rng.uniform(0, 0.25)) * width
    outline = Polygon([(0, 0), (width, 0), (width - slope, length), (slope / 2, length)])
    blocked = []
    for _ in range(int(rng.integers(0, 3))):
        spot = shapely.Point(rng.uniform(0, width), rng.uniform(0, length)).buffer(
            rng.uniform(8, 45), quad_segs=3
        )
        blocked.append(Blocked(BlockedKind.WORN, spot, 3.0, what="stain"))
    if rng.random() < 0.3:
        x, y = rng.uniform(0, width * 0.7), rng.uniform(0, length * 0.7)
        blocked.append(Blocked(BlockedKind.POCKET, box(x, y, x + 110, y + 130), 3.0, what="patch pocket"))
    if rng.random() < 0.25:
        line = LineString([(width / 2, 0), (width / 2, rng.uniform(100, length))])
        blocked.append(Blocked(BlockedKind.CLOSURE, line, 6.0, what="zip"))
    return Piece(
        name, outline, fabric=fabric, layers=1 if rng.random() < 0.8 else 2, grain=90.0 + float(rng.uniform(-4, 4)),
        blocked=tuple(blocked), plus_minus=PlusMinus(0.4, 2.0),
    )  # fmt: skip


def projects(count: int, seed: int = 1) -> list[Project]:
    """So many projects, from a pouch to what hardly any garment gives."""
    return [project(seed * 10_000 + number, number / max(1, count - 1)) for number in range(count)]


def project(number: int, large: float = 0.5) -> Project:
    """large: 0 to 1, how much it asks for."""
    rng = np.random.default_rng(number)
    panels = []
    for k in range(int(rng.integers(1, 4))):
        width = float(np.round(rng.uniform(60, 140 + 260 * large)))
        length = float(np.round(rng.uniform(80, 160 + 440 * large)))
        grain = Grain(str(rng.choice(["along", "either", "across"], p=[0.5, 0.4, 0.1])))
        panels.append(rectangle(f"panel {k + 1}", width, length, cut=int(rng.integers(1, 3)), grain=grain))
    strips: tuple[Strip, ...] = ()
    if rng.random() < 0.3:
        strips = (Strip("tie", 40.0, float(np.round(rng.uniform(300, 900))), shortest=120.0),)
    return Project(f"project {number}", tuple(panels), strips, cutting_gap=3.0)


def rectangle(name: str, width: float, length: float, **more: object) -> Panel:
    return Panel(name, ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)  # type: ignore[arg-type]


def cloth(name: str, *polygons: Polygon, **more: object) -> Garment:
    """A garment of one piece with just this usable cloth, without any plus-minus."""
    whole = MultiPolygon(polygons)
    return Garment(name, (Piece("back", whole.convex_hull, usable=whole, **more),))  # type: ignore[arg-type]

"""Cases of squares on rectangular cloth, for the modules that give the verdicts; limits in steps, so that none is timed."""

from __future__ import annotations

from typing import Any

from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.fit.verdict.case import Case, Terms, case_of
from salvage.project.project import Panel, Project, Strip


def garment(name: str, *sizes: tuple[float, float], edge: float = 0.0) -> Garment:
    pieces = [
        Piece(
            f"{name} {n}",
            box(0, 0, w, h),
            usable=MultiPolygon([box(0, 0, w, h)]),
            plus_minus=PlusMinus(edge=edge),
        )
        for n, (w, h) in enumerate(sizes, 1)
    ]
    return Garment(name, tuple(pieces))


def square(name: str, side: float, **more: Any) -> Panel:
    return Panel(name, ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side)), **more)


def case(*garments: Garment, items: tuple[Panel | Strip, ...], gap: float = 0.0, **terms: Any) -> Case:
    panels = tuple(each for each in items if isinstance(each, Panel))
    strips = tuple(each for each in items if isinstance(each, Strip))
    project = Project("p", panels, strips, cutting_gap=gap)
    return case_of(garments, project, Terms(**{"steps": 300, **terms}), whole=project, progress=None)

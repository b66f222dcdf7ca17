"""A [[part]] as its kind gets it, without a project file round it."""

from __future__ import annotations

from typing import Any

from shapely.geometry import Polygon

from salvage.project.outlines import outline_of
from salvage.project.parts.kinds import KINDS
from salvage.project.parts.measures import Measures
from salvage.project.project import Panel, Strip
from salvage.units import Unit


def part_of(kind: str, allowance: float = 10.0, **entry: Any) -> Measures:
    asked = Measures(
        {"name": "x", "kind": kind, **entry}, KINDS[kind], Unit.MM, "part 'x'", allowance, (), {}
    )
    asked.check()
    return asked


def sewn(panel: Panel) -> Polygon:
    """The stitching line, or where nothing is sewn the outline."""
    return Polygon(panel.stitching or panel.outline)


def cut(item: Panel | Strip) -> tuple[float, float]:
    """Width and length to be cut."""
    left, bottom, right, top = Polygon(outline_of(item)).bounds
    return right - left, top - bottom

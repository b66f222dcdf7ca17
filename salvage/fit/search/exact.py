"""The exact look at what the search found, with shapely, before it is called a layout."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely import affinity
from shapely.geometry import Polygon

from salvage.fit.geometry.turning import turned
from salvage.fit.question import Placed, Question

_ROUNDING = 1e-6  # mm


def polygon_of(question: Question, placed: Placed) -> Polygon:
    """The outline of a placed shape on the plane of its cloth."""
    outline = Polygon(question.shapes[placed.shape].outline)
    return affinity.translate(turned(outline, placed.angle, placed.flipped), placed.x, placed.y)


def clear_layout(question: Question, placed: Sequence[Placed]) -> list[Placed]:
    """Those placements, largest first, that lie in their cloth and keep the gap from those before."""
    order = sorted(placed, key=lambda p: -Polygon(question.shapes[p.shape].outline).area)
    good: list[Placed] = []
    on_cloth: dict[int, list[Polygon]] = {}
    for one in order:
        polygon = polygon_of(question, one)
        inner = polygon.buffer(-_ROUNDING, join_style="mitre")
        cloth = question.cloths[one.cloth].polygon
        others = on_cloth.setdefault(one.cloth, [])
        if not (cloth.covers(polygon) or cloth.covers(inner)):
            continue
        if others and shapely.distance(inner, others).min() < max(question.gap, 1e-12):
            continue
        good.append(one)
        others.append(inner)
    return good

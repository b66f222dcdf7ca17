"""Cloth that is enough for certain, with no search: every panel laid as its bounding box, in rows, highest first."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from shapely import affinity
from shapely.geometry import Polygon

from salvage.project.project import Grain, Join, Panel, Strip
from salvage.trade.sewing import LONGEST_IN_ONE, bias_join_cost, straight_join_cost
from salvage.trade.widths import SELVEDGES

_MOST_BOXES = 3000  # past that nobody lays panel by panel
Box = tuple[float, float]


def cloth_length(items: Sequence[Panel | Strip], width: float, gap: float) -> float | None:
    """Length of cloth of that width that is enough for these, mm; None where one is wider than the cloth."""
    room = width - SELVEDGES
    boxes = [box for item in items for box in _boxes(item, room, gap)]
    if len(boxes) > _MOST_BOXES or any(wide > room for wide, _ in boxes):
        return None
    used = x = 0.0
    row = 0.0
    for wide, high in sorted(boxes, key=lambda box: (-box[1], -box[0])):
        if row == 0.0 or x + gap + wide > room:
            used += row + (gap if row else 0.0)
            x, row = wide, high
        else:
            x += gap + wide
    return used + row


def _boxes(item: Panel | Strip, room: float, gap: float) -> Iterator[Box]:
    """What each copy takes, across the cloth and along it."""
    if isinstance(item, Strip):
        yield from _strip_boxes(item, room)
        return
    turns = item.rotations or {
        Grain.ALONG: (0.0,), Grain.ACROSS: (90.0,), Grain.EITHER: (0.0, 90.0), Grain.BIAS: (45.0,),
        Grain.ANY: (0.0, 90.0),
    }[item.grain]  # fmt: skip
    boxes = [_extent(Polygon(item.outline), turn) for turn in turns]
    fitting = [box for box in boxes if box[0] <= room] or boxes
    best = min(fitting, key=lambda box: box[1] * math.ceil(item.cut / max(1, (room + gap) // (box[0] + gap))))
    for _ in range(item.cut):
        yield best


def _strip_boxes(strip: Strip, room: float) -> Iterator[Box]:
    """A strip in lengths as long as may be, along the cloth, across it or on the bias."""
    cost = {
        Join.BIAS: bias_join_cost(strip.cut_width),
        Join.STRAIGHT: straight_join_cost(strip.seam_allowance),
        Join.NONE: 0.0,
    }[strip.join]
    across, bias = strip.grain is Grain.ACROSS, strip.grain is Grain.BIAS
    longest = room if across else room * math.sqrt(2) - 2 * strip.cut_width if bias else LONGEST_IN_ONE
    count = 1
    if strip.join is not Join.NONE:
        while (strip.length + (count - 1) * cost) / count > longest and count < 100:
            count += 1
    length = (strip.length + (count - 1) * cost) / count
    for _ in range(strip.cut * count):
        if bias:  # the box that a strip at 45 degrees lies in
            half = (length + strip.cut_width) / math.sqrt(2)
            yield half, half
        elif across:
            yield length, strip.cut_width
        else:
            yield strip.cut_width, length


def _extent(shape: Polygon, turn: float) -> Box:
    left, bottom, right, top = affinity.rotate(shape, turn).bounds
    return right - left, top - bottom

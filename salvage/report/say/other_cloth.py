"""How much other cloth a project takes, in the widths that cloth is sold in: enough for certain, not the least.

Every panel is laid as its bounding box, in rows across the cloth, highest first. What that takes is enough; a
person who lays curved panels into each other may need less.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from shapely import affinity
from shapely.geometry import Polygon

from salvage.project.project import Grain, Join, Panel, Project, Strip
from salvage.report.say.table import Table
from salvage.report.say.words import items_of
from salvage.trade.sewing import bias_join_cost, straight_join_cost
from salvage.trade.widths import CUT_OFF, SELVEDGES, widths
from salvage.units import Unit, format_exact

_MOST_BOXES = 3000  # past that nobody lays panel by panel
_LONGEST_LENGTH = 700.0  # mm; a strip that may be joined is cut in lengths no longer
Box = tuple[float, float]

ENOUGH_CLOTH = (
    "What is enough where the panels above are cut from cloth off the bolt, each laid as a rectangle; curved panels laid "
    "into each other may take less."
)


def other_cloth(project: Project, unit: Unit) -> Table:
    """For each fabric and each usual width, the length to buy."""
    usual = widths(unit)
    rows = []
    for fabric in dict.fromkeys(item.fabric for item in items_of(project)):
        items = [item for item in items_of(project) if item.fabric == fabric]
        lengths = [cloth_length(items, width, project.cutting_gap) for width in usual]
        rows.append((fabric, *(_to_buy(length, unit) for length in lengths)))
    columns = ("Fabric", *(f"{format_exact(width, _wide(unit))} wide" for width in usual))
    return Table(columns, (1.4, *[1.2] * len(usual)), tuple(rows))


def cloth_length(items: list[Panel | Strip], width: float, gap: float) -> float | None:
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
    longest = room if across else room * math.sqrt(2) - 2 * strip.cut_width if bias else _LONGEST_LENGTH
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


def _wide(unit: Unit) -> Unit:
    return Unit.CM if unit is Unit.MM else unit


def _to_buy(length: float | None, unit: Unit) -> str:
    if length is None:
        return "too narrow"
    step = CUT_OFF[unit]
    bought = math.ceil(length / step - 1e-6) * step
    if unit is not Unit.INCH:
        return f"{bought / 1000:.2f} m"
    eighths = round(bought / step)
    whole, rest = divmod(eighths, 8)
    part = {0: "", 2: "1/4", 4: "1/2", 6: "3/4"}.get(rest, f"{rest}/8")
    return f"{' '.join(each for each in (str(whole) if whole else '', part) if each)} yd"

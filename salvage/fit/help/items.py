"""Changes of one panel or strip: pieced, turned, made smaller, taken from elsewhere.

Each gives the changed item and what of the project file that changes (`Edit`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from shapely import affinity
from shapely.geometry import Polygon

from salvage.fit.answer import Edit, HelpKind
from salvage.fit.cutting.joins import ring_of
from salvage.project.project import Grain, Join, Panel, Project, Strip
from salvage.units import MM_PER_INCH, Unit

Item = Panel | Strip

_MOST_JOINS = 2  # more than the project allows are offered
_SHORTEST = 60.0  # mm; shorter lengths of a strip are more joins than strip
_STEPS = {Unit.MM: 1.0, Unit.CM: 1.0, Unit.INCH: MM_PER_INCH / 8}  # mm to which a smaller size is told


@dataclass(frozen=True, slots=True)
class Changed:
    """A changed panel or strip, and which values of the project file change."""

    item: Item
    edits: tuple[Edit, ...]


def items_of(project: Project) -> tuple[Item, ...]:
    """Panels, then strips."""
    return (*project.panels, *project.strips)


def with_items(project: Project, changed: Mapping[str, Item | None]) -> Project:
    """The project with these items instead of those of the same name; None takes one out."""
    panels = [changed.get(each.name, each) for each in project.panels]
    strips = [changed.get(each.name, each) for each in project.strips]
    return replace(
        project,
        panels=tuple(each for each in panels if isinstance(each, Panel)),
        strips=tuple(each for each in strips if isinstance(each, Strip)),
    )


def area_of(item: Item) -> float:
    """mm^2 of one copy, as cut."""
    if isinstance(item, Panel):
        return float(Polygon(item.outline).area)
    return item.cut_width * item.length


def ways(item: Item, kind: HelpKind) -> Iterator[Changed]:
    """The changes of a kind that leave the size as it is, the mildest first."""
    if kind is HelpKind.ANYWHERE and item.pieces:
        yield Changed(replace(item, pieces=()), (Edit(item.name, "from", item.pieces, ()),))
    if kind is HelpKind.JOIN:
        yield from _joined(item)
    if kind is HelpKind.TURN and (isinstance(item, Strip) or item.rotations is None):
        wider = [Grain.EITHER, Grain.ANY] if item.grain in (Grain.ALONG, Grain.ACROSS) else [Grain.ANY]
        for grain in wider if item.grain is not Grain.ANY else ():
            yield Changed(
                replace(item, grain=grain), (Edit(item.name, "grain", str(item.grain), str(grain)),)
            )


def _joined(item: Item) -> Iterator[Changed]:
    if isinstance(item, Panel):
        for more in range(1, _MOST_JOINS + 1):
            joins = item.joins + more
            yield Changed(replace(item, joins=joins), (Edit(item.name, "joins", item.joins, joins),))
    elif item.join is Join.NONE:
        join = Join.STRAIGHT
        yield Changed(replace(item, join=join), (Edit(item.name, "join", str(item.join), str(join)),))
    elif item.shortest > _SHORTEST:
        shorter = Edit(item.name, "shortest", item.shortest, _SHORTEST)
        yield Changed(replace(item, shortest=_SHORTEST), (shorter,))


def from_fabric(item: Item, fabric: str) -> Changed:
    """The item cut from another fabric, of whatever piece."""
    edits = [Edit(item.name, "fabric", item.fabric, fabric)]
    edits += [Edit(item.name, "from", item.pieces, ())] if item.pieces else []
    return Changed(replace(item, fabric=fabric, pieces=()), tuple(edits))


def fewer(item: Item, cut: int) -> Changed:
    """So many copies of it; none at all with 0, for the item itself can't say that."""
    return Changed(replace(item, cut=max(cut, 1)), (Edit(item.name, "cut", item.cut, cut),))


def size_of(item: Item) -> tuple[str, float, float]:
    """`finished`, `size` or `length`, and width and length by that, mm."""
    if isinstance(item, Strip):
        return "length", item.cut_width, item.length
    if item.finished is not None:
        return "finished", *item.finished
    left, bottom, right, top = Polygon(item.outline).bounds
    return "size", right - left, top - bottom


def smaller(item: Item, by_width: float, by_length: float, unit: Unit) -> Changed | None:
    """The item with its width and length at these shares, rounded down to what a person writes; None if too small.

    Of a strip only the length changes. A rectangle keeps its allowances; so does another shape, as well as a shape
    drawn inside it tells them.
    """
    key, width, length = size_of(item)
    new_width = width if by_width == 1 else _rounded_down(by_width * width, unit)
    new_length = length if by_length == 1 else _rounded_down(by_length * length, unit)
    if min(new_width, new_length) <= 0 or (new_width, new_length) == (width, length):
        return None
    if isinstance(item, Strip):
        changed = replace(item, length=new_length, shortest=min(item.shortest, new_length))
        return Changed(changed, (Edit(item.name, key, length, new_length),))
    outline = Polygon(item.outline)
    left, bottom, right, top = outline.bounds
    wide, long = right - left, top - bottom
    cut = affinity.scale(
        outline, (wide - width + new_width) / wide, (long - length + new_length) / long, origin=(left, bottom)
    )
    finished = (new_width, new_length) if item.finished is not None else None
    return Changed(
        replace(item, outline=ring_of(cut), finished=finished),
        (Edit(item.name, key, (width, length), (new_width, new_length)),),
    )


def _rounded_down(length: float, unit: Unit) -> float:
    step = _STEPS[unit]
    return math.floor(length / step + 1e-9) * step

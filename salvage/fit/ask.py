"""From garments and a project to the bare question, and from its answer back to named placements.

A *plan* says how each copy of each panel and strip is cut: whole, or in which parts or lengths. With a
plan, a lay and a project there is one question; copies cut alike become one shape of it.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.fit.answer import Placement
from salvage.fit.cutting.joins import Piecing, parts_of, ring_of
from salvage.fit.material.lay import Lay, same_fabric, same_name
from salvage.fit.question import Placed, Question, Shape
from salvage.project.project import Panel, Project, Strip

Label = tuple[int, int | None]  # copy from 1, part from 1 or None for a whole


@dataclass(frozen=True, slots=True)
class Plan:
    """panels[i][copy - 1]: how that copy is pieced, None if whole. strips[i][copy - 1]: its lengths."""

    panels: tuple[tuple[Piecing | None, ...], ...]
    strips: tuple[tuple[tuple[float, ...], ...], ...]

    @classmethod
    def whole(cls, project: Project) -> Plan:
        """No joins anywhere."""
        return cls(
            tuple((None,) * panel.cut for panel in project.panels),
            tuple(((strip.length,),) * strip.cut for strip in project.strips),
        )

    def with_panel(self, index: int, copy: int, piecing: Piecing | None) -> Plan:
        """The plan with one copy of a panel pieced this way."""
        return replace(self, panels=_changed(self.panels, index, copy, piecing))

    def with_strip(self, index: int, copy: int, lengths: tuple[float, ...]) -> Plan:
        """The plan with one copy of a strip cut in these lengths."""
        return replace(self, strips=_changed(self.strips, index, copy, lengths))

    def joins(self) -> int:
        """How many joins there are to sew in all."""
        in_panels = sum(len(each.at) for copies in self.panels for each in copies if each is not None)
        return in_panels + sum(len(lengths) - 1 for copies in self.strips for lengths in copies)


T = TypeVar("T")


def _changed(rows: tuple[tuple[T, ...], ...], index: int, copy: int, value: T) -> tuple[tuple[T, ...], ...]:
    row = rows[index]
    row = (*row[: copy - 1], value, *row[copy:])
    return (*rows[:index], row, *rows[index + 1 :])


@dataclass(frozen=True, slots=True)
class Item:
    """What a shape of the question is: of which panel or strip (index), for which copies and parts.

    outline: what is cut, exactly; already mirrored if `mirrored`.
    """

    name: str
    strip: bool
    index: int
    labels: tuple[Label, ...]
    outline: Polygon
    mirrored: bool = False


@dataclass(frozen=True, slots=True)
class Asked:
    """A question and what its shapes (items) and cloths (lay) stand for."""

    question: Question
    items: tuple[Item, ...]
    lay: Lay

    def placements(self, placed: Iterable[Placed], *, renumbered: bool = True) -> tuple[Placement, ...]:
        """The layout in the words of the answer, in the order of the project. renumbered: equal layers so that the
        first is the one most is cut from; else as the lay has them."""
        labels = {index: list(item.labels) for index, item in enumerate(self.items)}
        found = []
        for each in sorted(placed, key=lambda each: (each.shape, each.flipped)):
            item, place = self.items[each.shape], self.lay.where[each.cloth]
            copy, part = labels[each.shape].pop(0)
            shape = as_laid(item.outline, each)
            flipped = item.mirrored != each.flipped
            angle = each.angle % 360
            found.append(
                Placement(
                    item.name, copy, part, place.garment, place.piece, place.layer, angle, flipped, shape
                )
            )
        order = {item.name: position for position, item in enumerate(self.items)}
        found.sort(key=lambda each: (order[each.panel], each.copy, each.part or 0))
        return _upper_layers_first(found) if renumbered else tuple(found)


def _upper_layers_first(placements: Sequence[Placement]) -> tuple[Placement, ...]:
    """Equal layers numbered anew, the one that most is cut from first: that is the one a person sees."""
    used: dict[tuple[int, str], Counter[int]] = defaultdict(Counter)
    for each in placements:
        used[each.garment, each.piece][each.layer] += 1
    number = {
        (*piece, layer): position
        for piece, layers in used.items()
        for position, (layer, _) in enumerate(layers.most_common(), 1)
    }
    return tuple(replace(each, layer=number[each.garment, each.piece, each.layer]) for each in placements)


def as_laid(outline: Polygon, placed: Placed) -> Polygon:
    """The outline mirrored, turned and moved as placed; exact at quarter turns."""
    cos, sin = _cos_sin(placed.angle)
    mirror = -1.0 if placed.flipped else 1.0
    return affinity.affine_transform(outline, [cos * mirror, -sin, sin * mirror, cos, placed.x, placed.y])


def _cos_sin(angle: float) -> tuple[float, float]:
    quarter, rest = divmod(angle % 360.0, 90.0)
    if rest == 0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    return math.cos(math.radians(angle)), math.sin(math.radians(angle))


def ask(lay: Lay, project: Project, plan: Plan) -> Asked:
    """The question whether the project, cut as planned, can be cut from the lay."""
    items: list[Item] = []
    shapes: list[Shape] = []
    for index, panel in enumerate(project.panels):
        for item in _panel_items(index, panel, plan.panels[index]):
            items.append(item)
            shapes.append(_panel_shape(panel, item))
    for index, strip in enumerate(project.strips):
        for item in _strip_items(index, strip, plan.strips[index]):
            items.append(item)
            shapes.append(_strip_shape(strip, item))
    gap = float(project.cutting_gap)  # an int would make the compiled search compile itself anew
    return Asked(Question(lay.cloths, tuple(shapes), gap), tuple(items), lay)


def _panel_items(index: int, panel: Panel, copies: Sequence[Piecing | None]) -> list[Item]:
    """One item for all copies that are whole, or two if only some of a mirrored pair are; one a part else."""
    half = panel.cut // 2 if panel.mirrored and not panel.flip else panel.cut
    if all(each is None for each in copies):
        labels: tuple[Label, ...] = tuple((copy, None) for copy in range(1, panel.cut + 1))
        return [Item(panel.name, False, index, labels, Polygon(panel.outline))]
    alike: dict[tuple[Piecing | None, bool], list[int]] = {}
    for copy, piecing in enumerate(copies, 1):
        alike.setdefault((piecing, copy > half), []).append(copy)
    items = []
    for (piecing, mirrored), numbers in alike.items():
        if piecing is None:
            cut: Sequence[tuple[int | None, Polygon]] = [(None, Polygon(panel.outline))]
        else:
            parts = parts_of(panel, piecing)
            if parts is None:
                raise ValueError(f"{panel.name} can't be pieced {piecing}")
            cut = list(enumerate(parts, 1))
        for part, outline in cut:
            if mirrored:
                outline = affinity.scale(outline, xfact=-1.0, origin=(0, 0))
            labels = tuple((copy, part) for copy in numbers)
            items.append(Item(panel.name, False, index, labels, outline, mirrored))
    return items


def pieces_of(item: Panel | Strip) -> tuple[str, ...]:
    """The pieces it may be cut from, named as cloths name them; empty where any will do."""
    return tuple(same_name(name) for name in item.pieces)


def _panel_shape(panel: Panel, item: Item) -> Shape:
    whole = item.labels[0][1] is None
    return Shape(
        name=item.name if whole else f"{item.name}, part {item.labels[0][1]}",
        outline=ring_of(item.outline),
        fabric=same_fabric(panel.fabric),
        count=len(item.labels),
        grain=panel.grain,
        turns=panel.rotations,
        off_grain=panel.off_grain,
        mirrored_pair=whole and panel.mirrored and not panel.flip and len(item.labels) == panel.cut,
        may_flip=whole and panel.flip,
        pieces=pieces_of(panel),
    )


def _strip_items(index: int, strip: Strip, copies: Sequence[tuple[float, ...]]) -> list[Item]:
    alike: dict[float, list[Label]] = {}
    for copy, lengths in enumerate(copies, 1):
        for part, length in enumerate(lengths, 1):
            alike.setdefault(length, []).append((copy, part if len(lengths) > 1 else None))
    return [
        Item(strip.name, True, index, tuple(labels), box(0.0, 0.0, strip.cut_width, length))
        for length, labels in alike.items()
    ]


def _strip_shape(strip: Strip, item: Item) -> Shape:
    return Shape(
        name=item.name if item.labels[0][1] is None else f"{item.name}, length {item.labels[0][1]}",
        outline=ring_of(item.outline),
        fabric=same_fabric(strip.fabric),
        count=len(item.labels),
        grain=strip.grain,
        pieces=pieces_of(strip),
    )

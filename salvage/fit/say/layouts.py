"""What is said of a layout: how much is placed where, and how safely."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from salvage.cloth.garment import Garment
from salvage.fit.cutting.sizes import scaled
from salvage.fit.layout.found import Layout
from salvage.fit.layout.remains import Kept
from salvage.fit.material.rectangles import ClearRectangle
from salvage.fit.say.phrases import against, listed, small_length
from salvage.project.project import Panel, Project
from salvage.units import Unit, format_size

_NO_SPARE = 0.1  # mm


def of_spare(spare: float, plus_minus: float, unit: Unit, *, sure: bool = True) -> str:
    """How the spare stands against the plus-minus. sure: False if more may be found by a longer search."""
    less, good = against(spare, plus_minus, unit)
    good_to = f"the measurement is good to {good}" if plus_minus > 0 else ""
    if plus_minus <= 0 and spare < _NO_SPARE:
        return "No spare was found: cut as exactly as it is drawn."
    if spare < plus_minus and not sure:
        return (
            f"A layout exists on the cloth as measured, with {less} to spare at every edge; {good_to}. Whether "
            "there is a layout with more to spare isn't settled: search longer, for example with --seconds 60, or "
            "measure by hand before cutting."
        )
    if spare < plus_minus:
        return (
            f"A layout exists, but it would still fit with only {less} less cloth at every edge, "
            f"and {good_to}: measure by hand before cutting."
        )
    told = f"All usable cloth could be at least {less} smaller at every edge and the project would fit"
    return f"{told}; {good_to}." if good_to else f"{told}."


def of_trade(kept: Kept, unit: Unit) -> str | None:
    """What the layout shown leaves, and what the one with most spare would; None where that is the same."""
    if not kept.shown.leaves_more_than(kept.roomiest) or kept.spare >= kept.most_spare - _NO_SPARE:
        return None
    number = kept.shown.differs_from(kept.roomiest) or 0
    other = kept.roomiest.rectangles[number : number + 1]
    leaves = f"{_size(other[0][0], unit)} would be left" if other else "no such rectangle would be left"
    beside = " beside the largest" if number else ""
    return (
        f"As it is laid here, {small_length(kept.spare, unit, up=False)} are to spare at every edge, and a rectangle of "
        f"{_size(kept.shown.rectangles[number][0], unit)} is left{beside}; with "
        f"{small_length(kept.most_spare, unit, up=False)} to spare {leaves}."
    )


def _size(stretch: ClearRectangle, unit: Unit) -> str:
    return format_size((stretch.width, stretch.length), unit)


def of_layout(layout: Layout, garments: Sequence[Garment]) -> str:
    """How much is placed where."""
    count = len(layout.placed)
    shapes = {1: "the one shape fits", 2: "both shapes to cut fit"}.get(
        count, f"all {count} shapes to cut fit"
    )
    return f"{shapes[0].upper()}{shapes[1:]}, on {_where(layout, garments)}."


def _where(layout: Layout, garments: Sequence[Garment]) -> str:
    """`back and left sleeve`: the pieces that something lies on, with the garment's name where there are several."""
    where = layout.asked.lay.where
    used = dict.fromkeys((where[each.cloth].garment, where[each.cloth].piece) for each in layout.placed)
    several = len({garment for garment, _ in used}) > 1
    return listed([f"{piece} of {garments[garment].name}" if several else piece for garment, piece in used])


def of_choice(suffices: Sequence[int], used: int | None, garments: Sequence[Garment]) -> str | None:
    """Which garments suffice alone."""
    if sum(bool(garment.pieces) for garment in garments) < 2:
        return None
    if not suffices:
        return "No garment was found to suffice alone; the layout uses them together."
    names = [garments[index].name for index in suffices]
    alone = f"{names[0]} suffices alone" if len(names) == 1 else f"{listed(names, 'and')} each suffice alone"
    others = [each.name for index, each in enumerate(garments) if index != used]
    keeps = (
        f"; the layout uses {garments[used].name} and leaves {listed(others)} whole"
        if used is not None
        else ""
    )
    return f"{alone}{keeps}."


def of_unsettled(
    layout: Layout | None, garments: Sequence[Garment], seconds: float, percent: float | None
) -> str:
    """What part of the project lies where, and at what percentage of its size all of it was found to fit."""
    took = f"{seconds:.0f} s" if seconds >= 1 else "less than a second"
    size = "" if percent is None else f" At {percent:.0f} % of its size all of it fits."
    if layout is None or not layout.placed:
        return f"In {took} the search found no layout, and no proof that there is none.{size}"
    total = len(layout.placed) + len(layout.unplaced)
    names = Counter(layout.asked.items[index].name for index in layout.unplaced)
    left = listed([f"{name} ({count})" if count > 1 else name for name, count in names.items()])
    area = layout.area_placed()
    share = min(99, math.floor(100 * area / (area + layout.area_missing())))
    return (
        f"In {took} the search laid out {len(layout.placed)} of {total} shapes, {share} % of the cloth asked for, on "
        f"{_where(layout, garments)}; left out: {left}. Whether all of it fits isn't known: neither a layout for all of "
        f"it was found nor a proof that there is none.{size}"
    )


def of_scale(percent: float | None, project: Project) -> str | None:
    """The size at which it fits, and what the largest panel then measures."""
    if percent is None:
        return None
    told = f"It fits when the whole project is made at {percent:.0f} % of its size"
    smaller = scaled(project, percent)
    pairs = list(zip(project.panels, smaller.panels, strict=True)) if smaller is not None else []
    pairs = [(before, after) for before, after in pairs if before.finished and after.finished]
    if not pairs:
        return f"{told}."
    before, after = max(pairs, key=lambda pair: math.prod(pair[0].finished or ()))
    new, old = (_finished(panel, project.unit) for panel in (after, before))
    return f"{told}: {before.name} is then finished {new} instead of {old}."


def _finished(panel: Panel, unit: Unit) -> str:
    width, length = panel.finished or (0.0, 0.0)
    return format_size((width, length), unit)

"""What a project leaves open: how many of a panel, how long a strip. As much as a search finds room for.

Open numbers are settled one after the other, panels before strips, in the order of the project: each as
large as it will go with those before it as they were settled, and those after it at their least.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from shapely.geometry import Polygon

from salvage.fit.ask import Plan
from salvage.fit.layout.arrange import arrange
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.fill import with_other_strip
from salvage.fit.layout.found import Layout, attempt
from salvage.fit.material.lay import Lay, same_fabric
from salvage.project.project import Panel, Project, Strip

_TRY, _LONGEST_TRY = 0.25, 1.5  # share of what is left, and seconds, for each number tried
_FOR_BESIDE, _LEAST_BESIDE = (
    0.6,
    0.5,
)  # share of a strip's time, for its length beside all else; seconds a try
_FINE, _FINE_SHARE = 5, 0.01  # mm, and share of its length, to which a strip's length is worth knowing
_MOST = 500  # copies; more are no longer worth a plan

Change = Callable[[int], Project]


def is_open(project: Project) -> bool:
    """Whether the project leaves a number or a length open."""
    return bool(copies_left_open(project) or lengths_left_open(project))


def copies_left_open(project: Project) -> dict[str, int]:
    """How many copies of each panel and strip that leaves it to the cloth: the least, or what was found."""
    of_panels = {panel.name: panel.cut for panel in project.panels if panel.many}
    return of_panels | {strip.name: strip.cut for strip in project.strips if strip.many}


def lengths_left_open(project: Project) -> dict[str, float]:
    """The same for lengths of strips, mm."""
    return {strip.name: strip.length for strip in project.strips if strip.longest}


def most(lay: Lay, project: Project, budget: Budget) -> Layout | None:
    """A layout of the project with its open numbers as large as was found; None if not even the least fits."""
    found = arrange(lay, project, budget.part(0.4))
    if not found.complete:
        return None
    left = len(copies_left_open(project)) + len(lengths_left_open(project))
    for index, panel in enumerate(project.panels):
        if panel.many:
            part, left = budget.part(1 / left), left - 1
            change, pairs = _copies_of_panel(found.project, index), 2 if panel.mirrored else 1
            high = int(_room_for(lay, found.project, panel) / pairs)
            found = _most_copies(lay, found, change, panel.name, min(high, _MOST), part, pairs)
    for index, strip in enumerate(project.strips):
        if strip.many:
            part, left = budget.part(1 / left), left - 1
            high = int(_room_for(lay, found.project, strip))
            change = _copies_of_strip(found.project, index)
            found = _most_copies(lay, found, change, strip.name, min(high, _MOST), part)
        if strip.longest:
            part, left = budget.part(1 / left), left - 1
            now = found.project.strips[index]
            high = int(_room_for(lay, found.project, now) / now.cut * now.length)
            change = _length_of(found.project, index)
            found = _longest(lay, found, change, index, int(now.length), high, part)
    return found


def one_more(project: Project) -> Project | None:
    """The project with one more (pair) of the only panel of which it asks for many; None where that isn't plain."""
    many = [index for index, panel in enumerate(project.panels) if panel.many]
    if len(many) != 1 or any(strip.many or strip.longest for strip in project.strips):
        return None
    panel = project.panels[many[0]]
    return _copies_of_panel(project, many[0])(panel.cut // (2 if panel.mirrored else 1) + 1)


def _copies_of_panel(project: Project, index: int) -> Change:
    """The project with so many copies of a panel, or so many pairs."""

    def change(count: int) -> Project:
        panel = project.panels[index]
        panel = replace(panel, cut=count * (2 if panel.mirrored else 1))
        return replace(project, panels=(*project.panels[:index], panel, *project.panels[index + 1 :]))

    return change


def _copies_of_strip(project: Project, index: int) -> Change:
    return lambda count: _with_strip(project, index, replace(project.strips[index], cut=count))


def _length_of(project: Project, index: int) -> Change:
    return lambda length: _with_strip(project, index, replace(project.strips[index], length=float(length)))


def _with_strip(project: Project, index: int, strip: Strip) -> Project:
    return replace(project, strips=(*project.strips[:index], strip, *project.strips[index + 1 :]))


def _room_for(lay: Lay, project: Project, item: Panel | Strip) -> float:
    """How many copies there is cloth for, by area alone, with all else of the fabric cut too."""
    fabric = same_fabric(item.fabric)
    taken = sum(panel.cut * _area(panel) for panel in project.panels if _is_beside(panel, item, fabric))
    taken += sum(strip.cut * _area(strip) for strip in project.strips if _is_beside(strip, item, fabric))
    return max(0.0, (lay.area(fabric) - taken) / _area(item))


def _is_beside(one: Panel | Strip, item: Panel | Strip, fabric: str) -> bool:
    return one.name != item.name and same_fabric(one.fabric) == fabric


def _area(item: Panel | Strip) -> float:
    return float(Polygon(item.outline).area) if isinstance(item, Panel) else item.cut_width * item.length


def _most_copies(
    lay: Lay, found: Layout, change: Change, name: str, high: int, budget: Budget, per: int = 1
) -> Layout:
    """The layout with most copies found. per: copies a count stands for; high: counts that there is cloth for.

    It begins with a half and with all of them: as many as the search lays of those, where nothing else is left
    out, do fit. Then one more at a time, until the search finds no way.
    """
    low = 1
    for tried in sorted({high, (high + 1) // 2}):
        if low < tried and not budget.over():
            layout = arrange(lay, change(tried), budget.part(_TRY, at_most=_LONGEST_TRY))
            found, low = _better(lay, found, layout, change, name, low, per, budget)
    while low < high and not budget.over():
        layout = arrange(lay, change(low + 1), budget.part(_TRY * 2, at_most=2 * _LONGEST_TRY))
        if not layout.complete:
            break
        found, low = layout, low + 1
    return found


def _better(
    lay: Lay, found: Layout, layout: Layout, change: Change, name: str, low: int, per: int, budget: Budget
) -> tuple[Layout, int]:
    """What is laid of a layout that asks for too many, taken for a layout of so many, if that is more than low."""
    items = layout.asked.items
    if any(items[index].name != name for index in layout.unplaced):
        return found, low
    count = sum(items[each.shape].name == name for each in layout.placed) // per
    if count <= low:
        return found, low
    project = change(count)
    plan = Plan.whole(project) if layout.plan.joins() == 0 else None
    start = layout.placed if per == 1 else ()
    if layout.complete:
        return layout, count
    if plan is not None:
        fewer = attempt(lay, project, plan, budget.part(_TRY, at_most=_LONGEST_TRY), start=start)
    else:
        fewer = arrange(lay, project, budget.part(_TRY, at_most=_LONGEST_TRY))
    return (fewer, count) if fewer.complete else (found, low)


def _longest(
    lay: Lay, found: Layout, change: Change, index: int, low: int, high: int, budget: Budget
) -> Layout:
    """The layout with the longest strip found, mm to _FINE: doubled until it fails, then halved in between.

    First from what the other shapes leave where they lie, which takes next to no time; then with everything laid
    anew. index: of the strip. low: fits, and is in the layout found; high: the most that there is cloth for.
    """
    beside = budget.part(_FOR_BESIDE)
    fails = high + 1
    while low < high and fails - low > max(_FINE, _FINE_SHARE * low) and not beside.over():
        tried = min(2 * low, high) if fails > high else (low + fails) // 2
        layout = with_other_strip(
            found, change(tried), index, beside.part(_TRY, at_most=_LONGEST_TRY, at_least=_LEAST_BESIDE)
        )
        if layout.complete:
            found, low = layout, tried
        else:
            fails = tried
    fails = high + 1
    while low < high and fails - low > max(_FINE, _FINE_SHARE * low) and not budget.over():
        tried = min(2 * low, high) if fails > high else (low + fails) // 2
        layout = arrange(lay, change(tried), budget.part(_TRY, at_most=_LONGEST_TRY))
        if layout.complete:
            found, low = layout, tried
        else:
            fails = tried
    return found

"""Find a layout: whole first, then with the joins the project allows, as few as will do."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

from shapely.geometry import Polygon

from salvage.fit.ask import Item, Plan
from salvage.fit.cutting.joins import JoinWay, Piecing, extent, parts_of, piecings, refined
from salvage.fit.cutting.strips import equal_lengths, most_lengths
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.fill import filled
from salvage.fit.layout.found import Layout, attempt, nothing_laid
from salvage.fit.material.lay import Lay
from salvage.fit.material.rectangles import longest_run
from salvage.fit.question import Cloth, allowed_turns
from salvage.project.project import Grain, Panel, Project

_OPTIONS = 12  # ways to piece one panel that are tried in one round
_ROUNDS = 8  # how often the best plans so far are loosened by another join
_BEAM = 3  # plans kept from one round to the next
_MOST_PLANS = 24  # plans tried from one plan
_GLANCE = 0.8  # seconds; building the tables of curved panels on a photographed garment takes most of it
_MOST_TRIES = 40  # ways to lay out what may be joined
_SAME_BARE = 4  # of them begin from the same layout of what can't be joined
_TRIES_MORE = 3  # of them, once there is one, for another with fewer joins
_RUN_ERROR = 8.0  # mm by which the longest run found may miss the longest there is
_ANY_TURNS = (0.0, 90.0, 45.0, 135.0)  # tried for runs where every angle is allowed


def arrange(
    lay: Lay, project: Project, budget: Budget, *, plan: Plan | None = None, hopeful: bool = True
) -> Layout:
    """The best layout found: complete with few joins if possible, else the one that leaves out least.

    plan: where to begin instead of with everything whole. hopeful: False if that plan is known to fail,
    so that little time is spent on it.
    """
    plan = plan or Plan.whole(project)
    loose = _loose(project)
    if not loose:
        return attempt(lay, project, plan, budget)
    quick = nothing_laid(lay, project, plan)
    if all(panel.name in loose for panel in project.panels):  # perhaps all is soon cut one by one
        # strips alone are shared out by a program that needs its time; the search seldom betters it
        quick = filled(quick, budget.part(0.15 if project.panels else 0.8))
        if quick.complete and quick.plan.joins() == 0:
            return quick
    for_whole = budget.part(0.7 if hopeful and not quick.complete else 0.1, at_least=_GLANCE)
    first = attempt(lay, project, plan, for_whole)
    if first.complete:
        return first
    best = _joined(first, loose, budget.part(0.6), best=quick)
    return best if best.complete else _loosened(best, budget)


def again(found: Layout, lay: Lay, budget: Budget) -> Layout:
    """The found layout's plan on another lay; joins may move."""
    joined = found.plan.joins() > 0
    start = found.placed if lay.where == found.asked.lay.where else ()
    layout = attempt(lay, found.project, found.plan, budget.part(0.3) if joined else budget, start=start)
    if layout.complete or not joined:
        return layout
    whole = Plan.whole(found.project)
    loose = _loose(found.project)
    bare = attempt(lay, found.project, whole, budget.part(0.3), without=loose)
    return _joined(bare, loose, budget)


def _joined(first: Layout, loose: frozenset[str], budget: Budget, *, best: Layout | None = None) -> Layout:
    """What is left out cut from what is left of the cloth, joined where it must be; the one with fewest joins.

    First with all that is placed left where it lies, then with all that may be joined taken up, the largest
    panel or another one first, pushed into one corner of the cloth or another. best: what is there to better.
    """
    best = first if best is None or _better(first, best) else best
    if first.project.panels:
        best = _the_better(filled(first, budget.part(0.4)), best)
    rng = random.Random(budget.seed)
    whole = Plan.whole(first.project)
    # on two stretches of one piece that are near each other panels and lengths must keep the gap too
    lays = first.asked.lay.parted(first.project.cutting_gap) or (first.asked.lay,)
    bare = nothing_laid(lays[0], first.project, whole)
    only_strips = not any(panel.name in loose for panel in first.project.panels)
    for tried in range(_MOST_TRIES):
        enough = _TRIES_MORE if best.plan.joins() > 1 else 0
        if budget.over() or (best.complete and tried >= enough):
            break
        if tried % _SAME_BARE == 0:
            part = replace(budget.part(0.2), seed=budget.seed + tried)
            bare = attempt(lays[tried // _SAME_BARE % len(lays)], first.project, whole, part, without=loose)
        if tried == 0:
            layout = filled(bare, budget.part(0.9 if only_strips else 0.5))
        else:
            angle = rng.uniform(0, 2 * math.pi)
            weight = {name: rng.uniform(0.6, 1.6) for name in sorted(loose)}
            layout = filled(
                bare,
                budget.part(0.5),
                corner=(math.cos(angle), math.sin(angle)),
                order=lambda panel, weight=weight: -Polygon(panel.outline).area * weight.get(panel.name, 1.0),  # type: ignore[misc]
            )
        best = _the_better(layout, best)
        if not first.project.panels:
            break  # strips alone are shared out once, the best way that is found in the time
    return best


def _the_better(one: Layout, other: Layout) -> Layout:
    return one if _better(one, other) else other


def _better(one: Layout, other: Layout) -> bool:
    """Whether a layout leaves out less, or as much with fewer joins."""
    if one.complete and other.complete:
        return one.plan.joins() < other.plan.joins()
    return one.complete or (not other.complete and one.area_placed() > other.area_placed() + 1e-6)


def _loose(project: Project) -> frozenset[str]:
    """Names of the panels and strips that may have a join (more)."""
    panels = {each.name for each in project.panels if each.joins > 0}
    return frozenset(panels | {each.name for each in project.strips if most_lengths(each) > 1})


def _loosened(first: Layout, budget: Budget) -> Layout:
    """Add joins, a panel or a strip at a time, to the plans that leave out least, until all is placed."""
    best, beam = first, [first]
    tried = {first.plan}
    for _ in range(_ROUNDS):
        level: list[Layout] = []
        for base in beam:
            for plan in islice((each for each in _looser(base) if each not in tried), _MOST_PLANS):
                if budget.over():
                    return min((best, *level), key=Layout.area_missing)
                tried.add(plan)
                layout = attempt(
                    base.asked.lay,
                    base.project,
                    plan,
                    budget.part(0.1, at_most=2 * _GLANCE, at_least=_GLANCE),
                )
                if not layout.complete:
                    layout = filled(layout, budget.part(0.1, at_most=_GLANCE))
                if layout.complete:
                    return layout
                level.append(layout)
        if not level:
            break
        level.sort(key=Layout.area_missing)
        beam = level[:_BEAM]
        longer = attempt(first.asked.lay, first.project, beam[0].plan, budget.part(0.15, at_most=2.0))
        if longer.complete:
            return longer
        best = min((best, longer, *beam), key=Layout.area_missing)
    return best


def _looser(layout: Layout) -> Iterator[Plan]:
    """Plans with more joins than the layout's: for what has no place whole, then for what was left out."""
    stuck = layout.stuck()
    if stuck is not None:
        yield from _plans_for(layout, stuck, {copy for copy, _ in stuck.labels})
        return
    missing = [layout.asked.items[index] for index in dict.fromkeys(layout.unplaced)]
    others = sorted(layout.asked.items, key=lambda item: -item.outline.area)
    seen = set()
    for item in (*missing, *others):
        copy = item.labels[-1][0]
        if (item.name, copy) not in seen:
            seen.add((item.name, copy))
            yield from _plans_for(layout, item, {copy})


def _plans_for(layout: Layout, item: Item, copies: set[int]) -> Iterator[Plan]:
    if item.strip:
        yield from _longer_strip_plans(layout, item.index, copies)
    else:
        yield from _more_parts_plans(layout, item.index, copies)


def _more_parts_plans(layout: Layout, index: int, copies: set[int]) -> Iterator[Plan]:
    panel = layout.project.panels[index]
    now = layout.plan.panels[index][min(copies) - 1]
    if panel.joins < 1 or (now is not None and len(now.at) >= panel.joins):
        return
    free = layout.free() if now is None else []
    runs_free = {way: _panel_run(layout, panel, way, free) for way in JoinWay} if now is None else {}
    options = piecings(panel, tuple(runs_free.items())) if now is None else refined(panel, now)
    whole = [[cloth.polygon] for cloth in layout.asked.lay.cloths]
    longest = {way: _panel_run(layout, panel, way, whole) for way in JoinWay}
    for piecing in [each for each in options if _may_fit(panel, each, longest)][:_OPTIONS]:
        plan = layout.plan
        for copy in copies:
            plan = plan.with_panel(index, copy, piecing)
        yield plan


def _may_fit(panel: Panel, piecing: Piecing, longest: dict[JoinWay, float]) -> bool:
    """False where a part of a rectangular panel is longer than any run of cloth of its breadth."""
    if len(panel.outline) != 4 or panel.grain not in (Grain.ALONG, Grain.ACROSS):
        return True
    parts = parts_of(panel, piecing) or ()
    return all(extent(part, piecing.way) <= longest[piecing.way] + _RUN_ERROR for part in parts)


def _panel_run(layout: Layout, panel: Panel, way: JoinWay, cloth_parts: list[list[Polygon]]) -> float:
    """The longest clear run at the panel's full width (ACROSS) or full length (ALONG), mm."""
    left, bottom, right, top = Polygon(panel.outline).bounds
    breadth = right - left if way is JoinWay.ACROSS else top - bottom
    longest = 0.0
    for cloth, polygons in zip(layout.asked.lay.cloths, cloth_parts, strict=True):
        for turn in _turns_of(layout, panel.name, cloth):
            direction = cloth.grain + turn + (0.0 if way is JoinWay.ACROSS else 90.0)
            for polygon in polygons:
                run = longest_run(polygon, breadth, direction)
                longest = max(longest, run.length if run else 0.0)
    return longest


def _turns_of(layout: Layout, name: str, cloth: Cloth) -> tuple[float, ...]:
    """Turns of the named panel or strip on this cloth, opposite ones once; none if of another fabric."""
    for shape, item in zip(layout.asked.question.shapes, layout.asked.items, strict=True):
        if item.name == name:
            if shape.fabric != cloth.fabric:
                return ()
            turns = allowed_turns(shape, cloth)
            one_each = {turn % 180: turn for turn in reversed(turns if turns is not None else _ANY_TURNS)}
            return tuple(one_each.values())
    return ()


def _longer_strip_plans(layout: Layout, index: int, copies: set[int]) -> Iterator[Plan]:
    strip = layout.project.strips[index]
    count = len(layout.plan.strips[index][min(copies) - 1]) + 1
    if count > most_lengths(strip):
        return
    plan = layout.plan
    for copy in copies:
        plan = plan.with_strip(index, copy, equal_lengths(strip, count))
    yield plan

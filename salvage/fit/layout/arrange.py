"""Find a layout: whole first, then with the joins the project allows, as few as will do."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice

import shapely
from shapely import affinity
from shapely.geometry import Polygon

from salvage.fit.answer import Placement
from salvage.fit.ask import Asked, Item, Plan, ask, put
from salvage.fit.claim import NoPlace, Proof
from salvage.fit.cutting.joins import Piecing, Way, extent, parts_of, piecings, refined
from salvage.fit.cutting.strips import equal_lengths, lengths_with, most_lengths, shared_out
from salvage.fit.layout.budget import Budget
from salvage.fit.material.lay import Lay, Where
from salvage.fit.material.stretch import Stretch, longest_run, runs
from salvage.fit.question import Cloth, Placed, allowed_turns, angle_of_turn
from salvage.project.project import Grain, Panel, Project, Strip
from salvage.shapes import polygons_of

_OPTIONS = 12  # ways to piece one panel that are tried in one round
_ROUNDS = 8  # how often the best plans so far are loosened by another join
_BEAM = 3  # plans kept from one round to the next
_MOST_PLANS = 24  # plans tried from one plan
_GLANCE = 0.8  # seconds; building the tables of curved panels on a photographed garment takes most of it
_START_INSIDE = 0.01  # mm
_RUN_ERROR = 8.0  # mm by which the longest run found may miss the longest there is
_ANY_TURNS = (0.0, 90.0, 45.0, 135.0)  # tried for runs where every angle is allowed


@dataclass(frozen=True, slots=True)
class Layout:
    """What a search gave for one plan: placed and unplaced (shape index, one entry a copy), or a proof.

    seconds: what the search took.
    """

    project: Project
    plan: Plan
    asked: Asked
    placed: tuple[Placed, ...]
    unplaced: tuple[int, ...]
    proof: Proof | None = None
    seconds: float = 0.0

    @property
    def complete(self) -> bool:
        """True if everything is placed."""
        return not self.unplaced

    def placements(self) -> tuple[Placement, ...]:
        """The layout in the words of the answer."""
        return self.asked.placements(self.placed)

    def stuck(self) -> Item | None:
        """What the proof says has no place on any cloth, as it is cut now."""
        if self.proof is None or not isinstance(self.proof.claim, NoPlace):
            return None
        (named,) = self.proof.panels
        pairs = zip(self.asked.question.shapes, self.asked.items, strict=True)
        return next((item for shape, item in pairs if shape.name == named), None)

    def area_missing(self) -> float:
        """mm^2 of what isn't placed."""
        return sum(self.asked.items[index].outline.area for index in self.unplaced)

    def free(self) -> list[list[Polygon]]:
        """For each cloth, what of it is more than the cutting gap away from all that is placed on its layer."""
        gap = self.asked.question.gap
        taken: dict[Where, list[Polygon]] = {}
        where = self.asked.lay.where
        for each in self.placed:
            shape = put(self.asked.items[each.shape].outline, each)
            taken.setdefault(where[each.cloth], []).append(
                shape.buffer(gap + 1e-6, join_style="mitre") if gap else shape
            )
        return [
            polygons_of(cloth.polygon.difference(shapely.union_all(taken[place])))
            if place in taken
            else [cloth.polygon]
            for cloth, place in zip(self.asked.lay.cloths, where, strict=True)
        ]


def attempt(
    lay: Lay,
    project: Project,
    plan: Plan,
    budget: Budget,
    *,
    without: frozenset[str] = frozenset(),
    start: Sequence[Placed] = (),
) -> Layout:
    """Search with one plan. without: names of panels and strips left out of it; start: an earlier layout."""
    found = _searched(lay, project, plan, budget, without, start)
    if not _crowded(found):
        return _judged(found, budget)
    # The search sees each stretch by itself; panels on two of one piece must keep the cutting gap too.
    for parted in lay.parted(project.cutting_gap):
        tried = _searched(parted, project, plan, budget, without, start)
        if len(tried.unplaced) <= len(found.unplaced) and not _crowded(tried):
            return _judged(tried, budget)
    return _thinned_out(found)


def _judged(layout: Layout, budget: Budget) -> Layout:
    """The layout; with nothing placed if it is complete and the checker does not accept it."""
    if not layout.complete or budget.accepts is None:
        return layout
    if budget.accepts(layout.project, layout.placements()):
        return layout
    everything = tuple(index for index, item in enumerate(layout.asked.items) for _ in item.labels)
    return replace(layout, placed=(), unplaced=everything)


def _crowded(layout: Layout) -> set[int]:
    """Positions in `placed` of what lies too near to something on another stretch of the same piece."""
    gap = layout.asked.question.gap
    if gap <= 0:
        return set()
    where = layout.asked.lay.where
    place = [(where[p.cloth].garment, where[p.cloth].piece, where[p.cloth].layer) for p in layout.placed]
    shapes = [put(layout.asked.items[p.shape].outline, p) for p in layout.placed]
    return {
        j
        for j, there in enumerate(place)
        for i in range(j)
        if place[i] == there
        and layout.placed[i].cloth != layout.placed[j].cloth
        and shapes[i].distance(shapes[j]) < gap - 1e-7
    }


def _thinned_out(layout: Layout) -> Layout:
    crowded = _crowded(layout)
    kept = tuple(each for n, each in enumerate(layout.placed) if n not in crowded)
    gone = tuple(layout.placed[n].shape for n in crowded)
    return replace(layout, placed=kept, unplaced=tuple(sorted((*layout.unplaced, *gone))))


def _searched(
    lay: Lay,
    project: Project,
    plan: Plan,
    budget: Budget,
    without: frozenset[str],
    start: Sequence[Placed],
) -> Layout:
    asked = ask(lay, project, plan)
    kept = [index for index, item in enumerate(asked.items) if item.name not in without]
    everything = tuple(index for index, item in enumerate(asked.items) for _ in item.labels)
    if not kept or budget.over() or _too_much(asked, kept):
        return Layout(project, plan, asked, (), everything)
    question = replace(asked.question, shapes=tuple(asked.question.shapes[index] for index in kept))
    usable_start = _on_cloth(start, asked) if len(kept) == len(asked.items) else ()
    decision = budget.decide(question, start=usable_start)
    placed = tuple(replace(each, shape=kept[each.shape]) for each in decision.placed)
    missing = Counter(everything) - Counter(each.shape for each in placed)
    unplaced = tuple(sorted(missing.elements()))
    return Layout(project, plan, asked, placed, unplaced, decision.proof, decision.seconds)


def _on_cloth(start: Sequence[Placed], asked: Asked) -> tuple[Placed, ...]:
    """Those of an earlier layout that still lie, but for hollows and holes, on the cloth of the question."""
    hulls = [cloth.polygon.convex_hull.buffer(-_START_INSIDE) for cloth in asked.lay.cloths]
    return tuple(
        each for each in start if hulls[each.cloth].covers(put(asked.items[each.shape].outline, each))
    )


def _too_much(asked: Asked, kept: Sequence[int]) -> bool:
    """True if these shapes of some fabric have more area than there is cloth, by more than rounding."""
    wanted: dict[str, float] = {}
    for shape, item in ((asked.question.shapes[index], asked.items[index]) for index in kept):
        wanted[shape.fabric] = wanted.get(shape.fabric, 0.0) + item.outline.area * len(item.labels)
    return any(area > asked.lay.area(fabric) * (1 + 1e-9) for fabric, area in wanted.items())


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
    first = attempt(lay, project, plan, budget.part(0.35 if hopeful else 0.1, at_least=_GLANCE))
    if first.complete:
        return first
    strips = frozenset(each.name for each in project.strips) & loose
    if strips and (first.proof is not None or not hopeful):
        filled = _panels_first(lay, project, plan, strips, budget.part(0.6))
        if filled.complete:
            return _fewer_lengths(filled, budget.part(0.3))
        first = filled if filled.placed else first
    return _loosened(first, budget)


def again(found: Layout, lay: Lay, budget: Budget) -> Layout:
    """The found layout's plan on another lay; strips may be joined from other lengths than before."""
    joined = frozenset(
        strip.name
        for strip, copies in zip(found.project.strips, found.plan.strips, strict=True)
        if any(len(lengths) > 1 for lengths in copies)
    )
    start = found.placed if lay.where == found.asked.lay.where else ()
    layout = attempt(lay, found.project, found.plan, budget.part(0.5) if joined else budget, start=start)
    if layout.complete or not joined:
        return layout
    return _panels_first(lay, found.project, found.plan, joined, budget)


def _panels_first(lay: Lay, project: Project, plan: Plan, strips: frozenset[str], budget: Budget) -> Layout:
    """Lay out all but these strips, then cut the strips from what is left."""
    bare = attempt(lay, project, plan, budget, without=strips)
    return strips_filled(bare, budget) or bare


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
            filled = strips_filled(base, budget)
            if filled is not None:
                return _fewer_lengths(filled, budget.part(0.5))
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
                layout = layout if layout.complete else strips_filled(layout, budget) or layout
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
    runs_free = {way: _panel_run(layout, panel, way, free) for way in Way} if now is None else {}
    options = piecings(panel, tuple(runs_free.items())) if now is None else refined(panel, now)
    whole = [[cloth.polygon] for cloth in layout.asked.lay.cloths]
    longest = {way: _panel_run(layout, panel, way, whole) for way in Way}
    for piecing in [each for each in options if _may_fit(panel, each, longest)][:_OPTIONS]:
        plan = layout.plan
        for copy in copies:
            plan = plan.with_panel(index, copy, piecing)
        yield plan


def _may_fit(panel: Panel, piecing: Piecing, longest: dict[Way, float]) -> bool:
    """False where a part of a rectangular panel is longer than any run of cloth of its breadth."""
    if len(panel.outline) != 4 or panel.grain not in (Grain.ALONG, Grain.ACROSS):
        return True
    parts = parts_of(panel, piecing) or ()
    return all(extent(part, piecing.way) <= longest[piecing.way] + _RUN_ERROR for part in parts)


def _panel_run(layout: Layout, panel: Panel, way: Way, cloth_parts: list[list[Polygon]]) -> float:
    """The longest clear run at the panel's full width (ACROSS) or full length (ALONG), mm."""
    left, bottom, right, top = Polygon(panel.outline).bounds
    breadth = right - left if way is Way.ACROSS else top - bottom
    longest = 0.0
    for cloth, polygons in zip(layout.asked.lay.cloths, cloth_parts, strict=True):
        for turn in _turns_of(layout, panel.name, cloth):
            direction = cloth.grain + turn + (0.0 if way is Way.ACROSS else 90.0)
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
    found = sorted((run.length for _, _, run in _strip_runs(layout, strip, layout.free())), reverse=True)
    for lengths in (equal_lengths(strip, count), lengths_with(strip, count, tuple(found))):
        if lengths is not None:
            plan = layout.plan
            for copy in copies:
                plan = plan.with_strip(index, copy, lengths)
            yield plan


def _strip_runs(layout: Layout, strip: Strip, free: list[list[Polygon]]) -> list[tuple[int, float, Stretch]]:
    """(cloth, angle, run): clear runs of the strip's cut width, the best direction for each bit of cloth."""
    gap = layout.asked.question.gap
    found = []
    for index, (cloth, polygons) in enumerate(zip(layout.asked.lay.cloths, free, strict=True)):
        for polygon in polygons:
            if polygon.area < strip.cut_width * strip.shortest:
                continue
            best: tuple[float, list[Stretch]] = (0.0, [])
            for turn in _turns_of(layout, strip.name, cloth):
                tried = runs(polygon, strip.cut_width, cloth.grain + turn, shortest=strip.shortest, gap=gap)
                # longest first counts most: few joins
                if tried and (not best[1] or tried[0].length > best[1][0].length):
                    best = (turn, tried)
            found += [(index, angle_of_turn(best[0], cloth), run) for run in best[1]]
    return sorted(found, key=lambda each: -each[2].length)


def strips_filled(layout: Layout, budget: Budget) -> Layout | None:
    """The layout completed by cutting the missing strips from what is left; None if that can't be."""
    filled = _filled(layout)
    filled = None if filled is None else _judged(filled, budget)
    return filled if filled is not None and filled.complete else None


def _filled(layout: Layout) -> Layout | None:
    missing = {(layout.asked.items[i].name) for i in layout.unplaced}
    strips = {strip.name: index for index, strip in enumerate(layout.project.strips)}
    if not missing or not missing <= strips.keys():
        return None
    bare = _without(layout, missing)
    free = bare.free()
    plan, extra = layout.plan, []
    for name in sorted(missing, key=lambda name: -layout.project.strips[strips[name]].length):
        strip = layout.project.strips[strips[name]]
        for copy in range(1, strip.cut + 1):
            found = _strip_runs(layout, strip, free)
            lengths = shared_out(strip, [run.length for _, _, run in found])
            if lengths is None:
                return None
            plan = plan.with_strip(strips[name], copy, lengths)
            for length, (cloth, angle, run) in zip(lengths, found, strict=False):
                placed = _at_start(run, angle, cloth)
                extra.append((name, copy, length, placed))
                cut = put(shapely.box(0, 0, strip.cut_width, length), placed)
                taken = cut.buffer(layout.asked.question.gap + 1e-6, join_style="mitre")
                place = bare.asked.lay.where[cloth]
                for index in (n for n, each in enumerate(bare.asked.lay.where) if each == place):
                    free[index] = [
                        part for polygon in free[index] for part in polygons_of(polygon.difference(taken))
                    ]
    return _with_strips(bare, plan, extra)


def _without(layout: Layout, names: set[str]) -> Layout:
    kept = tuple(each for each in layout.placed if layout.asked.items[each.shape].name not in names)
    return replace(layout, placed=kept, proof=None)


def _at_start(run: Stretch, angle: float, cloth: int) -> Placed:
    """A strip's length laid at the lower end of a run."""
    left, bottom, _, _ = affinity.rotate(run.polygon, -angle, origin=(0, 0)).bounds
    corner = affinity.rotate(shapely.Point(left, bottom), angle, origin=(0, 0))
    return Placed(0, cloth, angle, False, corner.x, corner.y)


def _with_strips(bare: Layout, plan: Plan, extra: list[tuple[str, int, float, Placed]]) -> Layout:
    """The complete layout of a plan from one without some strips and where their lengths lie."""
    asked = ask(bare.asked.lay, bare.project, plan)
    index_of: dict[tuple[str, object], int] = {}
    for index, item in enumerate(asked.items):
        for copy, part in item.labels:
            index_of.setdefault((item.name, (copy, part)), index)
    placed = []
    seen: dict[int, list[int]] = {}
    for each in bare.placed:
        old = bare.asked.items[each.shape]
        label = old.labels[len(seen.setdefault(each.shape, []))]
        seen[each.shape].append(0)
        placed.append(replace(each, shape=index_of[old.name, label]))
    part_of: dict[tuple[str, int], int] = {}
    for name, copy, length, where in extra:
        part_of[name, copy] = part_of.get((name, copy), 0) + 1
        strip_index = next(i for i, s in enumerate(bare.project.strips) if s.name == name)
        lengths = plan.strips[strip_index][copy - 1]
        part = part_of[name, copy] if len(lengths) > 1 else None
        assert abs(lengths[(part or 1) - 1] - length) < 1e-9
        placed.append(replace(where, shape=index_of[name, (copy, part)]))
    return Layout(bare.project, plan, asked, tuple(placed), ())


def _fewer_lengths(filled: Layout, budget: Budget) -> Layout:
    """The same with fewer joins if a short search finds it."""
    best = filled
    for index, strip in enumerate(best.project.strips):
        for copy in range(1, strip.cut + 1):
            for count in range(2, len(best.plan.strips[index][copy - 1])):
                if budget.over():
                    return best
                plan = best.plan.with_strip(index, copy, equal_lengths(strip, count))
                layout = attempt(best.asked.lay, best.project, plan, budget.part(0.1, at_most=0.7))
                if layout.complete:
                    best = layout
                    break
    return best

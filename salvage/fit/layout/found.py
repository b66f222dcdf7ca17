"""One search: what was asked, what is placed, and what is left of the cloth."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import Polygon

from salvage.fit.answer import Placement
from salvage.fit.ask import Asked, Item, Plan, as_laid, ask
from salvage.fit.claim import NoPlace, Proof
from salvage.fit.layout.budget import Budget
from salvage.fit.material.lay import Lay, Where
from salvage.fit.question import Placed
from salvage.project.project import Panel, Project, Strip
from salvage.shapes import polygons_of

_START_INSIDE = 0.01  # mm


@dataclass(frozen=True, slots=True)
class Layout:
    """What a search gave for one plan: placed and unplaced (shape index, one entry a copy), or a proof.

    seconds: what the search took; moves: how many it made, 0 where a glance was enough.
    """

    project: Project
    plan: Plan
    asked: Asked
    placed: tuple[Placed, ...]
    unplaced: tuple[int, ...]
    proof: Proof | None = None
    seconds: float = 0.0
    moves: int = 0

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

    def area_placed(self) -> float:
        """mm^2 of what is placed."""
        return sum(self.asked.items[each.shape].outline.area for each in self.placed)

    def area_missing(self) -> float:
        """mm^2 of what isn't placed."""
        return sum(self.asked.items[index].outline.area for index in self.unplaced)

    def free(self) -> list[list[Polygon]]:
        """For each cloth, what of it is more than the cutting gap away from all that is placed on its layer."""
        gap = self.asked.question.gap
        taken: dict[Where, list[Polygon]] = {}
        where = self.asked.lay.where
        for each in self.placed:
            shape = as_laid(self.asked.items[each.shape].outline, each)
            taken.setdefault(where[each.cloth], []).append(
                shape.buffer(gap + 1e-6, join_style="mitre") if gap else shape
            )
        return [
            polygons_of(cloth.polygon.difference(shapely.union_all(taken[place])))
            if place in taken
            else [cloth.polygon]
            for cloth, place in zip(self.asked.lay.cloths, where, strict=True)
        ]


def moved_to(layout: Layout, lay: Lay) -> Layout:
    """The same layout seen on another lay of the same pieces, without what doesn't lie on that one."""
    asked = ask(lay, layout.project, layout.plan)
    placed, gone = [], list(layout.unplaced)
    for each in layout.placed:
        shape = as_laid(layout.asked.items[each.shape].outline, each)
        where = layout.asked.lay.where[each.cloth]
        pairs = enumerate(zip(lay.cloths, lay.where, strict=True))
        cloth = next(
            (n for n, (c, place) in pairs if place == where and shapely.covers(c.polygon, shape)), None
        )
        if cloth is None:
            gone.append(each.shape)
        else:
            placed.append(replace(each, cloth=cloth))
    return replace(layout, asked=asked, placed=tuple(placed), unplaced=tuple(sorted(gone)))


def reduced(layout: Layout, project: Project) -> Layout | None:
    """What a layout without joins has laid of a project, as a complete layout of so many copies; None if it is nothing."""
    placed: list[Placed] = []
    left: list[Panel] = []
    strips: list[Strip] = []
    laid: dict[str, list[Placed]] = {}
    for each in layout.placed:
        laid.setdefault(layout.asked.items[each.shape].name, []).append(each)
    items: tuple[Panel | Strip, ...] = (*project.panels, *project.strips)
    for item in items:
        mine = laid.get(item.name, [])
        if isinstance(item, Panel) and item.mirrored and not item.flip:
            pairs = min(sum(each.flipped for each in mine), sum(not each.flipped for each in mine))
            mine = [each for way in (False, True) for each in [m for m in mine if m.flipped == way][:pairs]]
        if not mine:
            continue
        placed += [replace(each, shape=len(left) + len(strips)) for each in mine]
        if isinstance(item, Panel):
            left.append(replace(item, cut=len(mine)))
        else:
            strips.append(replace(item, cut=len(mine)))
    if not placed:
        return None
    smaller = replace(project, panels=tuple(left), strips=tuple(strips))
    plan = Plan.whole(smaller)
    asked = ask(layout.asked.lay, smaller, plan)
    return Layout(smaller, plan, asked, tuple(placed), ())


def nothing_laid(lay: Lay, project: Project, plan: Plan) -> Layout:
    """The layout of a plan with nothing on it."""
    asked = ask(lay, project, plan)
    everything = tuple(index for index, item in enumerate(asked.items) for _ in item.labels)
    return Layout(project, plan, asked, (), everything)


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
        return judged(found, budget)
    # The search sees each stretch by itself; panels on two of one piece must keep the cutting gap too.
    for parted in lay.parted(project.cutting_gap):
        tried = _searched(parted, project, plan, budget, without, start)
        if len(tried.unplaced) <= len(found.unplaced) and not _crowded(tried):
            return judged(tried, budget)
    return _thinned_out(found)


def judged(layout: Layout, budget: Budget) -> Layout:
    """The layout without what is too near to something on another stretch of its piece; with nothing placed
    if it is complete and the checker does not accept it."""
    if _crowded(layout):
        return _thinned_out(layout)
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
    shapes = [as_laid(layout.asked.items[p.shape].outline, p) for p in layout.placed]
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
    nothing = nothing_laid(lay, project, plan)
    asked, everything = nothing.asked, nothing.unplaced
    kept = [index for index, item in enumerate(asked.items) if item.name not in without]
    if not kept or budget.over() or _too_much(asked, kept):
        return nothing
    question = replace(asked.question, shapes=tuple(asked.question.shapes[index] for index in kept))
    usable_start = _on_cloth(start, asked) if len(kept) == len(asked.items) else ()
    decision = budget.decide(question, start=usable_start)
    placed = tuple(replace(each, shape=kept[each.shape]) for each in decision.placed)
    missing = Counter(everything) - Counter(each.shape for each in placed)
    unplaced = tuple(sorted(missing.elements()))
    return Layout(project, plan, asked, placed, unplaced, decision.proof, decision.seconds, decision.moves)


def _on_cloth(start: Sequence[Placed], asked: Asked) -> tuple[Placed, ...]:
    """Those of an earlier layout that still lie, but for hollows and holes, on the cloth of the question."""
    hulls = [cloth.polygon.convex_hull.buffer(-_START_INSIDE) for cloth in asked.lay.cloths]
    return tuple(
        each for each in start if hulls[each.cloth].covers(as_laid(asked.items[each.shape].outline, each))
    )


def _too_much(asked: Asked, kept: Sequence[int]) -> bool:
    """True if these shapes of some fabric have more area than there is cloth, by more than rounding."""
    wanted: dict[str, float] = {}
    for shape, item in ((asked.question.shapes[index], asked.items[index]) for index in kept):
        wanted[shape.fabric] = wanted.get(shape.fabric, 0.0) + item.outline.area * len(item.labels)
    return any(area > asked.lay.area(fabric) * (1 + 1e-9) for fabric, area in wanted.items())

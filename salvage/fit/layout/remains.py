"""The most useful cloth left: of all layouts that are safe enough, the one with the largest clear rectangle left.

A rectangle is laid along the grain as if it were one more panel, larger and larger as long as the project finds
its places beside it. Once nothing larger is found it is taken out of the cloth, and the next largest is looked for.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
import shapely
from shapely.geometry import Polygon

from salvage.fit.ask import Plan, as_laid, ask
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout, attempt, moved_to
from salvage.fit.layout.spare import clearance, plus_minus_on
from salvage.fit.layout.tidy import tidied
from salvage.fit.material.lay import Lay
from salvage.fit.material.left import RECTANGLES, Place, rectangles_left
from salvage.fit.material.rectangles import ClearRectangle
from salvage.project.project import Grain, Panel
from salvage.shapes import polygons_of

_TIMES = 2.0  # as much spare as the plus-minus keeps every layout that is chosen for what it leaves
_PART = 1 / 3  # and at least this part of the best spare
_FOR_TIDY, _MOST_FOR_TIDY = 0.5, 0.7  # of the time, and seconds: fewer garments and stretches
_REST = "\0rest"  # a panel that no project has
_CLEAR = 2  # clear rectangles of which a part is kept whole
_RATIOS = (1.0, 0.5, 2.0)  # length along the grain over width, tried beside those there are
_SAME_RATIO = 1.2  # ratios nearer than this factor are the same
_GAIN = 1.03  # what is larger by less isn't worth another layout
_STEP = 1.06  # how much larger the next rectangle tried is, at least
_LEAST = 2500.0  # mm^2; where nothing is left yet
_SHARE, _MOST_SECONDS, _AS_LONG = (
    0.2,
    0.5,
    1.5,
)  # for one try: of what is left, seconds, and times the first search
_MOST_TRIES = 40
# Seconds of the processor: where a glance laid it out, and else; with a word only, and where it is thorough.
_MOST_WORK, _MOST_WORK_THOROUGH = (0.15, 0.3), (0.8, 1.5)

Accepts = Callable[[Layout, float], bool]


@dataclass(frozen=True, slots=True)
class Rest:
    """A layout and the rectangles it leaves, the largest first, each with the index of its cloth."""

    layout: Layout
    rectangles: tuple[tuple[ClearRectangle, int], ...]

    def area(self, number: int) -> float:
        """mm^2 of a rectangle, from 0; 0 where there are fewer."""
        return self.rectangles[number][0].area if number < len(self.rectangles) else 0.0

    def differs_from(self, other: Rest) -> int | None:
        """Number of the first rectangle that is larger or smaller than the other's by more than nothing much."""
        for number in range(RECTANGLES):
            less, more = sorted((self.area(number), other.area(number)))
            if more > _GAIN * less:
                return number
        return None

    def leaves_more_than(self, other: Rest) -> bool:
        """Whether its largest rectangle is larger; of two as large the next one counts, and so on."""
        number = self.differs_from(other)
        return number is not None and self.area(number) > other.area(number)


def rest_of(layout: Layout, lay: Lay) -> Rest:
    """What a layout leaves of the lay. lay: the cloth as measured, of which the layout's own is a part."""
    laid: dict[Place, list[Polygon]] = {}
    for each in layout.placed:
        place = layout.asked.lay.where[each.cloth]
        shape = as_laid(layout.asked.items[each.shape].outline, each)
        laid.setdefault((place.garment, place.piece, place.layer), []).append(shape)
    return Rest(layout, tuple(rectangles_left(lay, laid)))


@dataclass(frozen=True, slots=True)
class Kept:
    """shown: the layout to cut, which keeps `spare` mm off every edge; roomiest: the one that keeps off furthest."""

    shown: Rest
    spare: float
    roomiest: Rest
    most_spare: float


def keeping_most(
    found: Layout,
    roomiest: tuple[float, Layout],
    lay: Lay,
    plus_minus: float,
    budget: Budget,
    accepts: Accepts,
    *,
    thorough: bool = True,
) -> Kept:
    """Of the layouts that are safe enough the one that leaves the most useful cloth.

    Safe enough is what keeps off every edge by twice the plus-minus and by a third of the best spare there is; where
    no layout does, only the roomiest. found: a first layout. roomiest: the best spare, and the layout that has it.
    lay: the cloth as measured. accepts: the checker's word on a layout and a spare of its own.
    thorough: False to look for a moment only.
    """
    spare, roomy = roomiest
    best = rest_of(roomy, lay)
    least = max(_TIMES * plus_minus, _PART * spare)
    if least > spare:
        return Kept(best, spare, best, spare)
    ground = lay.shrunk(least)
    start = next((each for each in (moved_to(found, ground), moved_to(roomy, ground)) if each.complete), None)
    if start is None:
        return Kept(best, spare, best, spare)

    def safe(layout: Layout, least: float) -> bool:
        return _TIMES * plus_minus_on(layout) <= max(least, _TIMES * plus_minus) and accepts(layout, least)

    tidy = tidied(start, budget.part(_FOR_TIDY, at_most=_MOST_FOR_TIDY))
    shown = rest_of(tidy if safe(tidy, least) else roomy, lay)
    shown = best if best.leaves_more_than(shown) else shown
    shown = rest_of(with_most_left(shown.layout, lay, least, budget, safe, thorough=thorough), lay)
    return Kept(shown, min(spare, clearance(shown.layout, lay)), best, spare)


def with_most_left(
    start: Layout, lay: Lay, spare: float, budget: Budget, accepts: Accepts, *, thorough: bool = True
) -> Layout:
    """The layout of the same plan that leaves most, as far as the budget goes; the start, if none leaves more.

    lay: the cloth as measured. spare: mm that each layout keeps off every edge of it.
    """
    hard = start.moves > 0
    work = (_MOST_WORK_THOROUGH if thorough else _MOST_WORK)[hard]
    search = _Search(lay, spare, replace(budget, accepts=None), accepts, rest_of(start, lay), work)
    whole, ground = lay, lay.shrunk(spare)
    for number in range(RECTANGLES):
        if not hard:
            search.enlarge(number, whole, ground, at_a_glance=True)
        search.enlarge(number, whole, ground, at_a_glance=False)
        if number >= len(search.best.rectangles) or search.ended():
            break
        kept = search.best.rectangles[number][0].polygon
        whole, ground = _without(whole, kept), _without(ground, kept)
    return search.best.layout


@dataclass(slots=True)
class _Search:
    lay: Lay
    spare: float
    budget: Budget
    accepts: Accepts
    best: Rest
    work: float  # seconds of the processor
    tries: int = 0
    at_a_glance: bool = False
    begun: float = field(default_factory=time.process_time)

    def ended(self) -> bool:
        if self.tries >= _MOST_TRIES or self.budget.over():
            return True
        # Work, not the time on the clock: on a machine with much else to do as much is tried.
        return self.budget.steps is None and time.process_time() - self.begun > self.work

    def enlarge(self, number: int, cloth_left: Lay, ground: Lay, *, at_a_glance: bool) -> None:
        """Make the rectangle of this number larger: wherever there is room, then at an end or a side of the cloth.

        cloth_left: the cloth without the rectangles before it; ground: the same, where the layout may lie.
        at_a_glance: with as many tries as take little time, in place of a search.
        """
        self.at_a_glance = at_a_glance
        clear = [stretch for stretch, _ in rectangles_left(cloth_left, {}, _CLEAR)]
        if not clear:
            return
        taken = sum(item.outline.area * len(item.labels) for item in self.best.layout.asked.items)
        most = min(clear[0].area, sum(cloth.polygon.area for cloth in cloth_left.cloths) - taken)
        there = [stretch for stretch, _ in self.best.rectangles[number : number + 1]]
        tried: list[float] = []
        for ratio in (*(each.length / each.width for each in (*clear[:1], *there)), *_RATIOS):
            if all(max(ratio / each, each / ratio) >= _SAME_RATIO for each in tried):
                self._grow(number, partial(self._with_panel, ground, ratio), most, bold=not tried)
                tried.append(ratio)
        for whole in () if at_a_glance else clear:
            for side in range(4):
                self._grow(number, partial(self._without_end, ground, whole, side), most)

    def _grow(
        self, number: int, lay_beside: Callable[[float], Layout | None], most: float, *, bold: bool = False
    ) -> None:
        """Ask for a layout beside a rectangle of so many mm^2, up to `most`; halving what is between it and the best.

        bold: not with one that is only a little larger than the best, to see whether it is worth more tries.
        """
        area = _STEP * self._now(number)
        if bold:
            area = max(area, math.sqrt(self._now(number) * max(0.0, most)))
        first = not bold
        while area < most and not self.ended():
            if not self._is_better(lay_beside(area)):
                if first:
                    return
                most = area
            first = False
            area = max(_STEP * self._now(number), math.sqrt(self._now(number) * most))

    def _now(self, number: int) -> float:
        return max(self.best.area(number), _LEAST)

    def _is_better(self, layout: Layout | None) -> bool:
        """Whether a layout leaves more; if so it is the best from now on."""
        if layout is None:
            return False
        rest = rest_of(layout, self.lay)
        if not rest.leaves_more_than(self.best) or not self.accepts(layout, self.spare):
            return False
        self.best = rest
        return True

    def _without_end(self, ground: Lay, whole: ClearRectangle, side: int, area: float) -> Layout | None:
        """The project laid beside an end or a side of a clear rectangle, which has that area."""
        share = area / whole.area
        if share > 1:
            return None
        self.tries += 1
        now = self.best.layout
        found = attempt(
            _without(ground, _end(whole.polygon, side, share)), now.project, now.plan, self._part()
        )
        return found if found.complete else None

    def _with_panel(self, ground: Lay, ratio: float, area: float) -> Layout | None:
        """The project laid together with a rectangle of that area and shape.

        The rectangle may lie right at the edge of the cloth and beside a panel, and the search keeps it off both.
        """
        off = self.spare + self.best.layout.asked.question.gap
        width = (area / ratio) ** 0.5
        size = width - off, width * ratio - off
        if min(size) <= 0 or not _has_room(ground, *size):
            return None
        self.tries += 1
        return _beside(self.best.layout, ground, *size, self._part())

    def _part(self) -> Budget:
        least = _AS_LONG * self.best.layout.seconds
        part = self.budget.part(_SHARE, at_most=_MOST_SECONDS, at_least=least)
        return replace(part, effort=0) if self.at_a_glance else part


def _without(lay: Lay, taken: Polygon) -> Lay:
    return lay.reshaped(
        lambda _, polygon: polygons_of(polygon.difference(taken)) if polygon.intersects(taken) else [polygon]
    )


def _end(rectangle: Polygon, side: int, share: float) -> Polygon:
    """That share of a rectangle, from one of its four sides."""
    corners = shapely.get_coordinates(rectangle.exterior)[:4]
    first, second, third, fourth = np.roll(corners, -side, axis=0)
    return Polygon([first, second, second + share * (third - second), first + share * (fourth - first)])


def _has_room(ground: Lay, width: float, length: float) -> bool:
    """Whether a stretch has a clear rectangle of as much area as that, whatever lies on it."""
    clear = (rectangles_left(ground.only([index]), {}, 1) for index in range(len(ground.cloths)))
    return any(found and found[0][0].area >= width * length for found in clear)


def _beside(layout: Layout, ground: Lay, width: float, length: float, part: Budget) -> Layout | None:
    """The layout's project and a rectangle laid on the ground; without the rectangle again."""
    fabric = layout.asked.question.shapes[0].fabric
    rest = Panel(_REST, ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), fabric, grain=Grain.ALONG)
    project = replace(layout.project, panels=(*layout.project.panels, rest))
    plan = Plan((*layout.plan.panels, (None,)), layout.plan.strips)
    found = attempt(ground, project, plan, part)
    if not found.complete:
        return None
    asked = ask(ground, layout.project, layout.plan)
    at = next(index for index, item in enumerate(found.asked.items) if item.name == _REST)
    placed = tuple(
        replace(each, shape=each.shape - (each.shape > at)) for each in found.placed if each.shape != at
    )
    return Layout(layout.project, layout.plan, asked, placed, (), None, layout.seconds, layout.moves)

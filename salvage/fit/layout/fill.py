"""What a layout leaves out, cut from what is left of the cloth: panels whole or pieced, then strips."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import shapely
from shapely.geometry import Polygon, box

from salvage.fit.ask import Label, Plan, as_laid, ask, pieces_of
from salvage.fit.cutting.cover import Coverer
from salvage.fit.cutting.joins import parts_of
from salvage.fit.cutting.sharing import Cut, Demand, greedy_share, least_joins, share_out
from salvage.fit.cutting.tracks import Track, tracks_of
from salvage.fit.geometry.task import turns_to_try
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout, judged, nothing_laid
from salvage.fit.material.lay import Where, same_fabric
from salvage.fit.proof.refuse import panel_shape
from salvage.fit.question import Cloth, Placed, Shape, angle_of_turn, takes
from salvage.fit.search.place import Stretch
from salvage.project.project import Panel, Project, Strip
from salvage.shapes import polygons_of

_APART = 1e-6  # mm more than the gap, so that rounding never makes it less
_MOST_SECONDS = 8.0  # for one integer program
_A_TRACK, _A_CORNER = (
    0.02,
    0.2,
)  # about milliseconds: to share out a track, to find those at a corner of the cloth

# name, copy, part, where
Extra = tuple[str, int, int | None, Placed]


def filled(
    base: Layout,
    budget: Budget,
    *,
    corner: tuple[float, float] = (-0.3, -1.0),
    order: Callable[[Panel], float] | None = None,
    strips: bool = True,
) -> Layout:
    """The layout with as much as could be of what it leaves out.

    corner: the direction in which parts are pushed. order: what to lay first, least first; the largest
    panels if not told.
    """
    work = _Filling(base, budget, corner)
    work.lay_panels(order or (lambda panel: -Polygon(panel.outline).area))
    if strips:
        work.lay_strips()
    return work.layout()


def with_other_strip(found: Layout, project: Project, index: int, budget: Budget) -> Layout:
    """A layout of a project that differs from the layout's own in the strip of that index alone.

    All else stays where it lies; the strip is cut from what is left. Complete or not.
    """
    strip, plan = project.strips[index], found.plan
    for copy in range(1, strip.cut + 1):
        plan = plan.with_strip(index, copy, (strip.length,))
    kept = [each for each in _labelled(found) if each[0] != strip.name]
    bare = nothing_laid(found.asked.lay, project, plan)
    return filled(assembled(bare, plan, kept), budget)


@dataclass
class _Filling:
    base: Layout
    budget: Budget
    corner: tuple[float, float]
    free: list[list[Polygon]] = field(init=False)
    plan: Plan = field(init=False)
    kept: list[Extra] = field(init=False)
    extra: list[Extra] = field(default_factory=list)
    known: dict[tuple[int, int, tuple[float, ...]], Stretch] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.plan = self.base.plan
        self.kept = _labelled(self.base)
        self._drop_broken()
        self.free = self._what_is_free()

    def _drop_broken(self) -> None:
        """Take up what is there of copies of which a part is missing, and plan them whole again."""
        parts: dict[tuple[str, int], int] = {}
        for item in self.base.asked.items:
            for copy, _ in item.labels:
                parts[item.name, copy] = parts.get((item.name, copy), 0) + 1
        there: dict[tuple[str, int], int] = {}
        for name, copy, _, _ in self.kept:
            there[name, copy] = there.get((name, copy), 0) + 1
        self.whole_copies = {key for key, number in there.items() if number == parts[key]}
        self.kept = [each for each in self.kept if each[:2] in self.whole_copies]
        project = self.base.project
        for index, panel in enumerate(project.panels):
            for copy in range(1, panel.cut + 1):
                if (panel.name, copy) not in self.whole_copies and self.plan.panels[index][
                    copy - 1
                ] is not None:
                    self.plan = self.plan.with_panel(index, copy, None)
        for index, strip in enumerate(project.strips):
            for copy in range(1, strip.cut + 1):
                if (strip.name, copy) not in self.whole_copies and len(self.plan.strips[index][copy - 1]) > 1:
                    self.plan = self.plan.with_strip(index, copy, (strip.length,))

    def _what_is_free(self) -> list[list[Polygon]]:
        where = self.base.asked.lay.where
        taken: dict[Where, list[Polygon]] = {}
        outlines = {
            (item.name, label): (item.outline, item.mirrored)
            for item in self.base.asked.items
            for label in item.labels
        }
        for name, copy, part, placed in self.kept:
            outline, mirrored = outlines[name, (copy, part)]
            shape = as_laid(outline, _flipped_if(mirrored, placed))
            taken.setdefault(where[placed.cloth], []).append(self._with_gap(shape))
        return [
            polygons_of(cloth.polygon.difference(shapely.union_all(taken[place])))
            if place in taken
            else [cloth.polygon]
            for cloth, place in zip(self.base.asked.lay.cloths, where, strict=True)
        ]

    def _with_gap(self, shape: Polygon) -> Polygon:
        return shape.buffer(self._gap + _APART, join_style="mitre")

    def lay_panels(self, order: Callable[[Panel], float]) -> None:
        """Lay the copies that are missing, whole if they go, else with as few joins as will do."""
        project = self.base.project
        missing = [
            (index, copy)
            for index, panel in enumerate(project.panels)
            for copy in range(1, panel.cut + 1)
            if (panel.name, copy) not in self.whole_copies
        ]
        missing.sort(key=lambda each: (order(project.panels[each[0]]), each))
        hopeless: set[tuple[int, bool]] = set()
        for index, copy in missing:
            if self.budget.over():
                return
            panel = project.panels[index]
            half = panel.cut // 2 if panel.mirrored and not panel.flip else panel.cut
            if (index, copy > half) in hopeless:
                continue
            if not self._lay_panel(index, panel, copy, mirrored=copy > half):
                hopeless.add((index, copy > half))

    def _lay_panel(self, index: int, panel: Panel, copy: int, *, mirrored: bool) -> bool:
        stretches = self._stretches(panel_shape(panel))
        part = self.budget.part(0.5)
        coverer = Coverer(panel, self._gap, mirrored, self.corner, part.over, part.spend)
        like = self.plan.panels[index][copy - 1 - panel.cut // 2] if mirrored else None
        for joins in range(panel.joins + 1):
            # a left and a right are joined alike where that goes
            alike = like is not None and joins == len(like.at)
            cover = coverer.covers_as(like, stretches) if like is not None and alike else None
            cover = cover or coverer.covers(stretches, joins)
            if cover is None:
                continue
            self.plan = self.plan.with_panel(index, copy, cover.piecing)
            pieces = (Polygon(panel.outline),) if cover.piecing is None else parts_of(panel, cover.piecing)
            assert pieces is not None
            for number, (piece, (cloth, angle, x, y)) in enumerate(zip(pieces, cover.laid, strict=True), 1):
                # the item of a mirrored part is mirrored already, that of a whole one is flipped as it is laid
                placed = Placed(0, cloth, angle, mirrored, x, y)
                label = None if cover.piecing is None else number
                self.extra.append((panel.name, copy, label, placed))
                self._take(cloth, as_laid(piece, placed))
            return True
        return False

    @property
    def _gap(self) -> float:
        return self.base.asked.question.gap

    def _take(self, cloth: int, shape: Polygon) -> None:
        """The shape is cut from the cloth; what lies near it on other stretches of the piece is no longer free."""
        taken = self._with_gap(shape)
        where = self.base.asked.lay.where
        for index, polygons in enumerate(self.free):
            if where[index] == where[cloth]:
                self.free[index] = [
                    part
                    for polygon in polygons
                    for part in (
                        polygons_of(polygon.difference(taken)) if polygon.intersects(taken) else [polygon]
                    )
                ]

    def _stretches(self, shape: Shape) -> list[Stretch]:
        """Bits of cloth that are free, with the angles at which the shape may lie on them."""
        found = []
        for index, (cloth, polygons) in enumerate(zip(self.base.asked.lay.cloths, self.free, strict=True)):
            if not takes(cloth, shape):
                continue
            angles = tuple(angle_of_turn(turn, cloth) for turn in turns_to_try(shape, cloth))
            for polygon in polygons:
                # two cloths alike may share one polygon
                key = (index, id(polygon), angles)
                if key not in self.known or self.known[key].polygon is not polygon:
                    self.known[key] = Stretch(index, polygon, angles)
                found.append(self.known[key])
        return found

    def lay_strips(self) -> None:
        """Cut the strips that are missing from what is free, all of them or as many as go."""
        demands = [
            Demand(strip, index, copy)
            for index, strip in enumerate(self.base.project.strips)
            for copy in range(1, strip.cut + 1)
            if (strip.name, copy) not in self.whole_copies
        ]
        if not demands or self.budget.over():
            return
        tracks = self._tracks(demands)
        self.budget.spend(_A_TRACK * len(tracks) * len(demands))
        cuts = greedy_share(demands, tracks, self._gap, self.budget.over)
        done = {cut.copy for cut in cuts}
        joins = len(cuts) - len(done)
        if (len(done) < len(demands) or joins > least_joins(demands, tracks)) and not self.budget.over():
            seconds = None if self.budget.steps is not None else min(_MOST_SECONDS, 0.8 * self.budget.left())
            effort = min(_MOST_SECONDS, 0.8 * self.budget.work_left())
            better = share_out(
                demands, tracks, self._gap, seconds=seconds, effort=effort, spend=self.budget.spend
            )
            if better is not None and (len(done) < len(demands) or len(better) < len(cuts)):
                cuts = better
        self._cut(demands, tracks, cuts)

    def _tracks(self, demands: Sequence[Demand]) -> list[Track]:
        found: list[Track] = []
        bit = 0
        for index, (cloth, polygons) in enumerate(zip(self.base.asked.lay.cloths, self.free, strict=True)):
            by_angle: dict[float, list[Strip]] = {}
            for strip in dict.fromkeys(each.strip for each in demands):
                for angle in angles_of(strip, cloth):
                    by_angle.setdefault(angle, []).append(strip)
            for polygon in polygons:
                for angle, strips in by_angle.items():
                    if self.budget.over():
                        return found
                    self.budget.spend(_A_CORNER * len(polygon.exterior.coords))
                    found += tracks_of(index, bit, polygon, angle, strips, self._gap, angles=len(by_angle))
                bit += 1
        return found

    def _cut(self, demands: Sequence[Demand], tracks: Sequence[Track], cuts: Iterable[Cut]) -> None:
        by_copy: dict[int, list[Cut]] = {}
        for cut in cuts:
            by_copy.setdefault(cut.copy, []).append(cut)
        for number, mine in by_copy.items():
            demand = demands[number]
            self.plan = self.plan.with_strip(demand.index, demand.copy, tuple(cut.length for cut in mine))
            for part, cut in enumerate(mine, 1):
                track = tracks[cut.track]
                x, y = track.corner(cut.above)
                placed = Placed(0, track.cloth, track.angle, False, x, y)
                label = part if len(mine) > 1 else None
                self.extra.append((demand.strip.name, demand.copy, label, placed))
                self._take(track.cloth, as_laid(box(0.0, 0.0, demand.strip.cut_width, cut.length), placed))

    def layout(self) -> Layout:
        """All of it as a layout of the plan."""
        if not self.extra:
            return self.base
        return judged(assembled(self.base, self.plan, [*self.kept, *self.extra]), self.budget)


def angles_of(strip: Strip, cloth: Cloth) -> tuple[float, ...]:
    """Angles at which a strip may lie on the cloth, opposite ones once; none on cloth it isn't cut from."""
    shape = Shape(
        strip.name, ((0.0, 0.0), (strip.cut_width, 0.0), (strip.cut_width, strip.length), (0.0, strip.length)),
        same_fabric(strip.fabric), grain=strip.grain, pieces=pieces_of(strip),
    )  # fmt: skip
    if not takes(cloth, shape):
        return ()
    found = {round(turn % 180, 6): turn for turn in reversed(turns_to_try(shape, cloth))}
    return tuple(angle_of_turn(turn, cloth) for turn in reversed(found.values()))


def _labelled(layout: Layout) -> list[Extra]:
    """What is placed, each with its copy and part; of a mirrored pair the flipped ones are the later copies."""
    free: dict[int, list[Label]] = {i: list(item.labels) for i, item in enumerate(layout.asked.items)}
    found = []
    for each in layout.placed:
        item, shape = layout.asked.items[each.shape], layout.asked.question.shapes[each.shape]
        labels = free[each.shape]
        if shape.mirrored_pair:
            half = len(item.labels) - len(item.labels) // 2
            label = next(label for label in labels if (label[0] > half) == each.flipped)
            labels.remove(label)
        else:
            label = labels.pop(0)
        # as the panel is drawn, not as the item is
        found.append((item.name, *label, _flipped_if(item.mirrored, each)))
    return found


def _flipped_if(mirrored: bool, placed: Placed) -> Placed:
    if not mirrored:
        return placed
    return Placed(placed.shape, placed.cloth, placed.angle, not placed.flipped, placed.x, placed.y)


def assembled(base: Layout, plan: Plan, pieces: Sequence[Extra]) -> Layout:
    """The layout of a plan with these pieces; flipped is told of the panel as drawn."""
    asked = ask(base.asked.lay, base.project, plan)
    index_of = {(item.name, label): index for index, item in enumerate(asked.items) for label in item.labels}
    placed, there = [], set()
    for name, copy, part, where in pieces:
        index = index_of[name, (copy, part)]
        flipped = where.flipped != asked.items[index].mirrored
        placed.append(Placed(index, where.cloth, where.angle, flipped, where.x, where.y))
        there.add((name, (copy, part)))
    unplaced = tuple(
        index
        for index, item in enumerate(asked.items)
        for label in item.labels
        if (item.name, label) not in there
    )
    return Layout(base.project, plan, asked, tuple(placed), unplaced, None, base.seconds, base.moves)

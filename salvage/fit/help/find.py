"""Look for changes that make a project fit, and make sure of each by laying the changed project out.

What has no place even alone must change whatever else does: these are the *stuck* ones, and a change is a change of all
of them. Where none is stuck it is the crowd that doesn't fit, and one of them gives way: each in turn, the largest first.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from salvage.fit.answer import Edit, HelpKind, Placement
from salvage.fit.cutting.sizes import scaled
from salvage.fit.fabrics import by_fabric
from salvage.fit.help.items import (
    Changed,
    Item,
    area_of,
    fewer,
    from_fabric,
    items_of,
    size_of,
    smaller,
    ways,
    with_items,
)
from salvage.fit.help.places import has_place
from salvage.fit.layout.arrange import arrange
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout, moved_to, reduced
from salvage.fit.material.lay import Lay, same_fabric
from salvage.project.project import Panel, Project

_TRIED = 6  # of what is not stuck, the ones that may give way
_MOST_A_TRY, _MOST_PIECED = 0.7, 1.5  # seconds for one changed project; where something is joined
_CORE = 0.5  # share of the project's cloth; without what takes more it would be another project
_ROOMY = 0.85  # share of the cloth; projects that ask for no more usually have a layout
_PROBES = (0.8, 0.65, 0.4)  # of its width or length, to which a panel may be made smaller
_LEAST_LEFT = 0.4  # of its area; a panel made smaller than that is another one
_FINER, _FINE = 4, 0.01  # halvings between a size that fits and one that doesn't, and to what share
_TO_SHRINK = 3  # panels that are tried smaller where none is stuck
_MORE_GARMENTS = 3
_ORDER = tuple(HelpKind)
_SIDES = ((False, True), (True, False), (True, True))  # which of width and length become smaller


@dataclass(frozen=True, slots=True)
class Change:
    """A changed project that fits. items: those that change, as they were.

    project: changed, of the fabrics that it bears on. garments: how many like the largest there must be, else 1.
    """

    kind: HelpKind
    items: tuple[Item, ...]
    edits: tuple[Edit, ...]
    project: Project
    layouts: tuple[Layout, ...]
    garments: int = 1
    percent: float | None = None

    def placements(self) -> tuple[Placement, ...]:
        """Of all fabrics."""
        return tuple(each for layout in self.layouts for each in layout.placements())


@dataclass(frozen=True, slots=True)
class ToHelp:
    """What is to be helped. project: of one fabric; whole: of all; lays: cloth to search on, by fabric (`same_fabric`).

    more: the lay of this fabric with so many more garments alike; None where there is no such thing.
    names: the fabrics there are, as they are spelled. first: names of what stands in the way, as far as known.
    crowded: whether it is the area that is short, so that to turn or piece something is no help.
    """

    project: Project
    whole: Project
    lays: Mapping[str, Lay]
    names: Mapping[str, str]
    more: Callable[[int], Lay | None] = lambda _: None
    first: Collection[str] = ()
    crowded: bool = False

    @property
    def fabric(self) -> str:
        return same_fabric(items_of(self.project)[0].fabric)

    @property
    def lay(self) -> Lay:
        return self.lays.get(self.fabric, Lay((), ()))


def find_changes(asked: ToHelp, budget: Budget, *, started: Sequence[Layout] = ()) -> tuple[Change, ...]:
    """Changes that make it fit, a few of each kind at most. started: layouts of a part of it, perhaps on more cloth."""
    if budget.over():
        return ()
    return _Finding(asked, budget, started).changes()


@dataclass
class _Finding:
    asked: ToHelp
    budget: Budget
    started: Sequence[Layout]
    stuck: tuple[Item, ...] = ()
    targets: list[tuple[Item, ...]] = field(default_factory=list)

    def changes(self) -> tuple[Change, ...]:
        """The mildest first, though what is found soonest is looked for first."""
        items = items_of(self.asked.project)
        if self.asked.lay.cloths:
            part = self.budget.part(0.25, at_most=1.5)
            self.stuck = tuple(each for each in items if not part.over() and not self._has_place(each, part))
        else:
            self.stuck = items
        self.targets = [self.stuck] if self.stuck else [(each,) for each in self._in_order(items)]
        found: list[Change] = []
        if self.asked.lay.cloths:
            for kind in (HelpKind.ANYWHERE, HelpKind.TURN):
                found += self._first_of(self._as_they_are(kind), self.budget.part(0.3))
            found += self._without_some(self.budget.part(0.5))
            found += self._made_smaller(self.budget.part(0.5))
            found += self._first_of(self._as_they_are(HelpKind.JOIN), self.budget.part(0.6))
            if len(self.stuck) > 1 and all(each.kind is HelpKind.OTHER_CLOTH for each in found):
                found += self._first_of(
                    [self._each_its_own_way(self.budget.part(0.3))], self.budget.part(0.5)
                )
        if len(self.stuck) == len(items):
            found += self._all_from_elsewhere()
        found += self._first_of(self._of_other_fabrics(), self.budget.part(0.6))
        if not self.stuck:
            found += self._with_more_garments(self.budget.part(0.9))
        return tuple(sorted(found, key=lambda change: _ORDER.index(change.kind)))

    def _has_place(self, item: Item, budget: Budget) -> bool:
        return has_place(self.asked.lay, self.asked.project, item, budget)

    def _in_order(self, items: Sequence[Item]) -> list[Item]:
        """Those that stand in the way, then the others, the largest first."""
        order = sorted(items, key=lambda each: (each.name not in self.asked.first, -each.cut * area_of(each)))
        return order[:_TRIED]

    def _first_of(self, tried: Iterable[_Try | None], budget: Budget) -> list[Change]:
        for each in tried:
            if budget.over():
                break
            change = None if each is None else self._done(each, budget)
            if change is not None:
                return [change]
        return []

    def _done(self, tried: _Try, budget: Budget) -> Change | None:
        """The change, if the project so changed was laid out."""
        project = self.asked.project if tried.fabric is None else self.asked.whole
        changed = with_items(project, tried.changed)
        parts = by_fabric(changed)
        touched = {self.asked.fabric, *((same_fabric(tried.fabric),) if tried.fabric is not None else ())}
        layouts = []
        for name, part in parts.items():
            if same_fabric(name) in touched:
                layout = self._laid(self.asked.lays.get(same_fabric(name)), part, budget)
                if layout is None:
                    return None
                layouts.append(layout)
        if not layouts:
            return None
        kept = [part for name, part in parts.items() if same_fabric(name) in touched]
        changed = replace(
            changed,
            panels=tuple(each for part in kept for each in part.panels),
            strips=tuple(each for part in kept for each in part.strips),
        )
        return Change(tried.kind, tried.items, tried.edits, changed, tuple(layouts))

    def _laid(self, lay: Lay | None, project: Project, budget: Budget) -> Layout | None:
        if lay is None or not lay.cloths or budget.over():
            return None
        pieced = any(panel.joins for panel in project.panels) or bool(project.strips)
        part = budget.part(0.6, at_most=_MOST_PIECED if pieced else _MOST_A_TRY)
        layout = arrange(lay, project, part, hopeful=not any(panel.joins for panel in project.panels))
        return layout if layout.complete else None

    # --- sizes as they are -------------------------------------------------------------------------------

    def _as_they_are(self, kind: HelpKind) -> Iterator[_Try | None]:
        """One kind of change of all that must change, each as mildly as gives it a place."""
        if self.asked.crowded and kind is not HelpKind.ANYWHERE:
            return
        for target in self.targets:
            mild = [self._mildest(each, (kind,), self.budget) for each in target]
            if all(each is not None for each in mild):
                yield _try(kind, target, [each for each in mild if each is not None])

    def _mildest(self, item: Item, kinds: Sequence[HelpKind], budget: Budget) -> Changed | None:
        for kind in kinds:
            for changed in ways(item, kind):
                if budget.over():
                    return None
                # of parts there are many, and to lay them out with all else takes hardly longer than alone
                if kind is HelpKind.JOIN or self._has_place(changed.item, budget):
                    return changed
        return None

    def _each_its_own_way(self, budget: Budget) -> _Try | None:
        kinds = (HelpKind.ANYWHERE, HelpKind.JOIN, HelpKind.TURN)
        own = []
        for item in self.stuck:
            changed = self._mildest(item, kinds, budget) or self._largest_with_a_place(item, budget)
            if changed is None:
                return None
            own.append(changed)
        return _try(HelpKind.MIXED, self.stuck, own)

    # --- smaller -----------------------------------------------------------------------------------------

    def _made_smaller(self, budget: Budget) -> list[Change]:
        """What must shrink and by how much: of all ways the one that costs least cloth."""
        if self.stuck:
            own = [self._largest_with_a_place(each, budget) for each in self.stuck]
            if any(each is None for each in own):
                return []
            there = [each for each in own if each is not None]
            whole = self._done(_try(HelpKind.SHRINK, self.stuck, there), budget)
            if whole is not None:
                return [whole]
            bases = [_shares(item, each.item) for item, each in zip(self.stuck, there, strict=True)]
            found = self._smaller_until(self.stuck, bases, (True, True), budget)
            return [found] if found else []
        best: list[Change] = []
        for target in self.targets[:_TO_SHRINK]:
            part = budget.part(0.5)
            for sides in _SIDES if isinstance(target[0], Panel) else _SIDES[:1]:
                change = self._smaller_until(target, [(1.0, 1.0)], sides, part.part(0.6))
                best += [change] if change is not None else []
        return sorted(best, key=_cloth_lost)[:1]

    def _largest_with_a_place(self, item: Item, budget: Budget) -> Changed | None:
        """The item made smaller one way or both until it has a place, alone; the way that keeps most of it."""
        best: Changed | None = None
        for wide, long in _SIDES if isinstance(item, Panel) else _SIDES[:1]:
            low, high, kept = 0.0, 1.0, None
            while high - low > _FINE and not budget.over():
                share = (low + high) / 2 if low > 0 else _PROBES[-1]
                changed = smaller(
                    item, share if wide else 1.0, share if long else 1.0, self.asked.project.unit
                )
                if changed is not None and self._has_place(changed.item, budget):
                    low, kept = share, changed
                elif low == 0:
                    break
                else:
                    high = share
            if kept is None or area_of(kept.item) < _LEAST_LEFT * area_of(item):
                continue
            if best is None or area_of(kept.item) > area_of(best.item):
                best = kept
        return best

    def _smaller_until(
        self,
        items: Sequence[Item],
        bases: Sequence[tuple[float, float]],
        sides: tuple[bool, bool],
        budget: Budget,
    ) -> Change | None:
        """The largest share of the bases at which all fits, to within a few halvings."""
        low, high = 0.0, 1.0
        best: Change | None = None
        for share in _PROBES:
            change = None if budget.over() else self._smaller_at(items, bases, sides, share, budget)
            if change is not None:
                low, best = share, change
                break
            high = share
        for _ in range(_FINER if best is not None else 0):
            if budget.over() or high - low < _FINE:
                break
            share = (low + high) / 2
            change = self._smaller_at(items, bases, sides, share, budget)
            if change is not None:
                low, best = share, change
            else:
                high = share
        return best

    def _smaller_at(
        self,
        items: Sequence[Item],
        bases: Sequence[tuple[float, float]],
        sides: tuple[bool, bool],
        share: float,
        budget: Budget,
    ) -> Change | None:
        made = []
        for item, (wide, long) in zip(items, bases, strict=True):
            by = wide * (share if sides[0] else 1.0), long * (share if sides[1] else 1.0)
            changed = smaller(item, *by, self.asked.project.unit)
            if changed is None or area_of(changed.item) < _LEAST_LEFT * area_of(item):
                return None
            made.append(changed)
        return self._done(_try(HelpKind.SHRINK, items, made), budget)

    # --- other cloth -------------------------------------------------------------------------------------

    def _of_other_fabrics(self) -> Iterator[_Try | None]:
        fabrics = [each for each, lay in self.asked.lays.items() if each != self.asked.fabric and lay.cloths]
        names = [self.asked.names[each] for each in fabrics]
        for target in self.targets:
            for name in names:
                yield _try(HelpKind.FABRIC, target, [from_fabric(each, name) for each in target], fabric=name)

    def _with_more_garments(self, budget: Budget) -> list[Change]:
        for count in range(1, _MORE_GARMENTS + 1):
            lay = None if budget.over() else self.asked.more(count)
            if lay is None:
                break
            # the checker is asked later, with as many garments
            layout = self._laid(lay, self.asked.project, replace(budget, accepts=None))
            if layout is not None:
                return [Change(HelpKind.GARMENT, (), (), self.asked.project, (layout,), garments=count + 1)]
        return []

    def _without_some(self, budget: Budget) -> list[Change]:
        """What to cut from other cloth, or to leave out, so that all else fits here."""
        one_each = [] if self.stuck else self._by_loss()
        all_stuck = [_without_all(self.stuck)] if self.stuck else []
        found = self._first_of([*all_stuck, *one_each], budget.part(0.7))
        return found or self._what_is_left_out(budget)

    def _all_from_elsewhere(self) -> list[Change]:
        """All of a fabric of which there is nothing, where there is another fabric that may well do."""
        items = items_of(self.asked.project)
        if len(items) == len(items_of(self.asked.whole)):
            return []
        edits = tuple(edit for each in items for edit in fewer(each, 0).edits)
        nothing = replace(self.asked.project, panels=(), strips=())
        return [Change(HelpKind.OTHER_CLOTH, items, edits, nothing, ())]

    def _by_loss(self) -> list[_Try]:
        """Copies to leave out, as few as there is too little cloth for or a few more, in the order of what is lost.

        The smallest that leaves room to spare, then the largest. What the project mostly consists of is not among them.
        """
        items = items_of(self.asked.project)
        asked = sum(each.cut * area_of(each) for each in items)
        there = self.asked.lay.area(self.asked.fabric)
        found: list[tuple[bool, float, _Try]] = []
        for item in items:
            pair, area = _pair(item), area_of(item)
            least = max(pair, pair * math.ceil((asked - there) / area / pair))
            for count in (least, least + pair):
                if count <= item.cut and count * area <= _CORE * asked:
                    roomy = asked - count * area <= _ROOMY * there
                    loss = count * area if roomy else -count * area
                    found.append((not roomy, loss, _without(HelpKind.OTHER_CLOTH, item, count)))
        return [each for _, _, each in sorted(found, key=lambda each: each[:2])][: 2 * _TRIED]

    def _what_is_left_out(self, budget: Budget) -> list[Change]:
        """What the search itself leaves out of all that has a place, to be cut elsewhere."""
        rest = with_items(self.asked.project, {each.name: None for each in self.stuck})
        if not rest.panels and not rest.strips:
            return []
        started = [] if self.stuck else self.started
        layouts = [moved_to(each, self.asked.lay) for each in started]
        if all(len(each.placed) < len(was.placed) for each, was in zip(layouts, started, strict=True)):
            # each was laid on more cloth than there is here, and much of it may cross an edge by a hair
            anew = arrange(self.asked.lay, rest, budget.part(0.7, at_most=1.5))
            layouts.append(moved_to(anew, self.asked.lay))
        whole = [reduced(each, self.asked.project) for each in layouts if not each.plan.joins()]
        kept = max((each for each in whole if each is not None), key=Layout.area_placed, default=None)
        if kept is None:
            return []
        counts = {each.name: each.cut for each in items_of(kept.project)}
        gone = [each for each in items_of(self.asked.project) if counts.get(each.name, 0) < each.cut]
        edits = tuple(edit for each in gone for edit in fewer(each, counts.get(each.name, 0)).edits)
        return [Change(HelpKind.OTHER_CLOTH, tuple(gone), edits, kept.project, (kept,))] if gone else []


@dataclass(frozen=True, slots=True)
class _Try:
    """A change not yet laid out. changed: by name; None takes an item out. fabric: another one that it takes from."""

    kind: HelpKind
    items: tuple[Item, ...]
    edits: tuple[Edit, ...]
    changed: Mapping[str, Item | None]
    fabric: str | None = None


def _try(
    kind: HelpKind, items: Sequence[Item], made: Sequence[Changed], *, fabric: str | None = None
) -> _Try:
    edits = tuple(edit for each in made for edit in each.edits)
    return _Try(kind, tuple(items), edits, {each.item.name: each.item for each in made}, fabric)


def _without(kind: HelpKind, item: Item, count: int) -> _Try:
    """Without so many copies of it."""
    made = fewer(item, item.cut - count)
    changed = {item.name: made.item if item.cut > count else None}
    return _Try(kind, (item,), made.edits, changed)


def _without_all(items: Sequence[Item]) -> _Try:
    edits = tuple(edit for each in items for edit in fewer(each, 0).edits)
    return _Try(HelpKind.OTHER_CLOTH, tuple(items), edits, {each.name: None for each in items})


def _pair(item: Item) -> int:
    """How many copies go at once."""
    return 2 if isinstance(item, Panel) and item.mirrored and not item.flip else 1


def _shares(before: Item, after: Item) -> tuple[float, float]:
    (_, width, length), (_, new_width, new_length) = size_of(before), size_of(after)
    return new_width / width, new_length / length


def _cloth_lost(change: Change) -> float:
    """mm^2 that a change in size takes off the project, all copies."""
    now = {each.name: each for each in items_of(change.project)}
    return sum(each.cut * (area_of(each) - area_of(now[each.name])) for each in change.items)


def scaled_down(lay: Lay, project: Project, percent: float, budget: Budget) -> Change | None:
    """The whole project at this percentage, laid out once more."""
    changed = scaled(project, percent)
    layout = None if changed is None or budget.over() else arrange(lay, changed, budget.part(0.9))
    if changed is None or layout is None or not layout.complete:
        return None
    return Change(HelpKind.SCALE, (), (), changed, (layout,), percent=percent)

"""A lay plan: the project laid on plain cloth of one width, on as little length as the search finds.

The length is found by asking the fit itself, again and again, about less cloth; each layout has passed the checker, and
the whole plan is put to it once more, folded cloth opened out.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

from shapely import affinity
from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.fit import clock
from salvage.fit.answer import Placement, Verdict
from salvage.fit.bolt.goods import Goods, in_pairs, off_the_bolt
from salvage.fit.bolt.rows import cloth_length
from salvage.fit.check.check import check
from salvage.fit.fit import fit_project
from salvage.project.project import Panel, Project, Strip

SECONDS = 2.0  # for one fabric
_EACH, _SHARE = 0.6, 0.25  # seconds for one length, or a share of all
_FINE = 10.0  # mm to which the folded part of a plan is made short
_MORE = 1.25  # of the rows, where even these were not found
_OTHERS = 1_000_000  # added to the copies of another layer or stretch, until all are counted anew


@dataclass(frozen=True, slots=True)
class LayPlan:
    """How a project lies on cloth off the bolt.

    width: with selvedges, mm. length: to buy, rounded up to what is cut off the bolt; None where something is wider
    than the cloth, which `reason` says. used: mm of it that panels lie on. placements: on the open cloth, x across it
    from the left selvedge, y along it. shown: those that are drawn: of two layers the upper one. fold: how far up the
    cloth lies folded, mm. shorter_refuted: a length proved too short, mm, the next below what is to be bought; else None.
    project: what was laid, as it is cut from plain cloth.
    """

    fabric: str
    width: float
    folded: bool
    one_way: bool
    length: float | None
    used: float
    placements: tuple[Placement, ...]
    shown: tuple[Placement, ...]
    fold: float
    shorter_refuted: float | None
    project: Project
    reason: str = ""


@dataclass(frozen=True, slots=True)
class _Part:
    """A stretch of cloth with what lies on it. refuted: the longest length proved too short, mm."""

    used: float
    placements: tuple[Placement, ...]
    refuted: float


def lay_plan(
    project: Project,
    goods: Goods,
    step: float,
    *,
    seconds: float = SECONDS,
    seed: int = 0,
    stop: Callable[[], bool] | None = None,
) -> LayPlan:
    """Lay what of a project is of one fabric on cloth off the bolt. step: mm by which it is cut off."""
    asked = off_the_bolt(project, goods)
    ends = clock.now() + seconds
    pairs, single = in_pairs(asked) if goods.folded else (replace(asked, panels=(), strips=()), asked)
    bare = LayPlan(
        goods.fabric, goods.width, goods.folded, goods.one_way, None, 0.0, (), (), 0.0, None, asked
    )
    gap = asked.cutting_gap
    half = Goods(goods.fabric, goods.width / 2 + goods.edge - gap / 2, False, goods.one_way)
    too_wide = [name for part, cloth in ((pairs, half), (single, goods)) for name in _too_wide(part, cloth)]
    if too_wide and pairs.panels and any(name in {each.name for each in pairs.panels} for name in too_wide):
        # wider than half the cloth: it is laid on one layer after all
        pairs, single = _unpaired(asked, pairs, single, too_wide)
        too_wide = list(_too_wide(single, goods))
    if too_wide:
        return replace(bare, reason=f"{', '.join(dict.fromkeys(too_wide))}: wider than the cloth")

    each = max(_EACH, _SHARE * seconds)

    def ask(part: Project, cloth: Callable[[float], Garment], rows: Goods, fine: float) -> _Part | None:
        return _least(part, cloth, rows, fine, (ends, each), seed, stop)

    upper = ask(pairs, lambda length: goods.upper_layer(length, gap), half, _FINE if _any(single) else step)
    lower = ask(single, goods.cloth, goods, step)
    if upper is None or lower is None:
        return replace(bare, reason="no layout was found in the time; give it more")
    start = upper.used + gap if upper.placements and lower.placements else upper.used
    used = start + lower.used
    length = math.ceil(used / step - 1e-9) * step
    moved = tuple(_moved(each, start, 2 * _OTHERS) for each in lower.placements)
    whole = (*_opened(upper.placements, asked, goods.width), *moved)
    whole = _numbered(whole, asked)
    faults = check([goods.cloth(length)], asked, whole)
    if faults:
        return replace(bare, reason=f"no layout was found that the checker accepts: {faults[0]}")
    shorter = length - step
    alone = lower if not upper.placements else upper if not lower.placements else None
    refuted = shorter if alone is not None and 0 < shorter <= alone.refuted + 1e-6 else None
    return replace(
        bare,
        length=length,
        used=used,
        placements=whole,
        shown=(*upper.placements, *moved),
        fold=upper.used if upper.placements else 0.0,
        shorter_refuted=refuted,
    )


def plans_of(
    project: Project,
    width: float,
    step: float,
    *,
    one_way: Callable[[str], bool] = lambda fabric: False,
    folded: bool = False,
    seconds: float = SECONDS,
    seed: int = 0,
) -> tuple[LayPlan, ...]:
    """A lay plan for each fabric of a project. one_way: whether a fabric has a nap or a one-way print."""
    items: tuple[Panel | Strip, ...] = (*project.panels, *project.strips)
    return tuple(
        lay_plan(project, Goods(fabric, width, folded, one_way(fabric)), step, seconds=seconds, seed=seed)
        for fabric in dict.fromkeys(item.fabric for item in items)
    )


def _any(project: Project) -> bool:
    return bool(project.panels or project.strips)


def _too_wide(project: Project, goods: Goods) -> list[str]:
    """What the rows have no place for at that width."""
    items: tuple[Panel | Strip, ...] = (*project.panels, *project.strips)
    return [each.name for each in items if cloth_length([each], goods.width, project.cutting_gap) is None]


def _unpaired(asked: Project, pairs: Project, single: Project, names: list[str]) -> tuple[Project, Project]:
    """Pairs without these, and what is cut from one layer with all copies of them."""
    wide = set(names)
    others = replace(
        single,
        panels=tuple(each for each in single.panels if each.name not in wide),
        strips=tuple(each for each in single.strips if each.name not in wide),
    )
    return (
        replace(
            pairs,
            panels=tuple(each for each in pairs.panels if each.name not in wide),
            strips=tuple(each for each in pairs.strips if each.name not in wide),
        ),
        replace(
            others,
            panels=(*others.panels, *(each for each in asked.panels if each.name in wide)),
            strips=(*others.strips, *(each for each in asked.strips if each.name in wide)),
        ),
    )


def _least(
    project: Project,
    cloth: Callable[[float], Garment],
    goods: Goods,
    fine: float,
    time: tuple[float, float],
    seed: int,
    stop: Callable[[], bool] | None,
) -> _Part | None:
    """The project on as little of this cloth as is found, to `fine` mm. None where nothing was found in the time.

    time: when it ends, and seconds for one length.
    """
    ends, each = time
    items: tuple[Panel | Strip, ...] = (*project.panels, *project.strips)
    if not items:
        return _Part(0.0, (), 0.0)

    def ask(length: float, seconds: float) -> tuple[tuple[Placement, ...], bool]:
        """The layout, empty if there is none; and whether it is proved that there is none."""
        answer = fit_project([cloth(length)], project, seconds=seconds, seed=seed, stop=stop, brief=True)
        return (answer.placements if answer.is_yes else ()), answer.verdict is Verdict.NO

    enough = cloth_length(items, goods.width, project.cutting_gap)
    assert enough is not None
    best: tuple[Placement, ...] = ()
    for more in (1.0, _MORE, 2.0):
        best, _ = ask(enough * more + fine, max(2 * each, ends - clock.now()))
        if best:
            break
    if not best:
        return None
    refuted = _area(items) / goods.room
    low, high = math.ceil(refuted / fine - 1e-9), math.ceil(_top(best) / fine - 1e-9)
    while low < high and ends - clock.now() > 0.05:
        middle = (low + high) // 2
        found, proved = ask(middle * fine, min(each, ends - clock.now()))
        if found:
            best, high = found, math.ceil(_top(found) / fine - 1e-9)
        else:
            low = middle + 1
            refuted = max(refuted, middle * fine) if proved else refuted
    return _Part(_top(best), best, refuted)


def _top(placements: tuple[Placement, ...]) -> float:
    return max(each.shape.bounds[3] for each in placements)


def _area(items: tuple[Panel | Strip, ...]) -> float:
    """mm^2 that all of them cover at the least."""
    return sum(
        each.cut * (Polygon(each.outline).area if isinstance(each, Panel) else each.cut_width * each.length)
        for each in items
    )


def _moved(placement: Placement, up: float, copies: int) -> Placement:
    shape = affinity.translate(placement.shape, 0.0, up)
    return replace(placement, shape=shape, copy=placement.copy + copies)


def _opened(placements: tuple[Placement, ...], project: Project, width: float) -> list[Placement]:
    """What was cut through two layers, on the cloth opened out: each shape and its mirror image beyond the fold."""
    panels = {panel.name: panel for panel in project.panels}
    found = []
    for each in placements:
        panel = panels.get(each.panel)
        flips = panel is not None and (panel.mirrored or panel.flip)
        shape = affinity.scale(each.shape, -1.0, 1.0, origin=(width / 2, 0.0))
        flipped = not each.flipped if flips else False
        turned = replace(each, shape=shape, angle=-each.angle % 360.0, flipped=flipped)
        found += [each, replace(turned, copy=each.copy + _OTHERS)]
    return found


def _numbered(placements: tuple[Placement, ...], project: Project) -> tuple[Placement, ...]:
    """Copies counted anew, the mirror images of a mirrored panel last; parts of a strip stay as they are."""
    mirrored = {panel.name for panel in project.panels if panel.mirrored}
    order = sorted(placements, key=lambda each: each.panel in mirrored and each.flipped)
    count: Counter[str] = Counter()
    lengths: dict[tuple[str, int], int] = {}
    found = []
    for each in order:
        if each.part is not None:  # lengths of one strip, all from one layer
            copy = lengths.setdefault((each.panel, each.copy), 0)
            if not copy:
                count[each.panel] += 1
                copy = lengths[each.panel, each.copy] = count[each.panel]
        else:
            count[each.panel] += 1
            copy = count[each.panel]
        found.append(replace(each, copy=copy))
    return tuple(found)

"""Where to put the joins of a panel: the longest part that each bit of cloth holds, then the next one.

Words: a *mark* is a distance from the panel's lower end or left side; a *reach* is the furthest mark to
which a part that begins at a given mark can go on one stretch. The further on a part begins, the further it
reaches: what is cut away only makes it smaller. So of all ways to lie behind each other on the same
stretches the one that always reaches furthest reaches the end if any does.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from shapely import affinity
from shapely.geometry import Polygon

from salvage.fit.cutting.joins import JoinWay, Piecing, breadth, extent, marks_between, parts_of, slab
from salvage.fit.search.place import Outline, Stretch, fits, place_of
from salvage.project.project import Panel
from salvage.shapes import polygons_of

_FINE = 0.004  # mm to which a reach is found
_BRANCHES = 6  # stretches tried for one part
_SHARED = (0.5, 0.25, 0.1, 0.0)  # of what is to spare at a join, how much goes to the part after it
_SHORTER = (1.0, 0.7, 0.5)  # of its reach, for a part that shares its stretch
_ANOTHER_ON_IT = 0.3  # mm^2 a stretch must have left, of the least a part needs, to be used again

_A_LOOK, _A_CORNER = (
    0.5,
    0.1,
)  # about milliseconds: to see whether a part fits, and for each corner of the cloth

Laid = tuple[int, float, float, float]  # cloth, angle, x, y
StretchesFor = Callable[[int, Polygon, Sequence[Stretch]], Iterable[Stretch]]


@dataclass(frozen=True, slots=True)
class Cover:
    """A way to piece a panel, where each part lies, and the stretches with the parts taken out."""

    piecing: Piecing | None
    laid: tuple[Laid, ...]
    left: tuple[Stretch, ...]


@dataclass
class Coverer:
    """Covers one panel, as drawn or mirrored, from stretches of cloth.

    corner: the direction in which parts are pushed. over: asked often; True ends the work. spend: told of
    the work done, in milliseconds or so.
    """

    panel: Panel
    gap: float
    mirrored: bool = False
    corner: tuple[float, float] = (-0.3, -1.0)
    over: Callable[[], bool] = lambda: False
    spend: Callable[[float], None] = lambda _: None
    _reaches: dict[tuple[int, JoinWay, float, bool], float | None] = field(default_factory=dict)
    _seen: dict[frozenset[tuple[int, float]], float] = field(
        default_factory=dict
    )  # the furthest mark, by what was used
    _kept: list[Stretch] = field(default_factory=list)  # so that an id stays one stretch's

    def __post_init__(self) -> None:
        self.outline = Polygon(self.panel.outline)
        self._between = (0.0, math.inf)
        self.narrowest = min(self.panel.narrowest_part, breadth(self.outline))
        self.size = {way: extent(self.outline, way) for way in JoinWay}

    def covers(self, stretches: Sequence[Stretch], joins: int) -> Cover | None:
        """The panel with exactly so many joins; None if no way was found."""
        return next(self.all_covers(stretches, joins), None)

    def all_covers(self, stretches: Sequence[Stretch], joins: int) -> Iterator[Cover]:
        """Covers with exactly so many joins, one after the other."""
        self._kept += stretches
        if joins == 0:
            yield from self._whole(stretches)
            return
        for way in sorted(JoinWay, key=lambda way: -self.size[way]):
            if self.size[way] < (joins + 1) * self.narrowest - 1e-9:
                continue
            between = marks_between(self.panel, way, self.size[way])
            if between is None:
                continue
            self._between = between
            for again in (False, True):  # one part on each stretch; then perhaps several
                self._seen = {}
                for sequence in self._sequences(way, stretches, 0.0, joins + 1, frozenset(), again=again):
                    cover = self._laid_out(way, sequence, stretches)
                    if cover is not None:
                        yield cover
                    if self.over():
                        return

    def covers_as(self, piecing: Piecing, stretches: Sequence[Stretch]) -> Cover | None:
        """The panel pieced just so, each part on the smallest stretch that is left and holds it; None if one has no place."""

        def smallest_first(_: int, part: Polygon, left: Sequence[Stretch]) -> Iterator[Stretch]:
            for each in sorted(left, key=lambda each: each.polygon.area):
                self.spend(_A_LOOK)
                if each.polygon.area >= part.area:
                    yield each

        return self._lay(piecing, stretches, smallest_first)

    def _whole(self, stretches: Sequence[Stretch]) -> Iterator[Cover]:
        whole = Outline(self._as_cut(self.outline))
        for stretch in sorted(stretches, key=lambda each: each.polygon.area):
            if self.over():
                return
            self.spend(_A_LOOK)
            if stretch.polygon.area >= self.outline.area - 1e-3 and (at := self._place_of(whole, stretch)):
                rest = self._rest(stretches, stretch, whole.polygon, at)
                yield Cover(None, ((stretch.cloth, *at),), rest)

    def _place_of(self, outline: Outline, stretch: Stretch) -> tuple[float, float, float] | None:
        return place_of(outline, stretch, self.corner, over=self.over, spend=self.spend)

    def _sequences(
        self,
        way: JoinWay,
        stretches: Sequence[Stretch],
        begin: float,
        parts: int,
        used: frozenset[tuple[int, float]],
        *,
        again: bool,
    ) -> Iterator[tuple[tuple[Stretch, float], ...]]:
        """Stretches for the parts from the mark on, each with its reach; the last one reaches the end.

        used: those that parts before lie on. again: whether what is left of one may be used too.
        """
        size = self.size[way]
        if (
            self.over()
            or self._seen.get(used, -1.0) >= begin
            or not self._enough(way, stretches, begin, parts)
        ):
            return
        self._seen[used] = begin
        if parts == 1:
            for stretch in sorted(stretches, key=lambda each: each.polygon.area):
                if self._fits(way, begin, size, stretch):
                    yield ((stretch, size),)
            return
        reached: list[tuple[float, float, int, Stretch]] = []
        for stretch in stretches:
            reach = self._reach(way, begin, stretch)
            if reach is not None:
                reached.append((reach, -stretch.polygon.area, len(reached), stretch))
        reached.sort(key=lambda each: each[:3], reverse=True)
        for reach, _, _, stretch in reached[:_BRANCHES]:
            furthest = min(reach, size - (parts - 1) * self.narrowest, self._between[1])
            if furthest < self._between[0]:
                continue
            others = [each for each in stretches if each is not stretch]
            for share in _SHORTER if again else (1.0,):
                # where two parts share a stretch, the first had better not take all that it can
                mark = max(begin + max(self.narrowest, share * (furthest - begin)), self._between[0])
                if mark > self._between[1] + 1e-9:
                    continue
                bits = self._what_is_left(way, begin, mark, stretch) if again else []
                if again and not bits and share < 1.0:
                    continue
                found = self._sequences(
                    way, [*others, *bits], mark, parts - 1, used | {(id(stretch), share)}, again=again
                )
                for rest in found:
                    yield ((stretch, mark), *rest)

    def _enough(self, way: JoinWay, stretches: Sequence[Stretch], begin: float, parts: int) -> bool:
        """False if so many parts on so many stretches have less cloth than the rest of the panel needs."""
        rest = slab(self.outline, way, begin, self.size[way])
        areas = sorted((each.polygon.area for each in stretches), reverse=True)
        return rest is None or rest.area <= sum(areas[:parts]) * (1 + 1e-9)

    def _reach(self, way: JoinWay, begin: float, stretch: Stretch) -> float | None:
        """The furthest mark a part from `begin` reaches on the stretch; None if it holds no part at all."""
        key = (id(stretch), way, round(begin, 4), True)
        if key not in self._reaches:
            self._reaches[key] = self._find_reach(way, begin, stretch)
        return self._reaches[key]

    def _find_reach(self, way: JoinWay, begin: float, stretch: Stretch) -> float | None:
        size = self.size[way]
        low, high = begin + self.narrowest, size - self.narrowest
        if high < low - 1e-9:
            return None
        high = max(low, high)
        if not self._fits(way, begin, low, stretch):
            return None
        for in_hull in (True, False):
            if self._fits(way, begin, high, stretch, in_hull=in_hull):
                continue
            bottom = low
            while high - bottom > _FINE and not self.over():
                middle = (bottom + high) / 2
                if self._fits(way, begin, middle, stretch, in_hull=in_hull):
                    bottom = middle
                else:
                    high = middle
            high = bottom
        return high

    def _start(self, way: JoinWay, end: float, least: float, stretch: Stretch) -> float:
        """The earliest mark from which a part up to `end` lies on the stretch; it does from `least` on."""
        low, high = 0.0, least
        while high - low > _FINE:
            middle = (low + high) / 2
            if self._fits(way, middle, end, stretch):
                high = middle
            else:
                low = middle
        return high

    def _part(self, way: JoinWay, low: float, high: float) -> Polygon | None:
        """What is cut for the part between two marks: with the allowance beyond its joins."""
        allowance = self.panel.seam_allowance
        before = allowance if low > 0 else 0.0
        after = allowance if high < self.size[way] else 0.0
        part = slab(self.outline, way, low - before, high + after)
        return None if part is None else self._as_cut(part)

    def _as_cut(self, part: Polygon) -> Polygon:
        return affinity.scale(part, xfact=-1.0, origin=(0, 0)) if self.mirrored else part

    def _fits(
        self, way: JoinWay, low: float, high: float, stretch: Stretch, *, in_hull: bool = False
    ) -> bool:
        part = self._part(way, low, high)
        if part is None or part.area > stretch.polygon.area * (1 + 1e-9):
            return False
        corners = len(stretch.polygon.exterior.coords)
        self.spend(_A_LOOK + (0.0 if in_hull else corners * _A_CORNER))
        return fits(Outline(part), stretch, in_hull=in_hull)

    def _what_is_left(self, way: JoinWay, low: float, high: float, stretch: Stretch) -> list[Stretch]:
        """The bits of a stretch left for another part once this one lies on it."""
        part = self._part(way, low, high)
        if part is None or stretch.polygon.area - part.area < self._least():
            return []
        at = self._place_of(Outline(part), stretch)
        if at is None:
            return []
        bits = [
            each for each in self._rest([stretch], stretch, part, at) if each.polygon.area >= self._least()
        ]
        self._kept += bits
        return bits

    def _least(self) -> float:
        return _ANOTHER_ON_IT * self.narrowest**2

    def _rest(
        self, stretches: Sequence[Stretch], used: Stretch, part: Polygon, at: tuple[float, float, float]
    ) -> tuple[Stretch, ...]:
        """The stretches with a part taken out of one of them, and the cutting gap round it."""
        taken = laid(part, at).buffer(self.gap + 1e-6, join_style="mitre")
        bits = [
            Stretch(used.cloth, each, used.angles) for each in polygons_of(used.polygon.difference(taken))
        ]
        return (*(each for each in stretches if each is not used), *bits)

    def _laid_out(
        self, way: JoinWay, sequence: tuple[tuple[Stretch, float], ...], stretches: Sequence[Stretch]
    ) -> Cover | None:
        """The cover of a sequence, with what is to spare shared out along the joins where that goes well."""
        furthest = [mark for _, mark in sequence[:-1]]
        earliest = self._earliest(way, sequence)

        def its_own(number: int, _: Polygon, left: Sequence[Stretch]) -> list[Stretch]:
            """The stretch itself, or the bits of it that are left."""
            wanted = sequence[number][0]
            return [each for each in left if each is wanted] or [
                each for each in left if each.cloth == wanted.cloth
            ]

        for share in _SHARED:
            marks = tuple(
                mark - share * (mark - first) for mark, first in zip(furthest, earliest, strict=True)
            )
            piecing = Piecing(way, marks)
            if parts_of(self.panel, piecing) is None:
                continue
            cover = self._lay(piecing, stretches, its_own)
            if cover is not None:
                return cover
            if self.over():
                return None
        return None

    def _earliest(self, way: JoinWay, sequence: tuple[tuple[Stretch, float], ...]) -> list[float]:
        """For each join the earliest mark from which the parts after it reach the end."""
        end, found = self.size[way], []
        for (stretch, _), (_, mark) in zip(sequence[:0:-1], sequence[-2::-1], strict=True):
            end = self._start(way, end, mark, stretch) if self._fits(way, mark, end, stretch) else mark
            found.append(end)
        return found[::-1]

    def _lay(self, piecing: Piecing, stretches: Sequence[Stretch], where: StretchesFor) -> Cover | None:
        """Lay the parts, each on the first of its stretches that holds it; None if one has no place.

        where: for a part, by its number from 0, the stretches to try, of those that are left.
        """
        left = list(stretches)
        places: list[Laid] = []
        for number, (low, high) in enumerate(pairwise((0.0, *piecing.at, self.size[piecing.way]))):
            part = self._part(piecing.way, low, high)
            if part is None:
                return None
            outline = Outline(part)
            for stretch in where(number, part, left):
                at = self._place_of(outline, stretch)
                if at is not None:
                    break
            else:
                return None
            places.append((stretch.cloth, *at))
            left = list(self._rest(left, stretch, part, at))
        return Cover(piecing, tuple(places), tuple(left))


def laid(part: Polygon, at: tuple[float, float, float]) -> Polygon:
    """A shape turned about (0, 0) by the angle and moved; exact at quarter turns."""
    from salvage.fit.ask import as_laid
    from salvage.fit.question import Placed

    angle, x, y = at
    return as_laid(part, Placed(0, 0, angle, False, x, y))

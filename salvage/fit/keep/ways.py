"""Ways to lay the panels that keep something of the garment, each on a thing of its own, clear of one another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.fit.answer import Placement
from salvage.fit.cutting.joins import JoinWay, Piecing, extent, marks_between, parts_of
from salvage.fit.keep.places import KeptAt, places_on_edge, places_round
from salvage.fit.keep.things import Thing, things_for
from salvage.fit.material.lay import Where, extent_of, plus_minus_of
from salvage.project.project import Panel

_EACH = 3  # places tried round one thing
_COARSE = 12  # places of two joins, one at each end of what is kept
_FINE = 2.0  # mm to which a part round a thing is made as large as goes
_APART = 1e-6  # mm more than the gap, so that rounding never makes it less


@dataclass(frozen=True, slots=True)
class Laid:
    """One copy of a panel that keeps something. part: number of the part that does, None if it is whole."""

    panel: Panel
    copy: int
    place: KeptAt
    piecing: Piecing | None = None
    part: int | None = None

    @property
    def placement(self) -> Placement:
        """As the answer has it."""
        thing, placed = self.place.thing, self.place.placed
        return Placement(
            self.panel.name, self.copy, self.part, thing.garment, thing.piece.name, 1, placed.angle % 360,
            placed.flipped, self.place.shape,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class NoWay:
    """Why a panel has no place of its own. things: what is there of what it keeps; none: nothing of that name is known."""

    panel: Panel
    things: Sequence[Thing]


def ways(
    garments: Sequence[Garment],
    wanted: Sequence[tuple[Panel, int]],
    gap: float,
    missing: list[NoWay],
    before: tuple[Laid, ...] = (),
) -> Iterator[tuple[Laid, ...]]:
    """Ways to lay all copies that keep something, clear of each other; each on a thing of its own.

    wanted: panels and numbers of their copies. gap: mm between shapes. missing: takes why a copy has no place. before:
    what is laid already.
    """
    if not wanted:
        yield before
        return
    panel, copy = wanted[0]
    things = things_for(garments, panel)
    if not things:
        missing.append(NoWay(panel, ()))
        return
    found = False
    # an edge is long enough for several; a pocket isn't
    taken = [each.place.thing.shape for each in before] if panel.around else []
    for thing in (each for each in things if not any(each.shape.equals(shape) for shape in taken)):
        for laid in _round(panel, copy, thing, before, gap):
            found = True
            yield from ways(garments, wanted[1:], gap, missing, (*before, laid))
    if not found:
        missing.append(NoWay(panel, things))


def _round(panel: Panel, copy: int, thing: Thing, before: Sequence[Laid], gap: float) -> Iterator[Laid]:
    """A few ways to lay one copy on one thing: whole, else the part that holds it as large as it goes."""
    flipped = _is_flipped(panel, copy)
    # turned over, what a panel is cut round would show on its wrong side; a hem is one on both
    flips = (False, True) if panel.flip and panel.edge is not None else (flipped,)
    clear = [
        each
        for flip in flips
        for each in _places(panel, Polygon(panel.outline), thing, flipped=flip)
        if _is_clear(each, before, gap)
    ]
    if clear:
        yield from (Laid(panel, copy, each) for each in _a_few(clear))
        return
    if panel.around is not None and panel.joins:
        for piecing, part, place in _pieced(panel, thing, flipped=flipped):
            if _is_clear(place, before, gap):
                yield Laid(panel, copy, place, piecing, part)


def _places(panel: Panel, outline: Polygon, thing: Thing, *, flipped: bool) -> Iterator[KeptAt]:
    """Places of the panel, or of a part of it, on one thing."""
    if panel.around is not None:
        yield from places_round(panel, outline, panel.around, thing, flipped=flipped)
    elif panel.edge is not None:
        yield from places_on_edge(panel, panel.edge, thing, flipped=flipped)


def _is_flipped(panel: Panel, copy: int) -> bool:
    return panel.mirrored and copy > panel.cut // 2


def _is_clear(place: KeptAt, before: Sequence[Laid], gap: float) -> bool:
    return all(
        (each.place.thing.garment, each.place.thing.piece.name)
        != (place.thing.garment, place.thing.piece.name)
        or each.place.shape.distance(place.shape) >= gap + _APART
        for each in before
    )


def _a_few(places: Sequence[KeptAt]) -> list[KeptAt]:
    """The first (which is nearest to where it is wanted) if there is room enough round it, and the roomiest."""
    safe = [each for each in places if each.room >= plus_minus_at(each)]
    roomiest = sorted(places, key=lambda each: -each.room)
    return list({id(each): each for each in (*safe[:1], *roomiest)}.values())[:_EACH]


def plus_minus_at(place: KeptAt) -> float:
    """The plus-minus of a place, mm."""
    piece = place.thing.piece
    return plus_minus_of(Where(place.thing.garment, piece.name, 1, piece.plus_minus), extent_of(place.shape))


def _pieced(panel: Panel, thing: Thing, *, flipped: bool) -> Iterator[tuple[Piecing, int, KeptAt]]:
    """The panel with one join, or two if it may, the part with the thing as large as the cloth round it lets it be.

    The other parts may come from anywhere. Joins run where the project wants them, else below the thing, above it, then
    at its sides.
    """
    outline = Polygon(panel.outline)
    for way in JoinWay:
        size = extent(outline, way)
        between = marks_between(panel, way, size)
        if between is None:
            continue
        step = max(_FINE, size / 60)
        lows = [low * step for low in range(int(size / step))]
        ends = [(0.0, size - each) for each in lows[1:]]  # one join, at the upper end or the right
        starts = [(each, size) for each in lows[1:]]
        both: list[tuple[float, float]] = []
        if panel.joins > 1:
            cuts = [size * part / _COARSE for part in range(1, _COARSE)]
            both = sorted(
                ((low, high) for low in cuts for high in cuts if low < high),
                key=lambda pair: pair[0] - pair[1],
            )
        for tried in (starts, ends, both):
            best = _largest(panel, way, tried, thing, flipped=flipped)
            if best is not None:
                yield best
                break


def _largest(
    panel: Panel, way: JoinWay, tried: Sequence[tuple[float, float]], thing: Thing, *, flipped: bool
) -> tuple[Piecing, int, KeptAt] | None:
    """The first of the slabs (largest first) that lies round the thing and leaves parts worth joining."""
    outline = Polygon(panel.outline)
    size = extent(outline, way)
    for low, high in tried:
        at = tuple(each for each in (low, high) if 0 < each < size)
        piecing = Piecing(way, at)
        parts = parts_of(panel, piecing)
        if parts is None:
            continue
        number = 1 if low == 0 else 2
        place = next(_places(panel, parts[number - 1], thing, flipped=flipped), None)
        if place is not None and place.room >= plus_minus_at(place):
            return piecing, number, place
    return None

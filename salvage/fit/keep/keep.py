"""The answer to a project of which some panels keep something of the garment.

Those panels are laid first, each round its thing; where they lie is no cloth for the rest, which is asked about as any
project is. A few places are tried, the roomiest ones. A no is only given where the rest alone has none, which is sound:
it is part of the project, and the cloth it may lie on is the same or more. Else it stays unsettled.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon

from salvage.cloth.garment import Garment
from salvage.cloth.usable import usable
from salvage.fit import clock
from salvage.fit.answer import Answer, FabricAnswer, Placement, Verdict
from salvage.fit.check.check import check
from salvage.fit.cutting.joins import JoinWay, Piecing, extent, marks_between, parts_of, ring_of
from salvage.fit.keep.places import KeptAt, places_on_edge, places_round
from salvage.fit.keep.things import Thing, things_for
from salvage.fit.material.lay import Where, extent_of, plus_minus_of
from salvage.fit.material.left import left_over
from salvage.fit.say.kept import of_kept, of_no_room, of_no_thing, of_the_rest
from salvage.fit.say.open import of_open
from salvage.fit.say.phrases import listed
from salvage.project.project import Panel, Project
from salvage.shapes import polygons_of

_TRIED = 6  # ways to lay what keeps something
_EACH = 3  # places tried round one thing
_MOST_KEPT = 30  # copies, where the cloth decides how many keep something
_FOR_FIRST, _FOR_MORE, _LEAST_FOR_MORE = 0.5, 0.4, 0.5  # shares of the time for one and for one more; seconds
_COARSE = 12  # places of two joins, one at each end of what is kept
_FINE = 2.0  # mm to which a part round a thing is made as large as goes
_PART = "{}, part {}"  # what a part of a pieced panel is called while the rest is asked about

Ask = Callable[[Sequence[Garment], Project, float, bool], Answer]


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


def keeps_something(project: Project) -> bool:
    """Whether any panel is cut round something, or has a side on a hem."""
    return any(panel.keeps for panel in project.panels)


def without_kept(project: Project) -> Project:
    """The project without the panels that keep something."""
    return replace(project, panels=tuple(each for each in project.panels if not each.keeps))


def fit_keeping(garments: Sequence[Garment], project: Project, ask: Ask, *, seconds: float) -> Answer:
    """The whole answer. ask: for a project of which nothing is kept, in so many seconds, briefly or not.

    Of a panel that keeps something and leaves its number to the cloth, one more is asked for until no way is found.
    """
    begun = clock.now()
    open_ = next((each for each in project.panels if each.keeps and each.many), None)
    if open_ is None:
        return _fit_as_many(garments, project, ask, seconds)
    best, count = None, open_.cut
    while best is None or count < _MOST_KEPT:
        left = seconds - (clock.now() - begun)
        if best is not None and left < _LEAST_FOR_MORE:
            break
        asked = replace(open_, cut=count, many=False)
        panels = tuple(asked if each is open_ else each for each in project.panels)
        share = _FOR_FIRST if best is None else _FOR_MORE
        answer = fit_keeping(garments, replace(project, panels=panels), ask, seconds=share * left)
        if answer.spare is None or (best is not None and not answer.is_yes):
            best = best or answer
            break
        told = of_open(
            replace(project, panels=(replace(open_, cut=count),), strips=()), project.unit, no_more=False
        )
        best = replace(answer, many={open_.name: count, **answer.many}, reasons=(*told, *answer.reasons))
        count += open_.cut  # one, or a pair
    return replace(best, seconds=clock.now() - begun)


def _fit_as_many(garments: Sequence[Garment], project: Project, ask: Ask, seconds: float) -> Answer:
    """The answer where the number of copies that keep something is told."""
    begun = clock.now()
    rest = without_kept(project)
    wanted = [(panel, copy) for panel in project.panels if panel.keeps for copy in _copies(panel)]
    missing: list[str] = []
    best: Answer | None = None
    for laid in islice(_ways(garments, project, wanted, missing), _TRIED):
        left = seconds - (clock.now() - begun)
        if best is not None and left < 0.2:
            break
        answer = _with_rest(garments, project, rest, laid, ask, max(0.5, 0.6 * left))
        if best is None or _rank(answer) > _rank(best):
            best = answer
        if best.is_yes:
            break
    if best is not None and best.spare is not None:
        return replace(best, seconds=clock.now() - begun)
    if rest.panels or rest.strips:
        alone = ask(garments, rest, max(0.5, 0.5 * (seconds - (clock.now() - begun))), best is not None)
        if alone.verdict is Verdict.NO:
            return replace(alone, seconds=clock.now() - begun)
    if best is not None:
        return replace(best, seconds=clock.now() - begun)
    told = tuple(dict.fromkeys(missing))
    return Answer(Verdict.UNSETTLED, told, seconds=clock.now() - begun)


def _copies(panel: Panel) -> range:
    return range(1, panel.cut + 1)


def _is_flipped(panel: Panel, copy: int) -> bool:
    return panel.mirrored and copy > panel.cut // 2


def _rank(answer: Answer) -> tuple[int, float]:
    order = (Verdict.NO, Verdict.UNSETTLED, Verdict.TOO_CLOSE, Verdict.YES_WITH_JOINS, Verdict.YES)
    return order.index(answer.verdict), answer.spare or 0.0


def _ways(
    garments: Sequence[Garment],
    project: Project,
    wanted: Sequence[tuple[Panel, int]],
    missing: list[str],
    before: tuple[Laid, ...] = (),
) -> Iterator[tuple[Laid, ...]]:
    """Ways to lay all copies that keep something, clear of each other; each on a thing of its own."""
    if not wanted:
        yield before
        return
    panel, copy = wanted[0]
    things = things_for(garments, panel)
    if not things:
        missing.append(of_no_thing(panel, garments))
        return
    found = False
    # an edge is long enough for several; a pocket isn't
    taken = [each.place.thing.shape for each in before] if panel.around else []
    for thing in (each for each in things if not any(each.shape.equals(shape) for shape in taken)):
        for laid in _round(panel, copy, thing, before, project.cutting_gap):
            found = True
            yield from _ways(garments, project, wanted[1:], missing, (*before, laid))
    if not found:
        missing.append(of_no_room(panel, things, garments, project.unit))


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
    if panel.around is not None:
        yield from places_round(panel, outline, panel.around, thing, flipped=flipped)
    elif panel.edge is not None:
        yield from places_on_edge(panel, panel.edge, thing, flipped=flipped)


def _is_clear(place: KeptAt, before: Sequence[Laid], gap: float) -> bool:
    return all(
        (each.place.thing.garment, each.place.thing.piece.name)
        != (place.thing.garment, place.thing.piece.name)
        or each.place.shape.distance(place.shape) >= gap + 1e-6
        for each in before
    )


def _a_few(places: Sequence[KeptAt]) -> list[KeptAt]:
    """The first (which is nearest to where it is wanted) if there is room enough round it, and the roomiest."""
    safe = [each for each in places if each.room >= _off(each)]
    roomiest = sorted(places, key=lambda each: -each.room)
    return list({id(each): each for each in (*safe[:1], *roomiest)}.values())[:_EACH]


def _off(place: KeptAt) -> float:
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
        if place is not None and place.room >= _off(place):
            return piecing, number, place
    return None


def _with_rest(
    garments: Sequence[Garment],
    project: Project,
    rest: Project,
    laid: Sequence[Laid],
    ask: Ask,
    seconds: float,
) -> Answer:
    """The answer with these copies laid where they are."""
    left = _without(garments, laid, project.cutting_gap)
    others = [pair for each in laid for pair in _other_parts(each)]
    asked = replace(rest, panels=(*rest.panels, *(panel for panel, _ in others)))
    pinned = [each.placement for each in laid]
    spare = min(each.place.room for each in laid)
    off = max(_off(each.place) for each in laid)
    if asked.panels or asked.strips:
        answer = ask(left, asked, seconds, False)
        if answer.spare is None:
            return _open(answer, garments, project, laid, others)
    else:
        answer = Answer(Verdict.YES, (), spare=spare, plus_minus=off)
    rest_answer = answer
    project = _as_found(project, answer)
    placements = _in_order(project, [*pinned, *_renamed(answer.placements, others)])
    close = spare < off
    if spare - off <= (answer.spare or 0.0) - answer.plus_minus:
        answer = replace(answer, spare=spare, plus_minus=off)
    verdict = Verdict.TOO_CLOSE if close else answer.verdict
    if verdict is Verdict.YES and any(each.piecing for each in laid):
        verdict = Verdict.YES_WITH_JOINS
    faults = check(garments, project, placements)
    if faults:
        return Answer(Verdict.UNSETTLED, (f"No layout was found that the checker accepts: {faults[0]}.",))
    tight = (answer.spare or 0.0, answer.plus_minus)
    reasons = (
        *of_kept(laid, garments, project.unit, close=close),
        *of_the_rest(rest_answer, tight, garments, project.unit),
    )
    fabrics = dict(answer.fabrics)
    for each in laid:
        fabrics.setdefault(each.panel.fabric, FabricAnswer(verdict, reasons))
    return replace(
        answer,
        verdict=verdict,
        reasons=reasons,
        placements=placements,
        left_over=left_over(garments, placements),
        join_plan=(*_joins(laid, project), *answer.join_plan),
        fabrics=fabrics,
        largest_scale_percent=None,
        suffices=(),
    )


def _as_found(project: Project, answer: Answer) -> Project:
    """The project with the numbers and lengths that it left open as the answer has them."""
    many, longest = answer.many, answer.longest
    return replace(
        project,
        panels=tuple(replace(each, cut=many.get(each.name, each.cut)) for each in project.panels),
        strips=tuple(
            replace(each, cut=many.get(each.name, each.cut), length=longest.get(each.name, each.length))
            for each in project.strips
        ),
    )


def _open(
    answer: Answer,
    garments: Sequence[Garment],
    project: Project,
    laid: Sequence[Laid],
    others: Sequence[tuple[Panel, tuple[str, int, int]]],
) -> Answer:
    """Nothing is settled: what was found, or proved, is about one way to lay what keeps something."""
    names = listed(list(dict.fromkeys(each.panel.name for each in laid)))
    told = f"With {names} laid where what it keeps lies, no layout of all the rest was found; other places may do."
    placements = _in_order(
        project, [*(each.placement for each in laid), *_renamed(answer.placements, others)]
    )
    there = Counter((each.panel, each.copy, each.part) for each in placements)
    parts = {(each.panel.name, each.copy): each for each in laid}
    missing = [
        panel.name
        for panel in project.panels
        for copy in _copies(panel)
        if not _is_there(panel.name, copy, there, parts)
    ]
    missing += [
        strip.name for strip in project.strips for copy in range(1, strip.cut + 1)
        if not any(key[:2] == (strip.name, copy) for key in there)
    ]  # fmt: skip
    if check(garments, project, placements, partial=True):
        placements, missing = (), []
    return Answer(
        Verdict.UNSETTLED,
        (told, *answer.reasons),
        placements,
        not_placed=tuple(missing),
        plus_minus=answer.plus_minus,
        left_over=left_over(garments, placements) if placements else {},
        helps=answer.helps,
    )


def _is_there(
    name: str, copy: int, there: Counter[tuple[str, int, int | None]], pieced: Mapping[tuple[str, int], Laid]
) -> bool:
    """Whether a copy lies there, with all its parts if it keeps something and is pieced."""
    laid = pieced.get((name, copy))
    if laid is not None and laid.piecing is not None:
        return all((name, copy, part) in there for part in range(1, len(laid.piecing.at) + 2))
    return any(key[:2] == (name, copy) for key in there)


def _without(garments: Sequence[Garment], laid: Sequence[Laid], gap: float) -> tuple[Garment, ...]:
    """The garments without the cloth that is taken, and the gap round it. Only the first layer is."""
    found = list(garments)
    for each in laid:
        thing = each.place.thing
        garment = found[thing.garment]
        taken = each.place.shape.buffer(gap + 1e-6, join_style="mitre")
        pieces = []
        for piece in garment.pieces:
            if piece.name != thing.piece.name:
                pieces.append(piece)
                continue
            # of two equal layers the lower one is given up: it has no thing, and no name of its own
            rest = MultiPolygon(polygons_of(usable(piece).difference(taken)))
            pieces.append(replace(piece, usable=rest, layers=1))
        found[thing.garment] = replace(garment, pieces=tuple(pieces))
    return tuple(found)


def _other_parts(laid: Laid) -> list[tuple[Panel, tuple[str, int, int]]]:
    """The parts of a pieced panel that keep nothing, as panels of their own, with name, copy and number."""
    if laid.piecing is None:
        return []
    parts = parts_of(laid.panel, laid.piecing) or ()
    flipped = laid.place.placed.flipped
    found = []
    for number, part in enumerate(parts, 1):
        if number == laid.part:
            continue
        outline = affinity.scale(part, xfact=-1.0, origin=(0, 0)) if flipped else part
        name = _PART.format(f"{laid.panel.name} {laid.copy}", number)
        panel = replace(
            laid.panel, name=name, outline=ring_of(outline), cut=1, mirrored=False, joins=0, around=None,
            finished=None, stitching=(), notches=(), guides=(),
        )  # fmt: skip
        found.append((panel, (laid.panel.name, laid.copy, number)))
    return found


def _renamed(
    placements: Sequence[Placement], others: Sequence[tuple[Panel, tuple[str, int, int]]]
) -> list[Placement]:
    names = {panel.name: (label, panel) for panel, label in others}
    found = []
    for each in placements:
        if each.panel in names:
            name, copy, part = names[each.panel][0]
            found.append(replace(each, panel=name, copy=copy, part=part))
        else:
            found.append(each)
    return found


def _in_order(project: Project, placements: Sequence[Placement]) -> tuple[Placement, ...]:
    names = [*(panel.name for panel in project.panels), *(strip.name for strip in project.strips)]
    return tuple(sorted(placements, key=lambda p: (names.index(p.panel), p.copy, p.part or 0)))


def _joins(laid: Sequence[Laid], project: Project) -> tuple[str, ...]:
    from salvage.fit.say.changes import panel_sentence

    return tuple(
        panel_sentence(each.panel, each.piecing, [each.copy], project.unit)
        for each in laid
        if each.piecing is not None
    )

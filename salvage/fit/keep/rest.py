"""The rest of a project beside panels that keep something: the cloth that is left for it, and the answer to the whole."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from shapely import affinity
from shapely.geometry import MultiPolygon

from salvage.cloth.garment import Garment
from salvage.cloth.usable import usable
from salvage.fit.answer import Answer, FabricAnswer, Placement, Verdict
from salvage.fit.check.check import check
from salvage.fit.cutting.joins import parts_of, ring_of
from salvage.fit.fabrics import in_order
from salvage.fit.keep.ways import Laid, plus_minus_at
from salvage.fit.material.left import left_over
from salvage.fit.say.changes import panel_sentence
from salvage.fit.say.kept import of_kept, of_open_rest, of_refused, of_the_rest
from salvage.project.project import Panel, Project
from salvage.shapes import polygons_of

_PART = "{}, part {}"  # what a part of a pieced panel is called while the rest is asked about
_APART = 1e-6  # mm more than the gap, so that rounding never makes it less

Ask = Callable[[Sequence[Garment], Project, float, bool], Answer]
Other = tuple[
    Panel, tuple[str, int, int]
]  # a part asked about as a panel of its own; its panel, copy and number


def with_rest(
    garments: Sequence[Garment],
    project: Project,
    rest: Project,
    laid: Sequence[Laid],
    ask: Ask,
    seconds: float,
) -> Answer:
    """The answer with these copies laid where they are.

    project: the whole; rest: without what keeps something. ask: for a project of which nothing is kept, in so many
    seconds, briefly or not.
    """
    left = _without(garments, laid, project.cutting_gap)
    others = [pair for each in laid for pair in _other_parts(each)]
    asked = replace(rest, panels=(*rest.panels, *(panel for panel, _ in others)))
    pinned = [each.placement for each in laid]
    spare = min(each.place.room for each in laid)
    off = max(plus_minus_at(each.place) for each in laid)
    if asked.panels or asked.strips:
        answer = ask(left, asked, seconds, False)
        if answer.spare is None:
            return _still_open(answer, garments, project, laid, others)
    else:
        answer = Answer(Verdict.YES, (), spare=spare, plus_minus=off)
    rest_answer = answer
    project = _as_found(project, answer)
    placements = in_order(project, [*pinned, *_renamed(answer.placements, others)])
    close = spare < off
    if spare - off <= (answer.spare or 0.0) - answer.plus_minus:
        answer = replace(answer, spare=spare, plus_minus=off)
    verdict = Verdict.TOO_CLOSE if close else answer.verdict
    if verdict is Verdict.YES and any(each.piecing for each in laid):
        verdict = Verdict.YES_WITH_JOINS
    faults = check(garments, project, placements)
    if faults:
        return Answer(Verdict.UNSETTLED, (of_refused(faults[0]),))
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


def _still_open(
    answer: Answer,
    garments: Sequence[Garment],
    project: Project,
    laid: Sequence[Laid],
    others: Sequence[Other],
) -> Answer:
    """Nothing is settled: what was found, or proved, is about one way to lay what keeps something."""
    placements = in_order(project, [*(each.placement for each in laid), *_renamed(answer.placements, others)])
    there = Counter((each.panel, each.copy, each.part) for each in placements)
    parts = {(each.panel.name, each.copy): each for each in laid}
    missing = [
        panel.name
        for panel in project.panels
        for copy in copies_of(panel)
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
        (of_open_rest(laid), *answer.reasons),
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
        taken = each.place.shape.buffer(gap + _APART, join_style="mitre")
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


def _other_parts(laid: Laid) -> list[Other]:
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


def _renamed(placements: Sequence[Placement], others: Sequence[Other]) -> list[Placement]:
    names = {panel.name: (label, panel) for panel, label in others}
    found = []
    for each in placements:
        if each.panel in names:
            name, copy, part = names[each.panel][0]
            found.append(replace(each, panel=name, copy=copy, part=part))
        else:
            found.append(each)
    return found


def _joins(laid: Sequence[Laid], project: Project) -> tuple[str, ...]:
    return tuple(
        panel_sentence(each.panel, each.piecing, [each.copy], project.unit)
        for each in laid
        if each.piecing is not None
    )


def copies_of(panel: Panel) -> range:
    """The numbers of its copies."""
    return range(1, panel.cut + 1)

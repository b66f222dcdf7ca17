"""The answer to a project of which some panels keep something of the garment.

Those panels are laid first, each round its thing; where they lie is no cloth for the rest, which is asked about as any
project is. A few places are tried, the roomiest ones. A no is only given where the rest alone has none, which is sound:
it is part of the project, and the cloth it may lie on is the same or more. Else it stays unsettled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import islice

from salvage.cloth.garment import Garment
from salvage.fit import clock
from salvage.fit.answer import Answer, Verdict
from salvage.fit.keep.rest import Ask, copies_of, with_rest
from salvage.fit.keep.ways import NoWay, ways
from salvage.fit.say.kept import of_no_room, of_no_thing
from salvage.fit.say.open import of_open
from salvage.project.project import Project

_TRIED = 6  # ways to lay what keeps something
_MOST_KEPT = 30  # copies, where the cloth decides how many keep something
_FOR_FIRST, _FOR_MORE, _LEAST_FOR_MORE = 0.5, 0.4, 0.5  # shares of the time for one and for one more; seconds
# Of what is left of the time, for one way, and at the end for the rest alone; seconds at least of these, and for another way.
_FOR_A_WAY, _FOR_THE_REST, _LEAST, _LEAST_FOR_ANOTHER = 0.6, 0.5, 0.5, 0.2


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
    wanted = [(panel, copy) for panel in project.panels if panel.keeps for copy in copies_of(panel)]
    missing: list[NoWay] = []
    best: Answer | None = None
    for laid in islice(ways(garments, wanted, project.cutting_gap, missing), _TRIED):
        left = seconds - (clock.now() - begun)
        if best is not None and left < _LEAST_FOR_ANOTHER:
            break
        answer = with_rest(garments, project, rest, laid, ask, max(_LEAST, _FOR_A_WAY * left))
        if best is None or _rank(answer) > _rank(best):
            best = answer
        if best.is_yes:
            break
    if best is not None and best.spare is not None:
        return replace(best, seconds=clock.now() - begun)
    if rest.panels or rest.strips:
        left = seconds - (clock.now() - begun)
        alone = ask(garments, rest, max(_LEAST, _FOR_THE_REST * left), best is not None)
        if alone.verdict is Verdict.NO:
            return replace(alone, seconds=clock.now() - begun)
    if best is not None:
        return replace(best, seconds=clock.now() - begun)
    told = tuple(dict.fromkeys(_said(each, garments, project) for each in missing))
    return Answer(Verdict.UNSETTLED, told, seconds=clock.now() - begun)


def _rank(answer: Answer) -> tuple[int, float]:
    return answer.verdict.rank, answer.spare or 0.0


def _said(why: NoWay, garments: Sequence[Garment], project: Project) -> str:
    if not why.things:
        return of_no_thing(why.panel, garments)
    return of_no_room(why.panel, why.things, garments, project.unit)

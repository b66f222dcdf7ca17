"""The answer where neither a layout nor a proof was found: how much could be laid, and what would help."""

from __future__ import annotations

from collections.abc import Sequence

from salvage.fit import clock
from salvage.fit.answer import Answer, Verdict
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.fill import filled
from salvage.fit.layout.found import Layout
from salvage.fit.say.layouts import of_unsettled
from salvage.fit.say.proofs import of_doubts, of_rejected
from salvage.fit.verdict.answer import answer_of
from salvage.fit.verdict.case import Case
from salvage.fit.verdict.changes import what_helps
from salvage.fit.verdict.search import Searched
from salvage.fit.verdict.yes import accepted

_FOR_PARTIAL, _MOST_FOR_PARTIAL, _LEAST_FOR_PARTIAL = (
    0.2,
    1.0,
    0.2,
)  # of what is left of the time, and seconds


def unsettled(case: Case, parts: Sequence[Layout], budget: Budget) -> Answer:
    """The answer with the best of these layouts of a part, filled up; a yes after all where that completes it."""
    found = max(parts, key=Layout.area_placed)
    more = filled(found, budget.part(_FOR_PARTIAL, at_most=_MOST_FOR_PARTIAL, at_least=_LEAST_FOR_PARTIAL))
    if more.complete:
        return accepted(case, Searched(more), budget)
    found = more if more.area_placed() > found.area_placed() else found
    names = tuple(found.asked.items[index].name for index in found.unplaced)
    scale, helps = what_helps(case, budget, first=names, started=(found, *parts))
    told = [of_unsettled(found, case.garments, clock.now() - case.begun, scale)]
    told += [of_rejected(case.rejected)] if case.rejected else []
    told += [of_doubts(case.doubts)] if case.doubts else []
    return answer_of(
        case,
        Verdict.UNSETTLED,
        tuple(told),
        layout=found,
        not_placed=names,
        plus_minus=case.by,
        largest_scale_percent=scale,
        helps=helps,
    )

"""The answer to a project that can be cut: how safely, what it leaves, how big it could be, and from what."""

from __future__ import annotations

from dataclasses import dataclass, replace

from salvage.fit.answer import Answer, Help, Verdict
from salvage.fit.check.check import check
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout
from salvage.fit.layout.most import is_open, one_more
from salvage.fit.layout.remains import keeping_most
from salvage.fit.layout.spare import clearance, largest_scale, plus_minus_on, spare_of
from salvage.fit.material.lay import Lay
from salvage.fit.material.outer import taken_in
from salvage.fit.proof.refuse import refuse
from salvage.fit.say.layouts import of_choice, of_layout, of_spare, of_trade
from salvage.fit.say.open import of_open
from salvage.fit.verdict.answer import answer_of
from salvage.fit.verdict.case import Case
from salvage.fit.verdict.changes import what_helps
from salvage.fit.verdict.search import Searched

# Shares of what is left of the time, and the most seconds each part takes of it.
_FOR_SPARE, _MOST_FOR_SPARE = 0.3, 0.9
_FOR_LEFT, _MOST_FOR_LEFT = 0.5, 5.0
_FOR_SCALE, _MOST_FOR_SCALE = 0.4, 0.6
_FOR_BOUND, _MOST_FOR_BOUND = 0.5, 2.0  # the proof that the spare is less than the plus-minus
_FOR_NO_MORE = 0.5  # the proof that one copy more can't be cut
_SEARCHES = 1.0  # as long as so many of the first search, if that is more
# What was laid out with few moves is rearranged with few: so many a panel, and more, and of what the first search made.
_MOVES_A_PANEL, _MOVES_MORE, _MOVES_AGAIN = 15, 30, 4


@dataclass(frozen=True, slots=True)
class _Shown:
    """The layout to show, with its verdict. trade: the sentence on spare against what is left."""

    verdict: Verdict
    layout: Layout
    spare: float
    trade: str | None = None


def accepted(case: Case, searched: Searched, budget: Budget) -> Answer:
    """The answer to a complete layout, for all that a person needs to know about it."""
    found, suffices = searched.layout, searched.suffices
    if len(case.garments) > 1 and not case.several:  # only one of them has this fabric
        suffices = (case.lay.where[0].garment,)
    plus_minus = plus_minus_on(found)
    known = clearance(found, case.lay)
    if case.terms.brief and known >= plus_minus and case.keeps_off(found, plus_minus):
        return answer_of(
            case, _yes(found), (), layout=found, spare=known, plus_minus=plus_minus, suffices=suffices
        )
    lay = _cloth_used(case, found) if suffices else case.lay
    pace = _SEARCHES * found.seconds  # what is hard to lay out is hard to rearrange
    budget = _eased(budget, found, thorough=case.terms.thorough)
    shown = _best_to_show(case, found, lay, known, plus_minus, budget, pace)
    case.tell(0.85)
    scale = None
    if not is_open(case.project):
        safe = lay.shrunk(min(shown.spare, plus_minus))
        for_scale = budget.part(_FOR_SCALE, at_most=max(_MOST_FOR_SCALE, pace))
        scale = largest_scale(safe, case.project, for_scale, found)
    helps: tuple[Help, ...] = ()
    if not shown.verdict.is_yes and not is_open(case.project):  # what would make it sure is worth knowing too
        names = tuple(item.name for item in shown.layout.asked.items)
        _, helps = what_helps(case, replace(budget, effort=None), first=names, started=(shown.layout,))
    return answer_of(
        case,
        shown.verdict,
        _told(case, shown, plus_minus, suffices, budget),
        layout=shown.layout,
        helps=helps,
        spare=shown.spare,
        plus_minus=plus_minus,
        largest_scale_percent=scale,
        suffices=suffices,
    )


def _yes(layout: Layout) -> Verdict:
    return Verdict.YES_WITH_JOINS if layout.plan.joins() > 0 else Verdict.YES


def _cloth_used(case: Case, found: Layout) -> Lay:
    """The cloth of the garments that something lies on."""
    used = {found.asked.lay.where[each.cloth].garment for each in found.placed}
    return case.lay.only(i for i, place in enumerate(case.lay.where) if place.garment in used)


def _best_to_show(
    case: Case, found: Layout, lay: Lay, known: float, plus_minus: float, budget: Budget, pace: float
) -> _Shown:
    """The safest layout, or of those that are safe enough the one that leaves most."""
    at_most = max(_MOST_FOR_SPARE, pace)
    spare, roomy = spare_of(found, lay, known, plus_minus, budget.part(_FOR_SPARE, at_most=at_most))
    spare, roomy = _confirmed(case, (spare, roomy), (known, found))
    case.tell(0.75)
    if spare < plus_minus:
        close = _is_surely_less(case, plus_minus, budget.part(_FOR_BOUND, at_most=_MOST_FOR_BOUND))
        return _Shown(Verdict.TOO_CLOSE if close else Verdict.UNSETTLED, roomy, spare)
    kept = keeping_most(
        found,
        (spare, roomy),
        lay,
        plus_minus,
        budget.part(_FOR_LEFT, at_most=max(_MOST_FOR_LEFT, pace)),
        case.keeps_off,
        thorough=case.terms.thorough,
    )
    return _Shown(_yes(found), kept.shown.layout, spare, of_trade(kept, case.project.unit))


def _eased(budget: Budget, found: Layout, *, thorough: bool) -> Budget:
    """The budget with a limit in moves to each search that rearranges this layout, where it has no joins.

    Then a second run beside the first finds little more, and takes as long: only where nothing may be missed.
    """
    if found.plan.joins():
        return budget
    moves = _MOVES_MORE + _MOVES_A_PANEL * len(found.placed) + _MOVES_AGAIN * found.moves
    return replace(budget, effort=moves, workers=2 if thorough else 1)


def _confirmed(
    case: Case, wanted: tuple[float, Layout], otherwise: tuple[float, Layout]
) -> tuple[float, Layout]:
    """A spare and the layout that has it, as far as the checker confirms it."""
    for spare, layout in (wanted, otherwise):
        faults = check(case.garments, case.project, layout.placements(), shrunk_by=spare)
        if not faults:
            return spare, layout
        case.rejected.extend(faults[:1])
    return 0.0, otherwise[1]


def _is_surely_less(case: Case, spare: float, budget: Budget) -> bool:
    """Whether it is proved that with all cloth smaller by this spare no layout is left."""
    lay = taken_in(case.outer(grown=False), spare)
    proof = refuse(lay, case.project, budget)
    return case.asking(case.project).confirmed(proof, budget, taken_in=spare) is not None


def _told(
    case: Case, shown: _Shown, plus_minus: float, suffices: tuple[int, ...], budget: Budget
) -> tuple[str, ...]:
    unit = case.project.unit
    used = {shown.layout.asked.lay.where[each.cloth].garment for each in shown.layout.placed}
    used_alone = next(iter(used)) if len(used) == 1 else None
    told = [
        *_open_told(case, budget),
        of_layout(shown.layout, case.garments),
        of_spare(shown.spare, plus_minus, unit, sure=shown.verdict is not Verdict.UNSETTLED),
        shown.trade,
        None if is_open(case.project) else of_choice(suffices, used_alone, case.garments),
    ]
    return tuple(each for each in told if each)


def _open_told(case: Case, budget: Budget) -> tuple[str, ...]:
    """What the cloth has decided, where the project leaves a number or a length to it."""
    if not is_open(case.project):
        return ()
    more = one_more(case.project)
    no_more = more and case.asking(more).refused(budget.part(_FOR_NO_MORE), 1.0, grown=True)
    return tuple(of_open(case.project, case.project.unit, no_more=no_more is not None))

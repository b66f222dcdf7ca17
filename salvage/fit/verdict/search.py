"""The searches in order: at once, for as much as the cloth gives, on cloth smaller by the plus-minus, as measured."""

from __future__ import annotations

from dataclasses import dataclass

from salvage.fit.layout.arrange import arrange
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.choose import choose
from salvage.fit.layout.found import Layout
from salvage.fit.layout.most import most
from salvage.fit.verdict.case import Case

# Shares of what is left of the time, and the most seconds each part takes of it.
_FOR_EASY, _MOST_FOR_EASY = 0.2, 2.0
_FOR_MOST = 0.6  # where the project leaves a number or a length to the cloth
_FOR_SAFE = 0.45  # on cloth smaller by the plus-minus
_FOR_PLAIN = 0.6  # on the cloth as measured


@dataclass(frozen=True, slots=True)
class Searched:
    """The best layout, perhaps of a part of the project only. suffices: indices of garments that suffice alone."""

    layout: Layout
    suffices: tuple[int, ...] = ()


def at_once(case: Case, budget: Budget) -> Layout | None:
    """Most projects that fit are found at once, before anything is proved; None where garments are to be chosen from."""
    if case.several:
        return None
    return arrange(case.safe, case.project, budget.part(_FOR_EASY, at_most=_MOST_FOR_EASY))


def as_much_as_fits(case: Case, budget: Budget) -> Layout | None:
    """A layout with the numbers that the project leaves open as large as was found; None if not the least fits."""
    return most(case.safe, case.project, budget.part(_FOR_MOST))


def search(case: Case, budget: Budget) -> Searched:
    """A layout on cloth smaller by the plus-minus if there is one, else on the cloth as measured."""
    suffices: tuple[int, ...] = ()
    if case.several:
        choice = choose(case.safe, case.project, budget.part(_FOR_SAFE))
        suffices = choice.suffices
        if choice.best is not None:
            return Searched(choice.best, suffices)
    if case.by <= 0:
        return Searched(arrange(case.lay, case.project, budget.part(_FOR_PLAIN)), suffices)
    safe = arrange(case.safe, case.project, budget.part(_FOR_SAFE))
    case.tell(0.4)
    if safe.complete:
        return Searched(safe, suffices)
    plain = arrange(case.lay, case.project, budget.part(_FOR_PLAIN))
    case.tell(0.6)
    every_corner = case.lay if plain.complete else case.exact()
    if every_corner == case.lay:
        return Searched(plain, suffices)
    exact = arrange(every_corner, case.project, budget.part(_FOR_PLAIN))
    return Searched(exact if exact.complete else plain, suffices)

"""Can this project be cut from these garments? The whole answer, from question to verdict."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from salvage.cloth.garment import Garment
from salvage.fit import clock
from salvage.fit.answer import Answer
from salvage.fit.fabrics import bare_but, by_fabric, kept_to, one_for_all, put_together, with_fabric
from salvage.fit.keep.keep import fit_keeping, keeps_something
from salvage.fit.layout.most import is_open
from salvage.fit.require import require_usable, with_pieces_named
from salvage.fit.verdict.case import Terms, case_of
from salvage.fit.verdict.no import refused
from salvage.fit.verdict.outset import missing_fabric, require_few_enough
from salvage.fit.verdict.search import Searched, as_much_as_fits, at_once, search
from salvage.fit.verdict.unsettled import unsettled
from salvage.fit.verdict.yes import accepted
from salvage.project.project import Project

_LEAST_FOR_A_FABRIC = 0.5  # seconds, where the fabrics before it took all there was
_FOR_PROOF, _FOR_LATE_PROOF = 0.25, 0.5  # shares of what is left of the time

Progress = Callable[[float], None]


def fit_project(
    garments: Sequence[Garment],
    project: Project,
    *,
    seconds: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    stop: Callable[[], bool] | None = None,
    progress: Progress | None = None,
    brief: bool = False,
    thorough: bool = False,
) -> Answer:
    """Decide the fit and say all that a person needs to know about it.

    seconds: for everything; an easy yes takes less. steps: search steps a part of the work may make,
    instead of seconds; then the same seed gives the same answer whatever the machine's load.
    stop: asked often, True ends the work with the best so far. progress: gets 0 to 1.
    brief: the verdict and why, without what would help, the best spare and the largest scale: several times as fast.
    thorough: look longer for the layout that leaves the most useful cloth, as before somebody cuts.
    Raises SalvageError where garments or project can't be used.
    """
    require_usable(garments, project)
    project = with_pieces_named(project, garments)
    terms = Terms(seconds, steps, seed, stop, brief, thorough)
    if not keeps_something(project):
        return _fit_all_fabrics(garments, project, terms, progress)

    def ask_rest(garments: Sequence[Garment], rest: Project, seconds: float, brief: bool) -> Answer:
        return _fit_all_fabrics(garments, rest, replace(terms, seconds=seconds, brief=brief), None)

    return fit_keeping(garments, project, ask_rest, seconds=seconds)


def _fit_all_fabrics(
    garments: Sequence[Garment], project: Project, terms: Terms, progress: Progress | None
) -> Answer:
    """Each fabric for itself; from one garment alone, where one suffices for all of them."""
    begun = clock.now()
    parts = by_fabric(project)

    def ask(fabric: str, number: int, garments: Sequence[Garment]) -> Answer:
        left = max(terms.seconds - (clock.now() - begun), _LEAST_FOR_A_FABRIC)
        own = replace(terms, seconds=left / (len(parts) - number))
        tell = None if progress is None else lambda done: progress((number + done) / len(parts))
        return _fit_one_fabric(garments, parts[fabric], project, own, tell)

    answers = {fabric: ask(fabric, number, garments) for number, fabric in enumerate(parts)}
    if len(parts) == 1:
        return with_fabric(*next((answer, fabric) for fabric, answer in answers.items()))
    alone = one_for_all(answers, garments)
    if alone is not None:
        only = bare_but(garments, alone)
        again = {fabric: ask(fabric, number, only) for number, fabric in enumerate(parts)}
        answers = kept_to(alone, answers, again, garments)
    return put_together(answers, garments, project)


def _fit_one_fabric(
    garments: Sequence[Garment], project: Project, whole: Project, terms: Terms, progress: Progress | None
) -> Answer:
    """The answer to a project that asks for one fabric. whole: with the others.

    First what is soon found, then what is soon proved, then the whole search, and a proof with all that is left.
    """
    case = case_of(garments, project, terms, whole=whole, progress=progress)
    budget = in_all = case.budget()
    missing = missing_fabric(case, budget)
    if missing is not None:
        return missing
    require_few_enough(case)
    if not terms.brief and terms.steps is None:
        budget = budget.part(1.0, at_most=budget.left() - terms.for_help)
    if is_open(project):
        most = as_much_as_fits(case, budget)
        if most is not None:
            return accepted(replace(case, project=most.project), Searched(most), budget)
    easy = at_once(case, budget)
    if easy is not None and easy.complete:
        return accepted(case, Searched(easy), budget)
    proof = case.refused(budget, _FOR_PROOF, grown=True)
    if proof is not None:
        return refused(case, proof, in_all, measured_only=False)
    searched = search(case, budget)
    if searched.layout.complete:
        return accepted(case, searched, budget)
    proof = case.refused(budget, _FOR_LATE_PROOF, grown=False)
    if proof is not None:
        return refused(case, proof, in_all, measured_only=case.by > 0)
    return unsettled(case, [each for each in (searched.layout, easy) if each is not None], in_all)

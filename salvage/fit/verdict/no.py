"""The answer where it is proved that no layout exists: why, what else has no place, and what would help."""

from __future__ import annotations

from salvage.fit.answer import Answer, Verdict
from salvage.fit.claim import Proof, ProofKind
from salvage.fit.layout.budget import Budget
from salvage.fit.proof.stuck import stuck
from salvage.fit.say.proofs import MEASURED_ONLY, of_names, of_no_place, of_proof
from salvage.fit.verdict.answer import answer_of
from salvage.fit.verdict.case import Case
from salvage.fit.verdict.changes import what_helps

_FOR_STUCK = 0.4  # of what is left of the time: what else has no place
# Share and seconds, even where nothing is left, to say how near a panel without a place comes to one.
_FOR_NEAR, _LEAST_FOR_NEAR = 0.2, 0.3


def refused(case: Case, proof: Proof, budget: Budget, *, measured_only: bool) -> Answer:
    """The answer to a proof. measured_only: it holds for the cloth as measured, not for what it may be at most."""
    near = budget.part(_FOR_NEAR).more(_LEAST_FOR_NEAR).looks(case.lay.cloths)
    larger = case.by > 0 and not measured_only
    told = list(of_proof(proof, case.lay, case.project, case.garments, grown=larger, ended=near))
    if case.terms.brief:
        return answer_of(case, Verdict.NO, tuple(told), proof=proof, plus_minus=case.by)
    others = stuck(
        case.outer(grown=not measured_only),
        case.project,
        budget.part(_FOR_STUCK),
        known=proof.panels if proof.kind is ProofKind.NO_PLACE else (),
        grown=not measured_only,
        confirmed=lambda proof: case.confirmed(proof, budget, at_least=0.0),
    )
    told += [of_no_place(panel, case.lay, case.project.unit, near) for panel in others]
    names = of_names(proof, case.garments, case.project.unit)
    told += [names] if names else []
    told += [MEASURED_ONLY] if measured_only else []
    in_the_way = [panel.name for panel in case.project.panels if panel.name in proof.panels]
    first = (*in_the_way, *(panel.name for panel in others))
    scale, helps = what_helps(case, budget, first=first, proof=proof)
    return answer_of(
        case,
        Verdict.NO,
        tuple(told),
        proof=proof,
        plus_minus=case.by,
        largest_scale_percent=scale,
        helps=helps,
    )

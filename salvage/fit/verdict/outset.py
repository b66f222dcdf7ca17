"""What ends before anything is searched: a fabric of which there is nothing, more shapes than can be laid out."""

from __future__ import annotations

from salvage.errors import SalvageError
from salvage.fit.answer import Answer, Verdict
from salvage.fit.layout.budget import Budget
from salvage.fit.material.lay import same_fabric
from salvage.fit.proof.refuse import area_proof, with_sites
from salvage.fit.say.proofs import of_missing_fabric
from salvage.fit.verdict.answer import answer_of
from salvage.fit.verdict.case import Case, fabrics_asked
from salvage.fit.verdict.changes import what_helps

_MOST_COPIES = 2000  # the tables of the search grow with the square


def missing_fabric(case: Case, budget: Budget) -> Answer | None:
    """The answer where a fabric is asked for of which there is nothing."""
    for fabric in fabrics_asked(case.project):
        if case.lay.area(same_fabric(fabric)) > 0:  # of what is searched there is never more than there is
            continue
        there = case.outer(grown=False)
        if there.area(same_fabric(fabric)) == 0:
            proof = area_proof(there, case.project, same_fabric(fabric))
            proof = proof and case.confirmed(with_sites(proof, there, grown=False), budget)
            if proof is not None:
                reason = of_missing_fabric(fabric, case.garments)
                _, helps = what_helps(case, budget, first=(), proof=proof)
                return answer_of(case, Verdict.NO, (reason,), proof=proof, helps=helps)
    return None


def require_few_enough(case: Case) -> None:
    """Raise SalvageError where more is asked for than can be laid out, unless the cloth's area says no to it."""
    asked = {each.name: each.cut for each in case.project.panels}
    asked |= {each.name: each.cut for each in case.project.strips}
    if sum(asked.values()) <= _MOST_COPIES:
        return
    there = case.outer(grown=True)
    fabrics = fabrics_asked(case.project)
    if any(area_proof(there, case.project, same_fabric(fabric)) for fabric in fabrics):
        return
    name = max(asked, key=lambda each: asked[each])
    raise SalvageError(
        f"The project '{case.project.name}' asks for {sum(asked.values()):,} shapes, {asked[name]:,} of them '{name}'; "
        f"no more than {_MOST_COPIES:,} can be laid out at once. Ask for fewer copies, in several projects."
    )

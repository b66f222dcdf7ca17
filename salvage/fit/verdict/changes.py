"""What would help, after any answer but a yes: the changes that fit, and the size of the whole that does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from salvage.fit import clock
from salvage.fit.answer import Help
from salvage.fit.check.check import check
from salvage.fit.claim import Proof, ProofKind
from salvage.fit.help.find import Change, ToHelp, find_changes, scaled_down
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout
from salvage.fit.layout.spare import largest_scale
from salvage.fit.material.amount import fabrics_of
from salvage.fit.material.lay import same_fabric
from salvage.fit.say.changes import of_change
from salvage.fit.verdict.case import Case

# Of what is left of the time, and the most seconds.
_FOR_CHANGES, _MOST_FOR_CHANGES = 0.75, 6.0
_FOR_SCALE, _MOST_FOR_SCALE = 0.6, 1.0


def what_helps(
    case: Case,
    budget: Budget,
    *,
    first: Sequence[str],
    proof: Proof | None = None,
    started: Sequence[Layout] = (),
) -> tuple[float | None, tuple[Help, ...]]:
    """The largest scale that fits and the changes that do; on the safe side of the plus-minus. Nothing where brief.

    first: names of what stands in the way. started: layouts of a part of it.
    """
    if case.terms.brief:
        return None, ()
    asked = ToHelp(
        case.project,
        case.whole,
        {same_fabric(each): case.safe_lay_of(each) for each in fabrics_of(case.garments)},
        fabrics_of(case.garments),
        case.with_more_garments,
        first,
        crowded=proof is not None and proof.kind is ProofKind.AREA,
    )
    budget = replace(budget, until=max(budget.until, clock.now() + case.terms.for_help))
    changes = list(find_changes(asked, budget.part(_FOR_CHANGES, at_most=_MOST_FOR_CHANGES), started=started))
    scale = largest_scale(case.safe, case.project, budget.part(_FOR_SCALE, at_most=_MOST_FOR_SCALE), None)
    if scale is not None and scale < 100:
        smaller = scaled_down(case.safe, case.project, scale, budget)
        changes += [smaller] if smaller is not None else []
    faultless = [each for each in changes if _is_faultless(case, each)]
    alone = len(faultless) == 1
    return scale, tuple(of_change(each, case.whole, case.garments, alone=alone) for each in faultless)


def _is_faultless(case: Case, change: Change) -> bool:
    """The checker's word on the layout of a changed project."""
    more = [case.garments[case.largest_garment()]] * (change.garments - 1)
    return not change.layouts or not check([*case.garments, *more], change.project, change.placements())

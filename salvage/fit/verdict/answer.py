"""The answer of one fabric, put to the checker once more before it is given."""

from __future__ import annotations

from collections.abc import Mapping

from salvage.fit import clock
from salvage.fit.answer import Answer, Help, LeftOver, Verdict
from salvage.fit.check.check import check
from salvage.fit.claim import Proof
from salvage.fit.layout.found import Layout
from salvage.fit.layout.most import copies_left_open, lengths_left_open
from salvage.fit.material.left import left_over
from salvage.fit.say.changes import join_plan
from salvage.fit.say.proofs import of_rejected
from salvage.fit.verdict.case import Case


def answer_of(
    case: Case,
    verdict: Verdict,
    told: tuple[str, ...],
    *,
    layout: Layout | None = None,
    not_placed: tuple[str, ...] = (),
    spare: float | None = None,
    plus_minus: float = 0.0,
    proof: Proof | None = None,
    largest_scale_percent: float | None = None,
    helps: tuple[Help, ...] = (),
    suffices: tuple[int, ...] = (),
) -> Answer:
    """The answer; unsettled, and without the layout, if the checker finds fault with it. told: the reasons."""
    placements = layout.placements() if layout is not None else ()
    if layout is not None:
        faults = check(case.garments, case.project, placements, partial=not layout.complete)
        if faults:
            verdict, spare, placements = Verdict.UNSETTLED, None, ()
            told = (of_rejected(faults),)
    remains: Mapping[str, LeftOver] = left_over(case.garments, placements) if placements else {}
    case.tell(1.0)
    return Answer(
        verdict=verdict,
        reasons=told,
        placements=placements,
        not_placed=not_placed,
        spare=spare,
        plus_minus=plus_minus,
        seconds=clock.now() - case.begun,
        proof=proof,
        largest_scale_percent=largest_scale_percent,
        left_over=remains,
        helps=helps,
        join_plan=join_plan(layout) if layout is not None and layout.complete else (),
        suffices=suffices,
        many=copies_left_open(case.project) if spare is not None else {},
        longest=lengths_left_open(case.project) if spare is not None else {},
        doubts=tuple(case.doubts),
    )

"""What is said of the cloth itself: kinds that this program's answer would mislead about, and what is not sure of it."""

from __future__ import annotations

from collections.abc import Sequence

from salvage.cloth.garment import Garment, Question, Reply
from salvage.cloth.unsure import GRAIN, PADDING, names_of_unsure
from salvage.fit.answer import Answer
from salvage.trade.kinds import KINDS

HANGS_ON_SEVERAL = (
    "But yes if nothing that is doubtful is there: look at the garment and answer the questions of measure."
)


def unsuited(answer: Answer, garments: Sequence[Garment]) -> tuple[str, ...]:
    """A warning for each garment of cloth that doesn't suit; only those cut from, where there is a layout."""
    used = {each.garment for each in answer.placements} or set(range(len(garments)))
    return tuple(
        f"{garment.name}: {KINDS[garment.kind].not_suited}"
        for index, garment in enumerate(garments)
        if index in used and garment.kind in KINDS and not KINDS[garment.kind].suits
    )


def may_be_unsuited(garments: Sequence[Garment]) -> bool:
    """Whether a garment may be of cloth that doesn't suit, for all that is known."""
    return any(
        q.about == PADDING and q.answer is Reply.OPEN for garment in garments for q in garment.questions
    )


def unsure(answer: Answer, garments: Sequence[Garment]) -> tuple[str, ...]:
    """A warning for each open question that is about all the cloth cut from: whether it is padded, how its grain runs."""
    told = []
    used = {each.garment for each in answer.placements} or set(range(len(garments)))
    for index, garment in enumerate(garments):
        if index not in used:
            continue
        cut = {each.piece for each in answer.placements if each.garment == index}
        for question in garment.questions:
            if question.answer is not Reply.OPEN:
                continue
            if question.about == PADDING:
                told.append(
                    f"{garment.name}: it may be padded or quilted (Q{question.number}), and then this answer doesn't "
                    "hold. Feel it before you cut."
                )
            elif question.about == GRAIN and (
                on := [n for n in names_of_unsure(garment, question) if n in cut]
            ):
                told.append(
                    f"{garment.name}: which way the grain runs isn't sure on the {', '.join(on)} (Q"
                    f"{question.number}), and panels lie there by it. Look at the threads before you cut."
                )
    return tuple(told)


def of_hanging(garments: Sequence[Garment], index: int, question: Question) -> str:
    """The answer would be a yes if this question about a garment were answered with no."""
    of = f" about {garments[index].name}" if len(garments) > 1 else ""
    return (
        f"But yes if the answer to question {question.number}{of} is no ({question.text}) Look, and measure with "
        f"--answer {question.number}=no."
    )

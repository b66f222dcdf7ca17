"""What is said of each fabric of a project that asks for several."""

from __future__ import annotations

from salvage.fit.answer import Answer, Verdict

VERDICT_WORD: dict[Verdict, str] = {
    Verdict.YES: "yes",
    Verdict.YES_WITH_JOINS: "yes, with joins",
    Verdict.TOO_CLOSE: "too close",
    Verdict.NO: "no",
    Verdict.UNSETTLED: "unsettled",
}


def of_fabric(fabric: str, answer: Answer) -> str:
    """`lining: no. pocket, 339 × 200 mm cut, fits nowhere on the lining: ...`."""
    return " ".join([f"{fabric}: {VERDICT_WORD[answer.verdict]}.", *answer.reasons])

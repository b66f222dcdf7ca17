"""Small questions made to bring forth a false no: pytest -m bench tests/bench/test_adversarial.py -s

A layout is hidden first, by kinds that go for one weakness each (tests/helpers/adversarial_layouts.py); the last
kinds have no layout, for a reason that is known. Environment: ADVERSARIAL_COUNT, questions in all (2100);
ADVERSARIAL_SECONDS for each (0.4); ADVERSARIAL_FIRST, the number each kind begins with (0).
"""

from __future__ import annotations

import os
from collections import Counter

import pytest
from adversarial_layouts import KINDS, NONE, question
from told import Told

from salvage.fit.answer import Verdict
from salvage.fit.fit import fit_project

COUNT = int(os.environ.get("ADVERSARIAL_COUNT", "2080"))
FIRST = int(os.environ.get("ADVERSARIAL_FIRST", "0"))
SECONDS = float(os.environ.get("ADVERSARIAL_SECONDS", "0.4"))
TOLD = {
    "settled": Told("2,080 asked, 1,950 settled, none false", 1950 / 2080, 0.06)
}  # by the clock, as the load allows


def score(verdict: Verdict, truth: bool) -> str:
    """settled rightly, false, or open; too close is a layout, and so never false where one is hidden."""
    if verdict is Verdict.UNSETTLED:
        return "open"
    return "false" if (verdict is Verdict.NO) == truth else "settled"


@pytest.mark.bench
def test_no_false_answer_where_a_layout_is_hidden() -> None:
    wrong = []
    print(f"\n{'kind':16s}{'n':>5s}{'settled':>9s}{'false':>7s}{'doubted':>9s}")
    total: Counter[str] = Counter()
    for kind in KINDS:
        counts: Counter[str] = Counter()
        for number in range(FIRST, FIRST + COUNT // len(KINDS)):
            asked = question(kind, number)
            answer = fit_project(asked.garments, asked.project, seconds=SECONDS)
            result = score(answer.verdict, asked.truth)
            counts[result] += 1
            counts["doubted"] += bool(answer.doubts)
            counts["n"] += 1
            wrong += [(kind, number)] if result == "false" else []
        total += counts
        print(_row(kind, counts), flush=True)
    print(_row("all", total))
    assert total["n"] > 0
    assert not wrong
    TOLD["settled"].at_least(total["settled"] / total["n"])


def _row(kind: str, counts: Counter[str]) -> str:
    return f"{kind:16s}{counts['n']:5d}{counts['settled']:9d}{counts['false']:7d}{counts['doubted']:9d}"


def test_kinds_without_a_layout_are_kinds() -> None:
    assert set(NONE) <= set(KINDS)

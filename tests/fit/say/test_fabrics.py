"""One word for each verdict, before the reasons as they are."""

from __future__ import annotations

from salvage.fit.answer import Answer, Verdict
from salvage.fit.say.fabrics import VERDICT_WORD, of_fabric


def test_each_verdict_has_a_word_of_its_own() -> None:
    assert VERDICT_WORD.keys() == set(Verdict)
    assert len(set(VERDICT_WORD.values())) == len(Verdict)


def test_a_fabric_is_told_with_its_verdict_and_all_its_reasons() -> None:
    told = of_fabric("lining", Answer(Verdict.NO, ("It is too small.", "By 3 mm.")))
    assert told == "lining: no. It is too small. By 3 mm."
    assert of_fabric("shell", Answer(Verdict.YES_WITH_JOINS, ())) == "shell: yes, with joins."

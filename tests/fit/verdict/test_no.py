"""A proved no: the proof's own numbers, what else has no place, and what a changed project would need."""

from __future__ import annotations

from small_cases import case, garment, square

from salvage.fit.answer import Answer, Verdict
from salvage.fit.claim import ProofKind
from salvage.fit.verdict.case import Case
from salvage.fit.verdict.no import refused


def answered(about: Case, *, measured_only: bool = False) -> Answer:
    budget = about.budget()
    proof = about.refused(budget, 0.5, grown=not measured_only)
    assert proof is not None
    return refused(about, proof, budget, measured_only=measured_only)


def test_what_has_no_place_is_named_all_of_it() -> None:
    about = case(
        garment("coat", (200, 200)), items=(square("a", 230.0), square("b", 250.0), square("c", 50.0))
    )
    answer = answered(about)
    assert answer.verdict is Verdict.NO
    assert answer.proof is not None
    assert answer.placements == ()
    told = " ".join(answer.reasons)
    assert "a, 230 × 230" in told
    assert "b, 250 × 250" in told
    assert "c, 50" not in told
    assert "measure by hand before giving it up" not in told


def test_too_little_cloth_is_a_matter_of_area() -> None:
    about = case(garment("coat", (200, 200)), items=(square("a", 100.0, cut=5),))
    answer = answered(about)
    assert answer.proof is not None
    assert answer.proof.kind is ProofKind.AREA
    # five squares of 100 on 200 x 200 fit at 2 / 3 of their size, three in a row
    assert answer.largest_scale_percent is not None
    assert 60 <= answer.largest_scale_percent <= 67


def test_a_no_within_the_plus_minus_says_so() -> None:
    """A square of 203 on 200, its edges good to 4: on the cloth as measured it has no place, on what it may be it has."""
    about = case(garment("coat", (200, 200), edge=4.0), items=(square("a", 203.0),))
    assert about.refused(about.budget(), 0.5, grown=True) is None
    answer = answered(about, measured_only=True)
    assert answer.verdict is Verdict.NO
    assert any("measure by hand before giving it up" in each for each in answer.reasons)


def test_brief_says_why_and_no_more() -> None:
    answer = answered(
        case(garment("coat", (200, 200)), items=(square("a", 230.0), square("b", 250.0)), brief=True)
    )
    assert answer.verdict is Verdict.NO
    assert len(answer.reasons) >= 1
    assert answer.helps == ()
    assert answer.largest_scale_percent is None

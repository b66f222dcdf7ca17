"""No proof is found, or none is accepted, where a layout is hidden; and proofs are where there is none."""

from __future__ import annotations

import pytest
from adversarial_layouts import KINDS, NONE, Hidden, question

from salvage.fit.claim import Proof
from salvage.fit.layout.budget import Budget
from salvage.fit.material.outer import outer_lay
from salvage.fit.proof.refuse import refuse
from salvage.fit.recheck.recheck import doubt_about

EACH = 4  # of a kind; the table in tests/bench asks 150


def proof_of(asked: Hidden, *, grown: bool) -> Proof | None:
    lay = outer_lay(asked.garments, grown=grown)
    return refuse(lay, asked.project, Budget.start(10.0), grown=grown)


@pytest.mark.parametrize("number", range(EACH))
@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in NONE])
def test_nothing_is_proved_where_a_layout_is_hidden(kind: str, number: int) -> None:
    asked = question(kind, number)
    assert proof_of(asked, grown=False) is None
    assert proof_of(asked, grown=True) is None


@pytest.mark.parametrize("number", range(2))
@pytest.mark.parametrize("kind", NONE)
def test_what_has_no_layout_is_proved_and_confirmed(kind: str, number: int) -> None:
    asked = question(kind, number)
    proof = proof_of(asked, grown=False)
    assert proof is not None
    assert doubt_about(proof, asked.garments, asked.project) is None

"""All panels that fit nowhere, so that a person hears of them at once and not one after the other."""

from __future__ import annotations

from collections.abc import Callable, Collection

from salvage.fit.claim import Proof
from salvage.fit.layout.budget import Budget
from salvage.fit.material.lay import Lay
from salvage.fit.proof.place import no_place
from salvage.fit.proof.refuse import panel_shape, with_sites
from salvage.fit.question import Question
from salvage.project.project import Panel, Project


def stuck(
    lay: Lay,
    project: Project,
    budget: Budget,
    *,
    known: Collection[str] = (),
    grown: bool = False,
    confirmed: Callable[[Proof], Proof | None] = lambda proof: proof,
) -> tuple[Panel, ...]:
    """Panels that may not be pieced and are proved to lie nowhere on the lay, as far as the budget allows.

    lay: never less cloth than there is; grown: larger by its plus-minus. known: names of panels that are
    told of already. confirmed: a second look at each proof.
    """
    found = []
    for panel in project.panels:
        if panel.joins or panel.name in known:
            continue
        if budget.over():
            break
        proof = no_place(Question(lay.cloths, (panel_shape(panel),)), 0, budget.looks(lay.cloths))
        if proof is not None and confirmed(with_sites(proof, lay, grown=grown)) is not None:
            found.append(panel)
    return tuple(found)

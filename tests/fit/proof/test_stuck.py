"""Panels that fit nowhere, all at once: none that fits is called so, and none twice."""

from __future__ import annotations

from rail_garments import cloth, rectangle
from shapely.geometry import box

from salvage.fit.claim import Proof
from salvage.fit.layout.budget import Budget
from salvage.fit.material.outer import outer_lay
from salvage.fit.proof.stuck import stuck
from salvage.project.project import Panel, Project

LAY = outer_lay([cloth("coat", box(0, 0, 300, 400), box(500, 0, 560, 900))], grown=False)
FITS, WIDE, LONG = rectangle("fits", 290, 390), rectangle("wide", 310, 100), rectangle("long", 100, 500)
BAG = Project("bag", (FITS, WIDE, LONG))


def budget(steps: int = 100) -> Budget:
    return Budget.start(60.0, steps=steps)


def names(panels: tuple[Panel, ...]) -> list[str]:
    return [each.name for each in panels]


def test_all_that_fit_nowhere_are_told() -> None:
    assert names(stuck(LAY, BAG, budget())) == ["wide", "long"]


def test_what_is_told_already_or_may_be_pieced_is_not() -> None:
    pieced = rectangle("long", 100, 500, joins=1)
    assert names(stuck(LAY, Project("bag", (FITS, WIDE, pieced)), budget(), known=["wide"])) == []


def test_a_proof_without_a_second_look_is_none() -> None:
    looked: list[Proof] = []

    def doubted(proof: Proof) -> Proof | None:
        looked.append(proof)
        return None

    assert stuck(LAY, BAG, budget(), confirmed=doubted) == ()
    assert [each.panels for each in looked] == [("wide",), ("long",)]
    assert all(len(each.sites) == len(LAY.cloths) for each in looked)


def test_nothing_is_told_once_the_time_is_over() -> None:
    over = Budget.start(60.0, steps=100, stop=lambda: True)
    assert stuck(LAY, BAG, over) == ()

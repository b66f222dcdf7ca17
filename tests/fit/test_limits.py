"""Proofs end when they are asked to, and what they did not see to its end they don't tell."""

from __future__ import annotations

import pytest
from shapely.geometry import MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Verdict
from salvage.fit.claim import Nearest
from salvage.fit.fit import fit_project
from salvage.fit.layout.budget import Budget
from salvage.fit.material.outer import outer_lay, taken_in
from salvage.fit.proof import place
from salvage.fit.proof.place import flips_of, has_no_place, nearest, no_place
from salvage.fit.proof.prove import prove
from salvage.fit.proof.refuse import refuse
from salvage.fit.question import Cloth, Question, Shape
from salvage.fit.recheck.recheck import doubt_about
from salvage.project.project import Grain, Panel, Project

CLOTH = Cloth("back", box(0, 0, 300, 300).difference(Point(150, 150).buffer(20)))
BAR = ((0.0, 0.0), (430.0, 0.0), (430.0, 30.0), (0.0, 30.0))  # longer than the diagonal
SHAPE = Shape("bar", BAR, grain=Grain.ANY, may_flip=True)
SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))


class After:
    """True from the n-th time on that it is asked."""

    def __init__(self, times: int) -> None:
        self.times, self.asked = times, 0

    def __call__(self) -> bool:
        self.asked += 1
        return self.asked > self.times


@pytest.fixture
def regions(monkeypatch: pytest.MonkeyPatch) -> list[Polygon]:
    """Each cloth for which a region was worked out."""
    seen: list[Polygon] = []
    whole = place.region

    def noted(cloth: Polygon, shape: BaseGeometry) -> BaseGeometry:
        seen.append(cloth)
        return whole(cloth, shape)

    monkeypatch.setattr(place, "region", noted)
    return seen


@pytest.mark.parametrize("times", [0, 3, 17])
def test_a_proof_looks_no_more_once_its_time_is_over(times: int, regions: list[Polygon]) -> None:
    question = Question((CLOTH,), (SHAPE,))
    ended = After(times)
    assert no_place(question, 0, ended) is None
    assert len(regions) <= times + 1  # and one that needs no angle
    regions.clear()
    assert prove(question, stop=After(times)) is None
    assert len(regions) <= times + 1


def test_the_same_proof_is_found_with_time_enough(regions: list[Polygon]) -> None:
    assert has_no_place(SHAPE, CLOTH, flipped=False)
    assert no_place(Question((CLOTH,), (SHAPE,)), 0) is not None
    assert len(regions) > 18


def test_how_near_it_comes_is_told_only_when_known(regions: list[Polygon]) -> None:
    flips = flips_of(SHAPE)
    assert nearest(SHAPE, [CLOTH], flips, After(5)) == Nearest()
    assert len(regions) == 5
    assert (nearest(SHAPE, [CLOTH], flips).percent or 0) > 10


def test_steps_end_proofs_too(regions: list[Polygon]) -> None:
    piece = Piece("back", CLOTH.polygon, usable=MultiPolygon([CLOTH.polygon]))
    panels = tuple(Panel(f"bar {n}", BAR, grain=Grain.ANY, flip=True) for n in range(3))
    fit_project([Garment("coat", (piece,))], Project("bars", panels), steps=1)
    few = len(regions)
    regions.clear()
    budget = Budget.start(10.0, steps=1)
    ended = budget.looks([CLOTH])
    while not ended():
        regions.append(CLOTH.polygon)
    # proofs are looked for twice, then whatever else has no place, then how near it comes
    assert few < 3 * len(regions)


def test_too_close_has_its_second_look_too() -> None:
    cloth = box(0, 0, 104, 300)
    garment = Garment("coat", (Piece("back", cloth, usable=MultiPolygon([cloth])),))
    project = Project("p", (Panel("square", SQUARE),))
    proof = refuse(taken_in(outer_lay([garment], grown=False), 3.0), project, Budget.start(5.0))
    assert proof is not None
    assert doubt_about(proof, [garment], project, taken_in=3.0) is None
    for less in (0.0, 1.0, 2.8):
        assert doubt_about(proof, [garment], project, taken_in=less) is not None


def test_too_close_is_said_where_the_spare_is_bounded() -> None:
    from salvage.cloth.garment import PlusMinus

    cloth = box(0, 0, 104, 300)
    piece = Piece("back", cloth, usable=MultiPolygon([cloth]), plus_minus=PlusMinus(edge=4.0))
    answer = fit_project([Garment("coat", (piece,))], Project("p", (Panel("square", SQUARE),)), seconds=3.0)
    assert answer.verdict is Verdict.TOO_CLOSE

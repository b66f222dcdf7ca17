"""Joins where they show least, and a left and a right joined alike."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Answer, Verdict
from salvage.fit.check.check import check
from salvage.fit.fit import fit_project
from salvage.project.project import Panel, Project

SECONDS = 8.0


def garment(*sizes: tuple[float, float]) -> Garment:
    cloths = [box(0, 0, *size) for size in sizes]
    pieces = (Piece(f"piece {n}", cloth, usable=MultiPolygon([cloth])) for n, cloth in enumerate(cloths, 1))
    return Garment("coat", tuple(pieces))


def body(**more: Any) -> Panel:
    return Panel("body", ((0.0, 0.0), (280.0, 0.0), (280.0, 600.0), (0.0, 600.0)), **more)


def fit(cloth: Garment, panel: Panel) -> Answer:
    project = Project("p", (panel,))
    answer = fit_project([cloth], project, seconds=SECONDS)
    if answer.spare is not None:
        assert check([cloth], project, answer.placements) == ()
    return answer


@pytest.mark.parametrize("side", ["bottom", "top"])
def test_the_join_lies_in_the_half_where_it_is_wanted(side: str) -> None:
    two = garment((300, 520), (300, 200))
    pieced = body(joins=1, seam_allowance=10.0, joins_where=side)
    answer = fit(two, pieced)
    assert answer.verdict is Verdict.YES_WITH_JOINS
    first, second = sorted(answer.placements, key=lambda each: each.part or 0)
    low, high = (each.shape.bounds[3] - each.shape.bounds[1] for each in (first, second))
    assert (low < high) == (side == "bottom")
    other = replace(pieced, joins_where="top" if side == "bottom" else "bottom")
    assert any("not in the half" in each for each in check([two], Project("p", (other,)), answer.placements))


def test_joins_along_a_side_run_that_way() -> None:
    across_only = garment((300, 520), (300, 200))
    answer = fit(across_only, body(joins=1, seam_allowance=10.0, joins_where="left"))
    assert answer.spare is None
    assert fit(garment((160, 640), (180, 640)), body(joins=1, joins_where="left")).spare is not None


def test_a_left_and_a_right_are_joined_alike() -> None:
    four = garment((300, 430), (300, 430), (300, 230), (300, 230))
    answer = fit(four, body(cut=2, mirrored=True, joins=1, seam_allowance=10.0))
    assert answer.verdict is Verdict.YES_WITH_JOINS
    assert len(answer.join_plan) == 1
    assert answer.join_plan[0].startswith("body 1 and 2: ")

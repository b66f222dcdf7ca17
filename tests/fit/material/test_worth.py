"""Scraps aren't searched, and nothing is left out that something could be cut from."""

from __future__ import annotations

import math

import pytest
from rail_garments import cloth
from shapely.geometry import box

from salvage.cloth.garment import PlusMinus
from salvage.fit.material.lay import lay_of
from salvage.fit.material.worth import least_area, worth_searching
from salvage.project.project import Panel, Project, Strip


def panel(side: float, **more: object) -> Panel:
    return Panel("body", ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side)), **more)  # type: ignore[arg-type]


def areas(least: dict[str, float], **more: object) -> list[float]:
    lay, _ = worth_searching(
        lay_of([cloth("coat", box(0, 0, 300, 300), box(400, 0, 450, 50), **more)]), least
    )
    return sorted(each.polygon.area for each in lay.cloths)


def test_a_scrap_that_nothing_fits_on_is_left_out() -> None:
    assert areas({"shell": 2501.0}) == [90_000.0]
    assert areas({"shell": 2499.0}) == [2_500.0, 90_000.0]


def test_a_scrap_that_may_be_larger_than_measured_is_kept() -> None:
    assert areas({"shell": 2600.0}) == [90_000.0]
    assert len(areas({"shell": 2600.0}, plus_minus=PlusMinus(0.0, 1.0))) == 2


def test_where_there_are_only_scraps_they_are_searched() -> None:
    assert len(areas({"shell": 1e6})) == 2


def test_other_fabrics_are_left_out() -> None:
    assert areas({"lining": 0.0}) == []


def test_the_widest_plus_minus_is_told() -> None:
    lay = lay_of([cloth("coat", box(0, 0, 400, 300), plus_minus=PlusMinus(1.0, 2.0))])
    assert worth_searching(lay, {"shell": 0.0})[1] == pytest.approx(math.hypot(2.0, 400 / 2 / 100), abs=0.01)


def test_the_least_is_that_of_the_smallest_thing() -> None:
    project = Project("bag", (panel(100), panel(60)), (Strip("tie", 20.0, 500.0, shortest=80.0),))
    assert least_area(project, "shell") == 20 * (80 - 20)
    assert least_area(Project("bag", (panel(100), panel(60))), "shell") == 3600
    assert least_area(project, "lining") == 0.0


def test_a_panel_that_may_be_pieced_needs_no_more_than_its_narrowest_part() -> None:
    least = least_area(Project("bag", (panel(100, joins=2),)), "shell")
    assert 0 < least < 100 * 100
    bent = Panel("L", ((0, 0), (100, 0), (100, 40), (40, 40), (40, 100), (0, 100)), joins=1)
    assert least_area(Project("bag", (bent,)), "shell") == 0.0

"""Patchwork counted out patch by patch; a hat against the areas of a sphere and of a cone."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from part_of import part_of, sewn
from shapely.geometry import LineString, Point, Polygon

from salvage.errors import SalvageError
from salvage.project.parts.pieced import hat, patchwork
from salvage.project.sides import run_of


@settings(max_examples=40)
@given(st.integers(1, 12), st.integers(1, 12), st.integers(1, 4))
def test_patches_make_up_the_whole_and_neighbours_differ(columns: int, rows: int, number: int) -> None:
    fabrics = ["shell", "lining", "wool", "felt"][:number]
    made = patchwork(part_of("patchwork", width=400, height=320, columns=columns, rows=rows, fabrics=fabrics))
    assert sum(panel.cut for panel in made.panels) == columns * rows
    assert sum(panel.cut * sewn(panel).area for panel in made.panels) == pytest.approx(400 * 320)
    # laid out by turns along a row and from row to row
    laid = [fabrics[(row + column) % number] for row in range(rows) for column in range(columns)]
    assert {panel.fabric: panel.cut for panel in made.panels} == {
        each: laid.count(each) for each in set(laid)
    }
    for panel in made.panels:
        assert panel.finished == pytest.approx((400 / columns, 320 / rows))


@pytest.mark.parametrize(
    "more",
    [
        {"columns": 21, "rows": 20},
        {"fabrics": ["a", "a"]},
        {"fabrics": ["a", " "]},
        {"fabrics": "a"},
        {"columns": 0},
    ],
)
def test_patchwork_that_can_not_be_is_refused(more: dict[str, Any]) -> None:
    with pytest.raises(SalvageError, match="part 'x'"):
        patchwork(part_of("patchwork", **{"width": 400, "height": 320, "columns": 4, "rows": 3, **more}))
    assert patchwork(part_of("patchwork", width=400, height=320, columns=20, rows=20)).panels[0].cut == 400


@given(st.floats(400, 700), st.integers(3, 24))
def test_gores_of_a_quarter_of_the_way_round_make_half_a_sphere(around: float, gores: int) -> None:
    """Half a sphere's surface is 2 pi r^2 (Archimedes); a polygon that holds each gore is larger by a hair."""
    crown = around / 4
    (gore,) = hat(part_of("hat", head=around, ease=0, crown=crown, gores=gores)).panels
    r = around / (2 * math.pi)
    assert gore.cut == gores
    assert 1.0 <= gores * sewn(gore).area / (2 * math.pi * r**2) <= 1.005
    left, bottom, right, top = sewn(gore).bounds
    assert gores * (right - left) == pytest.approx(around, rel=1e-3)
    assert top - bottom == pytest.approx(crown)


@given(st.floats(0, 1), st.integers(3, 12))
def test_a_gore_is_as_wide_at_each_height_as_the_parallel_of_the_sphere(share: float, gores: int) -> None:
    (gore,) = hat(part_of("hat", head=560, crown=150, gores=gores)).panels
    height = 150 * share
    parallel = (560 + 10) / gores * math.cos(math.pi / 2 * share)
    width = sewn(gore).intersection(LineString([(-500, height), (500, height)])).length
    assert parallel - 1e-6 <= width <= parallel + 0.5


@pytest.mark.parametrize("slope", [0, 20, 45, 75])
def test_a_brim_is_the_shell_of_a_cone(slope: float) -> None:
    """A frustum's shell is pi (R + r) s; its upper edge goes once round the head."""
    gore, half = hat(part_of("hat", head=570, ease=10, crown=170, brim=60, slope=slope)).panels
    r = 580 / (2 * math.pi)
    shell = math.pi * (r + r + 60 * math.cos(math.radians(slope))) * 60
    assert half.cut == 4  # two halves above, two below
    assert 2 * sewn(half).area == pytest.approx(shell, rel=0.01)
    assert 2 * sewn(half).area >= shell
    middle = Point(0, 0)
    radii = [middle.distance(Point(corner)) for corner in sewn(half).exterior.coords]
    assert max(radii) - min(radii) == pytest.approx(60, abs=0.2)
    inner = [
        corner for corner in sewn(half).exterior.coords if middle.distance(Point(corner)) < min(radii) + 1.0
    ]
    turns = [math.atan2(y, x) for x, y in inner]
    assert 2 * min(radii) * (max(turns) - min(turns)) == pytest.approx(580, rel=1e-3)
    assert gore.cut == 6


def test_the_marks_of_a_brim_meet_the_middles_of_the_gores() -> None:
    """Six gores: on each half of the brim three middles, at 1/6, 3/6 and 5/6 of its inner edge."""
    gore, half = hat(part_of("hat", allowance=0.0, head=570, crown=170, brim=60, gores=6)).panels
    turns = sorted(math.degrees(math.atan2(notch.at[1], notch.at[0])) for notch in half.notches)
    assert turns == pytest.approx([30, 90, 150], abs=0.1)
    (middle,) = gore.notches
    assert middle.at == pytest.approx((0, 0), abs=1e-6)
    assert run_of(Polygon(gore.outline), "bottom").length == pytest.approx(580 / 6, rel=1e-3)


@pytest.mark.parametrize("slope", [-1, 76, True, "steep"])
def test_a_slope_that_is_none_is_refused(slope: object) -> None:
    with pytest.raises(SalvageError, match="slope must be"):
        hat(part_of("hat", head=570, crown=170, brim=60, slope=slope))

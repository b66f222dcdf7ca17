"""How a shape may lie, from the words of the design, against the search's own account of it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from salvage.fit.claim import Copies
from salvage.fit.question import Cloth, Shape, allowed_turns, angle_of_turn
from salvage.fit.recheck.ways import arcs, copies_of, lying, takes
from salvage.project.project import Grain

SQUARE = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))
# A panel's own +y from the piece's grain, degrees; typed from the design: as it is, and on one-way cloth.
DESIGN = {
    Grain.ALONG: ((0, 180), (0,)),
    Grain.ACROSS: ((90, 270), (90, 270)),
    Grain.EITHER: ((0, 90, 180, 270), (0, 90, 270)),
    Grain.BIAS: ((45, 135, 225, 315), (45, 315)),
}


def cloth(grain: float = 90.0, **more: object) -> Cloth:
    return Cloth("back", box(0, 0, 100, 100), grain=grain, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("one_way", [False, True])
@pytest.mark.parametrize("grain", DESIGN)
@pytest.mark.parametrize("warp", [90.0, 30.0, 200.0])
def test_turns_are_those_of_the_design(grain: Grain, one_way: bool, warp: float) -> None:
    found = arcs(Shape("s", SQUARE, grain=grain), cloth(warp, one_way=one_way))
    wanted = {(turn + warp - 90) % 360 for turn in DESIGN[grain][one_way]}
    assert {middle for middle, _ in found} == wanted
    assert all(half == 0 for _, half in found)


@given(st.sampled_from(list(DESIGN)), st.floats(0, 359), st.booleans(), st.floats(0, 10))
def test_the_second_look_allows_what_the_search_may_do(
    grain: Grain, warp: float, one_way: bool, off: float
) -> None:
    shape, there = Shape("s", SQUARE, grain=grain, off_grain=off), cloth(warp, one_way=one_way)
    found = arcs(shape, there)
    assert all(half == off for _, half in found)
    for turn in allowed_turns(shape, there) or ():
        angle = angle_of_turn(turn, there)
        assert any(abs((angle - middle + 180) % 360 - 180) < 1e-9 for middle, _ in found)


def test_any_grain_is_every_angle() -> None:
    found = arcs(Shape("s", SQUARE, grain=Grain.ANY), cloth())
    assert all(
        any(abs((angle - middle + 180) % 360 - 180) <= half for middle, half in found)
        for angle in range(0, 360, 5)
    )


def test_angles_on_the_plane_heed_no_grain() -> None:
    assert arcs(Shape("s", SQUARE, angles=(0.0, 45.0)), cloth(10.0)) == [(0.0, 0.0), (45.0, 0.0)]


def test_turns_that_are_told_go_before_the_grain() -> None:
    assert arcs(Shape("s", SQUARE, turns=(30.0,)), cloth(100.0, one_way=True)) == [(40.0, 0.0)]


@pytest.mark.parametrize(
    ("more", "shape", "may"),
    [
        ({}, {}, True),
        ({"fabric": "lining"}, {}, False),
        ({"piece": "back"}, {"pieces": ("back", "front")}, True),
        ({"piece": "sleeve"}, {"pieces": ("back",)}, False),
        ({}, {"pieces": ("back",)}, False),
    ],
)
def test_what_a_cloth_takes(more: dict[str, str], shape: dict[str, tuple[str, ...]], may: bool) -> None:
    wanted = Shape("s", SQUARE, **shape)  # type: ignore[arg-type]
    there = replace(cloth(), **more)  # type: ignore[arg-type]
    assert takes(there, wanted) is may
    assert bool(arcs(wanted, there)) is may


@pytest.mark.parametrize(
    ("more", "copies"),
    [
        ({}, (Copies(2, (False,), 5),)),
        ({"may_flip": True}, (Copies(2, (False, True), 5),)),
        ({"mirrored_pair": True}, (Copies(2, (False,), 3), Copies(2, (True,), 2))),
    ],
)
def test_copies_by_how_each_may_be_flipped(more: dict[str, bool], copies: tuple[Copies, ...]) -> None:
    assert copies_of(Shape("s", SQUARE, count=5, **more), 2) == copies  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("angle", "at"), [(0, (3, 1)), (90, (-1, 3)), (180, (-3, -1)), (270, (1, -3)), (450, (-1, 3))]
)
def test_quarter_turns_are_exact_and_counter_clockwise(angle: float, at: tuple[float, float]) -> None:
    assert at in list(lying(Polygon([(3, 1), (4, 1), (3, 2)]), angle, False).exterior.coords)


@pytest.mark.parametrize("angle", [0.0, 90.0, 33.0])
def test_a_flipped_shape_is_mirrored_before_it_is_turned(angle: float) -> None:
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    x, y = -3.0, 1.0
    found = lying(Polygon([(3, 1), (4, 1), (3, 2)]), angle, True)
    assert min(math.dist(p, (c * x - s * y, s * x + c * y)) for p in found.exterior.coords) < 1e-12

"""Solving the camera from squares whose truth is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_scene import At, MakeScene, Scene

from salvage.errors import SalvageError
from salvage.photo.problem import Code, Level
from salvage.scale.solve import Solution, solve_plane
from salvage.scale.solving import joint
from salvage.scale.square import SquareKind

HEIGHT = 5.0
SPREAD = ((0.12, 0.15), (0.88, 0.85), (0.85, 0.2), (0.15, 0.8))


def worst_percent(scene: Scene, solution: Solution, length: float = 300.0) -> float:
    """Largest error of a length lying on the cloth, over the middle of the picture, percent of it."""
    z = solution.plane.height
    size = np.array([scene.photo.width_px, scene.photo.height_px])
    worst = 0.0
    for place in ((0.3, 0.3), (0.5, 0.5), (0.7, 0.7), (0.7, 0.3), (0.3, 0.7)):
        middle = scene.camera.unproject((np.array(place) * size)[None], z)[0]
        for direction in ((1.0, 0.0), (0.0, 1.0), (0.7, 0.7)):
            unit = np.array(direction) / np.hypot(*direction)
            ends = np.array([middle - unit * length / 2, middle + unit * length / 2])
            a, b = scene.camera.project(np.column_stack([ends, [z, z]]))
            worst = max(worst, 100.0 * abs(solution.plane.length(a, b)[0] / length - 1.0))
    return worst


@given(
    tilt=st.floats(0.0, 24.0),
    turned=st.floats(0.0, 360.0),
    focal=st.floats(23.0, 30.0),
    angle=st.floats(0.0, 90.0),
    upright=st.booleans(),
)
@settings(max_examples=5, deadline=None)
def test_one_perfect_square_and_a_straight_lens_give_the_truth(
    scene: MakeScene, at: At, tilt: float, turned: float, focal: float, angle: float, upright: bool
) -> None:
    size = (1800, 2400) if upright else (2400, 1800)
    s = scene(tilt=tilt, turned=turned, focal_35mm=focal, said_35mm=focal, size_px=size)
    square = s.square(at(s, 0.25, 0.3), 180.0, angle)
    solution = solve_plane(s.photo, [square], height=HEIGHT)
    assert worst_percent(s, solution) < 0.35
    assert not [p for p in solution.problems if p.level is Level.ERROR]


@pytest.mark.parametrize("k1", [-0.08, -0.03, 0.03, 0.08])
def test_two_squares_far_apart_find_the_lens(scene: MakeScene, at: At, k1: float) -> None:
    s = scene(k1=k1)
    squares = [s.square(at(s, *place), points_sd_px=0.02) for place in SPREAD[:2]]
    solution = solve_plane(s.photo, squares, height=HEIGHT)
    assert solution.plane.camera.k1 == pytest.approx(k1, abs=0.015)
    assert worst_percent(s, solution) < 0.25


def test_more_squares_make_the_plus_minus_smaller(scene: MakeScene, at: At) -> None:
    s = scene(k1=0.02)
    squares = [
        s.square(at(s, *place), sd_px=0.2, rng=np.random.default_rng(k)) for k, place in enumerate(SPREAD)
    ]
    one, two, four = (
        solve_plane(s.photo, squares[:n], height=HEIGHT).plane.plus_minus_percent for n in (1, 2, 4)
    )
    assert one > 1.5 * two
    assert two > 1.02 * four


def test_no_focal_length_makes_the_plus_minus_larger_and_is_no_problem(scene: MakeScene, at: At) -> None:
    known, unknown = scene(said_35mm=26.0, tilt=20.0), scene(said_35mm=None, tilt=20.0)
    square = known.square(at(known, 0.25, 0.3), sd_px=0.1)
    with_focal = solve_plane(known.photo, [square])
    without = solve_plane(unknown.photo, [square])
    assert without.plane.plus_minus_percent > 1.1 * with_focal.plane.plus_minus_percent
    assert not [p for p in without.problems if p.code is Code.FOCAL_ODD]


def test_a_crop_is_solved_with_several_squares(scene: MakeScene, at: At) -> None:
    """The right part of a larger picture: its middle is 500 px off the lens's, and EXIF is for the whole."""
    s = scene(off_centre_px=(-500.0, 100.0), focal_35mm=35.0, said_35mm=26.0, tilt=18.0)
    photo = replace(s.photo, cropped=True)
    squares = [s.square(at(s, *place), points_sd_px=0.02) for place in SPREAD]
    solution = solve_plane(photo, squares, height=HEIGHT)
    assert worst_percent(s, solution) < 0.4
    assert not [p for p in solution.problems if p.level is Level.ERROR]


def test_the_sides_tolerance_is_in_the_plus_minus(scene: MakeScene, at: At) -> None:
    s = scene()
    squares = [s.square(at(s, *place), sd_px=0.05) for place in SPREAD[:2]]
    exact, rough = (solve_plane(s.photo, squares, side_tolerance=t).plane for t in (0.05, 3.0))
    a, b = (700.0, 900.0), (1700.0, 900.0)
    assert rough.length(a, b)[1] > 1.5 * exact.length(a, b)[1]
    assert rough.length(a, b)[0] == pytest.approx(exact.length(a, b)[0], rel=2e-3)


def test_cloth_height_shortens_lengths_and_its_spread_is_in_the_plus_minus(scene: MakeScene, at: At) -> None:
    s = scene(height=1200.0)
    squares = [s.square(at(s, *place)) for place in SPREAD[:2]]
    a, b = (700.0, 900.0), (1700.0, 900.0)
    flat = solve_plane(s.photo, squares, height=0.0, height_sd=0.0).plane.length(a, b)
    thick = solve_plane(s.photo, squares, height=24.0, height_sd=0.0).plane.length(a, b)
    unsure = solve_plane(s.photo, squares, height=24.0, height_sd=8.0).plane.length(a, b)
    assert thick[0] / flat[0] == pytest.approx(1.0 - 24.0 / 1200.0, abs=5e-4)
    assert unsure[0] == thick[0]
    assert unsure[1] > 1.5 * thick[1]


def test_no_square_is_an_error_that_says_what_to_do(scene: MakeScene) -> None:
    with pytest.raises(SalvageError, match=r"made\.jpg.*Lay a square"):
        solve_plane(scene().photo, [])


@pytest.mark.parametrize(("tilt", "level"), [(10.0, None), (30.0, Level.WARNING), (40.0, Level.ERROR)])
def test_tilt(scene: MakeScene, at: At, tilt: float, level: Level | None) -> None:
    s = scene(tilt=tilt)
    squares = [s.square(at(s, *place)) for place in SPREAD[:2]]
    levels = [p.level for p in solve_plane(s.photo, squares).problems if p.code is Code.TILTED]
    assert levels == ([] if level is None else [level])


@pytest.mark.parametrize(
    ("said", "level"), [(15.0, Level.WARNING), (6.0, Level.WARNING), (1500.0, Level.ERROR), (150.0, None)]
)
def test_a_side_in_the_wrong_unit_puts_the_camera_where_it_cannot_be(
    scene: MakeScene, at: At, said: float, level: Level | None
) -> None:
    s = scene()
    solution = solve_plane(s.photo, [s.square(at(s, *p), label=said) for p in SPREAD[:2]])
    told = [(p.level, p.code, "--side" in p.message) for p in solution.problems]
    assert told == ([(level, Code.SQUARE_UNSURE, True)] if level else [])


def test_one_of_three_squares_with_another_side_is_named_and_left_out(scene: MakeScene, at: At) -> None:
    s = scene()
    squares = [
        s.square(at(s, *SPREAD[0]), 150.0, sd_px=0.1),
        s.square(at(s, *SPREAD[1]), 143.0, label=150.0, sd_px=0.1),
        s.square(at(s, *SPREAD[2]), 150.0, sd_px=0.1),
    ]
    solution = solve_plane(s.photo, squares, height=HEIGHT)
    (problem,) = [p for p in solution.problems if p.code is Code.SQUARES_DISAGREE]
    assert problem.level is Level.WARNING
    assert "Square 2" in problem.message
    assert list(solution.squares) == [squares[0], squares[2]]
    assert worst_percent(s, solution) < 0.4


def test_two_squares_of_different_sides_are_an_error(scene: MakeScene, at: At) -> None:
    s = scene()
    squares = [s.square(at(s, *SPREAD[0]), 150.0), s.square(at(s, *SPREAD[1]), 158.0, label=150.0)]
    (problem,) = [p for p in solve_plane(s.photo, squares).problems if p.code is Code.SQUARES_DISAGREE]
    assert problem.level is Level.ERROR


def test_a_curled_corner_is_noticed_and_does_not_slant_the_floor(
    scene: MakeScene, at: At, monkeypatch: pytest.MonkeyPatch
) -> None:
    s = scene(tilt=6.0)
    place = at(s, 0.15, 0.2)
    flat = s.square(place, 200.0, points_sd_px=0.08, sd_px=0.05)
    curled = s.square(place, 200.0, points_sd_px=0.08, sd_px=0.05, lifted=3.0)
    good, bad = solve_plane(s.photo, [flat], height=HEIGHT), solve_plane(s.photo, [curled], height=HEIGHT)
    assert not [a for a in good.advice if "flat" in a]
    assert [a for a in bad.advice if "flat" in a]
    monkeypatch.setattr(joint, "_LIFTED", np.inf)
    believed = solve_plane(s.photo, [curled], height=HEIGHT)
    assert worst_percent(s, bad) < 0.6 * worst_percent(s, believed)
    assert worst_percent(s, bad) < bad.plane.plus_minus_percent


def test_a_focal_length_that_cannot_be_is_told(scene: MakeScene, at: At) -> None:
    s = scene(focal_35mm=48.0, said_35mm=26.0, tilt=22.0)
    squares = [s.square(at(s, *place), sd_px=0.05) for place in SPREAD]
    assert Code.FOCAL_ODD in [p.code for p in solve_plane(s.photo, squares).problems]


def test_advice_where_the_plus_minus_is_large(scene: MakeScene, at: At) -> None:
    far = scene(height=2600.0)
    small = far.square(at(far, 0.2, 0.2), 80.0, sd_px=0.4)
    solution = solve_plane(far.photo, [small])
    assert any("second square" in a for a in solution.advice)
    assert any("larger square" in a for a in solution.advice)
    near = scene()
    sharp = [near.square(at(near, *place), sd_px=0.05) for place in SPREAD]
    assert solve_plane(near.photo, sharp).advice == ()


def test_a_sheet_of_paper_serves_as_well(scene: MakeScene, at: At) -> None:
    s = scene()
    middle = np.array(at(s, 0.3, 0.4))
    flat = np.array([[-105, -148.5], [105, -148.5], [105, 148.5], [-105, 148.5]]) + middle
    seen = s.camera.project(np.column_stack([flat, np.full(4, 0.3)]))
    square = replace(
        s.square(tuple(middle)), kind=SquareKind.PAPER, width=210.0, length=297.0, corners_px=seen
    )
    assert worst_percent(s, solve_plane(s.photo, [square], height=HEIGHT)) < 0.2


def test_the_same_photograph_gives_the_same_answer(scene: MakeScene, at: At) -> None:
    s = scene()
    squares = [s.square(at(s, *place), sd_px=0.2) for place in SPREAD[:3]]
    first, second = (solve_plane(s.photo, squares).plane.camera for _ in range(2))
    assert first == second

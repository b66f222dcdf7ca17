"""What would make lengths surer is said where they are unsure, and only what would help."""

from __future__ import annotations

import pytest
from made_scene import At, MakeScene

from salvage.photo.problem import Code, Level
from salvage.scale.advise import HIGHEST, LOWEST, advice_for, height_problems, tilt_problems
from salvage.scale.solve import solve_plane


def words(advice: tuple[str, ...]) -> str:
    return " ".join(advice)


def test_one_small_square_from_low_is_told_all_of_it(scene: MakeScene, at: At) -> None:
    s = scene(tilt=4.0, height=900.0, said_35mm=None)
    squares = (s.square(at(s, 0.3, 0.3), side=40.0, sd_px=0.5),)
    told = words(advice_for(solve_plane(s.photo, list(squares)).plane, squares))
    for each in ("second square", "larger square", "higher"):
        assert each in told
    assert "opposite sides" not in told
    assert "level" not in told


def test_a_leaning_camera_is_told_to_be_held_level(scene: MakeScene, at: At) -> None:
    s = scene(tilt=34.0, said_35mm=None)
    squares = (s.square(at(s, 0.3, 0.3), sd_px=0.05),)
    told = words(advice_for(solve_plane(s.photo, list(squares)).plane, squares))
    assert "level" in told
    assert "larger square" not in told


def test_two_squares_side_by_side_are_sent_apart(scene: MakeScene, at: At) -> None:
    s = scene(said_35mm=None)
    squares = tuple(s.square(at(s, *place), side=100.0, sd_px=1.0) for place in ((0.15, 0.2), (0.3, 0.2)))
    told = words(advice_for(solve_plane(s.photo, list(squares)).plane, squares))
    assert "opposite sides" in told
    assert "second square" not in told


def test_two_good_squares_need_no_advice_but_to_lie_flat(scene: MakeScene, at: At) -> None:
    s = scene(tilt=4.0)
    squares = tuple(s.square(at(s, *place)) for place in ((0.15, 0.2), (0.85, 0.8)))
    plane = solve_plane(s.photo, list(squares)).plane
    assert advice_for(plane, squares) == ()
    assert advice_for(plane, squares, curled=True) == ("Press the square flat: a corner of it curls.",)
    assert tilt_problems(plane) == ()
    assert height_problems(plane, squares) == ()


@pytest.mark.parametrize(
    ("side", "level"),
    [(150.0 * 0.9 * LOWEST / 1400, Level.WARNING), (150.0 * 1.1 * HIGHEST / 1400, Level.ERROR)],
)
def test_a_camera_where_nobody_stands_means_another_side(
    scene: MakeScene, at: At, side: float, level: Level
) -> None:
    s = scene(tilt=4.0)
    squares = tuple(s.square(at(s, *place), label=side) for place in ((0.15, 0.2), (0.85, 0.8)))
    (problem,) = height_problems(solve_plane(s.photo, list(squares)).plane, squares)
    assert (problem.code, problem.level) == (Code.SQUARE_UNSURE, level)

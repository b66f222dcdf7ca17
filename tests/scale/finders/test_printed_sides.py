"""A printed square says how long its side is, so that it needn't be told and a wrong one is noticed."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from drawn_photo import Camera, Scene, boards, marker, rectangle
from numpy.typing import NDArray

from salvage.photo.problem import Code, Level
from salvage.scale.find import find_squares
from salvage.scale.finders.printed import COPIES, number_of, side_of
from salvage.scale.square import SquareKind

CODED = cv2.aruco.DICT_APRILTAG_36h10
EARLIER = cv2.aruco.DICT_APRILTAG_36h11
CAMERA = Camera((960, 720), 26.0, 1050.0, tilt=8.0, toward=70.0, turn=4.0, k1=-0.03)
WHITE = (0.68, 0.68, 0.66)


def scene() -> Scene:
    return Scene.on(CAMERA, boards((0.35, 0.2, 0.1)))


def lay(
    drawn: Scene, side: float, place: tuple[float, float], turn: float, number: int, family: int = CODED
) -> NDArray[np.float64]:
    corners = rectangle(side, side, place, turn)
    drawn.lay(rectangle(1.25 * side, 1.25 * side, place, turn), WHITE)
    drawn.lay(corners, marker(corners, number, family))
    return corners


def test_every_side_has_its_own_number_and_is_read_back() -> None:
    sides = [float(mm) for mm in range(30, 290)] + [eighths * 25.4 / 8 for eighths in range(10, 91)]
    numbers = {(side, copy): number_of(side, copy) for side in sides for copy in range(COPIES)}
    for (side, _), number in numbers.items():
        assert number is not None
        assert side_of(number) == pytest.approx(side, abs=1e-9)
    # whole inches that are whole mm (5 in = 127 mm) have one number, all others differ
    assert len(set(numbers.values())) == len({(round(side, 6), copy) for side, copy in numbers})
    assert number_of(100.4) is None
    assert number_of(400.0) is None


def test_codes_of_the_two_families_are_far_enough_apart() -> None:
    """OpenCV's tables: mending one bit of the one and three of the other never turns one into the other."""
    tables = []
    for family in (CODED, EARLIER):
        table = cv2.aruco.getPredefinedDictionary(family)
        rows = [
            cv2.aruco.Dictionary.getBitsFromByteList(table.bytesList[k : k + 1], 6)
            for k in range(len(table.bytesList))
        ]
        tables.append(np.array(rows, dtype=np.int16))
    coded = tables[0].reshape(-1, 36)
    for turn in range(4):
        earlier = np.rot90(tables[1], turn, axes=(1, 2)).reshape(-1, 36)
        apart = coded @ (1 - earlier).T + (1 - coded) @ earlier.T
        assert apart.min() >= 4


def test_squares_of_two_sides_are_each_their_own_and_need_no_telling() -> None:
    drawn = scene()
    lay(drawn, 150.0, (-430, 100), 20.0, 8 * 150)
    lay(drawn, 101.6, (420, -150), 50.0, 8 * 32 + 4)
    for told in (None, 150.0, 101.6):
        finding = find_squares(drawn.photograph(), side=told)
        assert finding.scaled
        assert finding.problems == ()
        assert sorted(square.width for square in finding.squares) == pytest.approx([101.6, 150.0])


def test_a_wrong_side_is_told() -> None:
    drawn = scene()
    lay(drawn, 150.0, (-430, 100), 20.0, 8 * 150)
    photo = drawn.photograph()
    (problem,) = find_squares(photo, side=152.4).problems
    assert (problem.code, problem.level) == (Code.SQUARE_UNSURE, Level.ERROR)
    assert "its side is 150.0 mm" in problem.message
    assert "152.4 mm (6 in)" in problem.message
    assert find_squares(photo, side=150.4).problems == ()  # as a ruler reads it


def test_those_printed_by_earlier_versions_need_their_side() -> None:
    drawn = scene()
    lay(drawn, 150.0, (-430, 100), 20.0, 0, EARLIER)
    photo = drawn.photograph()
    untold, told = find_squares(photo, side=None), find_squares(photo, side=150.0)
    assert len(untold.squares) == 1
    assert not untold.scaled
    assert told.scaled
    assert told.squares[0].width == 150.0


def test_one_of_an_earlier_version_beside_a_coded_one() -> None:
    drawn = scene()
    lay(drawn, 120.0, (-430, 100), 20.0, 0, EARLIER)
    lay(drawn, 150.0, (420, -150), 50.0, 8 * 150)
    photo = drawn.photograph()
    untold, told = find_squares(photo, side=None), find_squares(photo, side=120.0)
    assert [square.width for square in untold.squares] == [150.0]
    assert len(untold.others_px) == 1
    assert sorted(square.width for square in told.squares) == [120.0, 150.0]
    assert told.problems == ()


def test_two_prints_of_one_sheet_bear_one_number_and_both_count() -> None:
    drawn = scene()
    for place, turn in (((-430, 100), 20.0), ((420, -150), 50.0)):
        lay(drawn, 150.0, place, turn, 8 * 150)
    assert len(find_squares(drawn.photograph(), side=None).squares) == 2


@pytest.mark.parametrize("beside", [0.0, 0.56])
def test_pointed_at_it_is_still_a_printed_square(beside: float) -> None:
    """In the middle, and on the white margin that belongs to it."""
    drawn = scene()
    corners = lay(drawn, 150.0, (-430, 100), 20.0, 8 * 150)
    other = lay(drawn, 150.0, (420, -150), 50.0, 8 * 150 + 1)
    for wanted in (corners, other):
        place = wanted.mean(axis=0) + beside * (wanted[1] - wanted[0])
        x, y = CAMERA.to_px(place[None])[0]
        (square,) = find_squares(drawn.photograph(), side=None, pointed_at=[(float(x), float(y))]).squares
        assert square.kind is SquareKind.PRINTED
        assert np.linalg.norm(square.corners_px.mean(axis=0) - CAMERA.to_px(wanted).mean(axis=0)) < 3.0

"""What an action says: points, areas, lines and pieces, against OpenCV's flood fill and lengths worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest
from desk_garments import COAT, PHOTO, SHOT, SIZE_PX, px
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from salvage.cloth.garment import Piece
from salvage.desk.edit.told import MOST_POINTS, Said, filled, piece_told, stroke
from salvage.errors import UsageError

OTHER = replace(SHOT, file="photos/inside.jpg", content="beef")
TWO_SIDES = replace(
    COAT,
    pieces=(
        *COAT.pieces,
        Piece("lining", box(0, 0, 200, 200), photo=OTHER),
        Piece("drawer", box(0, 0, 90, 90)),
    ),
)
corners = st.tuples(st.integers(0, 19), st.integers(0, 19))


def said(garment: Any = COAT, **action: Any) -> Said:
    return Said(garment, {"do": "stain", **action})


@given(st.lists(corners, min_size=4, max_size=9))
def test_a_ring_holds_all_that_water_poured_outside_does_not_reach(points: list[tuple[int, int]]) -> None:
    by, rim = 8, 12
    picture = np.zeros((20 * by + 2 * rim, 20 * by + 2 * rim), np.uint8)
    ring = np.array([[x * by + rim, y * by + rim] for x, y in points])
    cv2.polylines(picture, [ring], True, 255)
    cv2.floodFill(picture, None, (0, 0), 128)
    inside = np.count_nonzero(picture != 128) / by**2
    try:
        area = filled(points).area
    except UsageError:
        area = 0.0
    length = LineString([*points, points[0]]).length
    assert area == pytest.approx(inside, abs=length / by + 0.1)  # the drawn line itself is a pixel wide


@pytest.mark.parametrize(
    ("brush", "points", "area"),
    [
        (5.0, [[50, 50]], math.pi * 25),
        (5.0, [[50, 50], [110, 50]], math.pi * 25 + 600),
        (2.0, [[50, 50], [50, 50], [50, 90]], math.pi * 4 + 160),
    ],
)
def test_a_brush_covers_what_lies_within_its_radius(
    brush: float, points: list[list[float]], area: float
) -> None:
    drawn = said(mm=points, piece=0, brush=brush).area()
    assert area * 0.985 < drawn.area <= area
    assert drawn.hausdorff_distance(LineString([*points, points[-1]])) == pytest.approx(brush, abs=1e-6)


def test_pixels_and_millimetres_of_one_place_are_one_shape() -> None:
    ring = [(20.0, 30.0), (240.0, 30.0), (240.0, 310.0), (20.0, 310.0)]
    seen = said(px=px(*ring)).area()
    assert seen.hausdorff_distance(Polygon(ring)) < 0.3  # what is straight in the picture bends on the plane
    line = said(px=px(*ring[:2])).line()
    assert line.hausdorff_distance(LineString(ring[:2])) < 0.3
    assert said(mm=[list(p) for p in ring], piece=0).area().equals(Polygon(ring))


def test_two_parts_that_a_crossing_leaves_are_both_kept_and_scraps_are_not() -> None:
    crossed = [[0, 0], [20, 20], [40, 0], [40, 20], [20, 20], [0, 20]]
    assert said(mm=crossed, piece=0).area().area == pytest.approx(2 * 0.5 * 20 * 20)
    scrap = [[0, 0], [100, 0], [100, 20], [99.9, 0], [0, 20]]
    kept = said(mm=scrap, piece=0).area()
    assert kept.geom_type == "Polygon" or all(each.area >= 1.0 for each in kept.geoms)
    with pytest.raises(UsageError, match="encloses nothing"):
        said(mm=[[0, 0], [0.5, 0], [0.5, 0.5]], piece=0).area()


def test_a_stroke_goes_over_each_place_once_in_its_order() -> None:
    assert list(stroke([(0, 0), (0, 0), (5, 1), (5, 1), (0, 0)]).coords) == [(0, 0), (5, 1), (0, 0)]
    assert stroke([(3, 4), (3, 4)]) == Point(3, 4)


def test_a_line_or_an_outline_without_extent_is_none() -> None:
    assert said(mm=[[0, 0], [0, 1.0]], piece=0).line().length == 1.0
    with pytest.raises(UsageError, match="no length"):
        said(mm=[[0, 0], [0, 0.9]], piece=0).line()
    with pytest.raises(UsageError, match="encloses nothing"):
        said(mm=[[0, 0], [5, 5], [0, 0]], piece=0).ring()
    with pytest.raises(UsageError, match="crosses itself"):
        said(mm=[[0, 0], [50, 50], [50, 0], [0, 50]], piece=0).ring()


def test_a_ring_is_the_polygon_through_its_points() -> None:
    points = [[0, 0], [50, 0], [60, 70], [0, 40]]
    assert said(mm=points, piece=0).ring().equals(Polygon(points))


@pytest.mark.parametrize(
    ("action", "pieces"),
    [
        ({"px": [[9, 9]], "photo": PHOTO}, [0, 1, 2]),
        ({"px": [[9, 9]], "photo": "inside.jpg"}, [3]),  # the end of its name is enough
        ({"px": [[9, 9]], "piece": "side"}, [0, 1, 2]),
        ({"px": [[9, 9]], "piece": "lining"}, [3]),
        ({"px": [[9, 9]], "mark": 4}, [0, 1, 2]),
        ({"mm": [[9, 9]], "piece": "cuff"}, [0, 1, 2]),
        ({"mm": [[9, 9]], "piece": 4}, [4]),
    ],
)
def test_pieces_beside_are_those_of_the_plane_that_is_drawn_on(
    action: dict[str, Any], pieces: list[int]
) -> None:
    assert said(TWO_SIDES, **action).beside() == pieces


@pytest.mark.parametrize(
    ("action", "says"),
    [
        ({"px": [[9, 9]]}, "Say which"),  # two photographs
        ({"px": [[9, 9]], "photo": "sleeve.jpg"}, r"no photograph sleeve\.jpg"),
        ({"px": [[9, 9]], "piece": "drawer"}, "Say which"),  # was never photographed
        ({"mm": [[9, 9]]}, "say which in 'piece'"),
    ],
)
def test_without_a_plane_nothing_is_drawn(action: dict[str, Any], says: str) -> None:
    with pytest.raises(UsageError, match=says):
        said(TWO_SIDES, **action).beside()


@pytest.mark.parametrize(("told", "index"), [(0, 0), (2, 2), ("back", 0), (" SIDE ", 1), ("3", 2)])
def test_a_piece_is_told_by_its_place_its_name_or_its_number(told: Any, index: int) -> None:
    assert piece_told(COAT, told) == index


def test_a_name_goes_before_a_number() -> None:
    named = replace(COAT, pieces=(*COAT.pieces[:2], replace(COAT.pieces[2], name="1")))
    assert (named.pieces[0].number, piece_told(named, "1")) == (1, 2)


@pytest.mark.parametrize("told", [-1, 3, True, 1.0, None, "hat", "", [0]])
def test_no_other_piece_is_taken_for_one_that_is_not_there(told: Any) -> None:
    with pytest.raises(UsageError, match="there is no piece"):
        piece_told(COAT, told)


def test_two_pieces_of_one_name_are_not_guessed_between() -> None:
    twice = replace(COAT, pieces=(*COAT.pieces, replace(COAT.pieces[0], name="Back")))
    with pytest.raises(UsageError, match="no piece called"):
        piece_told(twice, "back")


@pytest.mark.parametrize("value", [True, "7", None, float("inf"), float("nan"), [1]])
def test_numbers_are_numbers(value: Any) -> None:
    with pytest.raises(UsageError, match="is a number"):
        said(grain=value).number("grain")
    with pytest.raises(UsageError, match="whole number"):
        said(grain=value).count("grain")
    assert said(grain=-7).number("grain") == said(grain=-7).count("grain") == -7


def test_a_text_has_200_letters_at_most_and_no_spaces_round_it() -> None:
    assert said(what="  a badge ").text("what") == "a badge"
    assert said().text("what") == ""
    assert len(said(what="x" * 200).text("what")) == 200
    for wrong in ("x" * 201, 7, None):
        with pytest.raises(UsageError, match="200 letters"):
            said(what=wrong).text("what")


def test_points_are_counted_and_may_lie_some_way_beside_the_picture() -> None:
    width, height = SIZE_PX
    assert said(px=[-3 * width, 3 * height]).points(1, "a point") == [(-3 * width, 3 * height)]
    for far in ([3 * width + 1, 0], [0, -3 * height - 1]):
        with pytest.raises(UsageError, match="far outside"):
            said(px=[far]).points(1, "a point")
    with pytest.raises(UsageError, match=f"2 points or more; {MOST_POINTS + 1} are told"):
        said(px=[[1, 1]] * (MOST_POINTS + 1)).points(2, "a line")
    for wrong in ([1, True], [[1, 2, 3], [1, 2]], [["1", 2], [1, 2]], [None, [1, 2]]):
        with pytest.raises(UsageError, match="is no point"):
            said(px=wrong).points(1, "a line")

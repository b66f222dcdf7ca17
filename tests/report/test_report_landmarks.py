"""Tape lengths must lead back to the panel's corner, from places a person can find."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Piece
from salvage.report.landmarks import bearings, corners, find_landmarks, letter_of, panel_corners, where


def coat_back() -> Piece:
    pocket = Blocked(BlockedKind.POCKET, box(300, 400, 420, 540), 3.0, what="patch pocket")
    seam = Blocked(BlockedKind.SEAM, LineString([(20, 640), (600, 640)]), 6.0)
    return Piece("back", box(0, 0, 620, 700), blocked=(pocket, seam))


def crossing(a: tuple[float, float], r: float, b: tuple[float, float], s: float) -> list[np.ndarray]:
    """Where two circles meet, by the school formula."""
    base = np.array(b) - np.array(a)
    apart = float(np.hypot(*base))
    along = (r * r - s * s + apart * apart) / (2 * apart)
    high = math.sqrt(max(r * r - along * along, 0.0))
    unit = base / apart
    foot = np.array(a) + along * unit
    side = np.array([-unit[1], unit[0]])
    return [foot + high * side, foot - high * side]


@settings(max_examples=40, deadline=None)
@given(
    x=st.floats(5, 400),
    y=st.floats(5, 400),
    width=st.floats(30, 200),
    length=st.floats(30, 250),
    turn=st.floats(0, 360),
)
def test_two_tapes_meet_at_the_named_corner(x, y, width, length, turn):
    shape = affinity.translate(affinity.rotate(box(0, 0, width, length), turn, origin="centroid"), x, y)
    marks, (bearing,) = bearings(coat_back(), [shape])
    spots = {mark.letter: mark.point for mark in marks}
    (one, r), (other, s) = bearing.distances
    meets = crossing(spots[one], r, spots[other], s)
    assert min(float(np.hypot(*(meet - bearing.corner))) for meet in meets) < 0.01
    assert shape.exterior.distance(Point(bearing.corner)) < 1e-6


@settings(max_examples=40, deadline=None)
@given(x=st.floats(5, 400), y=st.floats(5, 440))
def test_an_error_of_one_mm_in_the_tapes_moves_the_corner_by_little(x, y):
    marks, (bearing,) = bearings(coat_back(), [box(x, y, x + 120, y + 200)])
    spots = {mark.letter: mark.point for mark in marks}
    (one, r), (other, s) = bearing.distances
    meets = crossing(spots[one], r + 1.0, spots[other], s)
    assert min(float(np.hypot(*(meet - bearing.corner))) for meet in meets) < 5.0


def test_corners_of_the_piece_the_pocket_and_the_seam_are_landmarks():
    words = {mark.words for mark in find_landmarks(coat_back())}
    assert "the lower left corner of the back" in words
    assert "the upper right corner of the patch pocket" in words
    assert "the right end of the seam" in words


def test_features_of_one_name_are_told_apart_by_where_they_are():
    pockets = [
        Blocked(BlockedKind.POCKET, box(x, 200, x + 100, 320), 3.0, what="patch pocket") for x in (60, 440)
    ]
    words = [
        mark.words for mark in find_landmarks(Piece("back", box(0, 0, 600, 700), blocked=tuple(pockets)))
    ]
    assert any(
        "of the left patch pocket" in text or "of the lower left patch pocket" in text for text in words
    )
    assert any("right patch pocket" in text for text in words)
    assert len(set(words)) == len(words)


def test_letters_are_shared_between_panels_and_distinct():
    shapes = [box(10, y, 110, y + 60) for y in (10, 80, 150)]
    marks, found = bearings(coat_back(), shapes)
    assert len({mark.letter for mark in marks}) == len(marks)
    assert len(marks) <= 4
    assert {letter for bearing in found for letter, _ in bearing.distances} == {mark.letter for mark in marks}


def test_a_round_piece_has_no_corners_but_landmarks_all_the_same():
    round_piece = Piece("cap", Point(100, 100).buffer(90, quad_segs=32))
    assert corners(round_piece.outline, 3.0) == []
    marks, (bearing,) = bearings(round_piece, [box(80, 80, 120, 130)])
    assert len(bearing.distances) == 2
    assert all("point of the cap" in mark.words for mark in marks)


def test_a_round_panel_is_found_by_its_outermost_points():
    names = [words for _, words in panel_corners(Point(0, 0).buffer(50, quad_segs=32))]
    assert names == ["its lowest point", "its highest point", "its leftmost point", "its rightmost point"]


def test_seams_are_taken_only_where_they_lie_on_the_piece():
    seam = Blocked(BlockedKind.SEAM, LineString([(-500, 300), (900, 300)]), 6.0)
    piece = Piece("front", box(0, 0, 400, 600), blocked=(seam,))
    assert all(piece.outline.buffer(5).covers(Point(mark.point)) for mark in find_landmarks(piece))


@pytest.mark.parametrize(("index", "letter"), [(0, "A"), (25, "Z"), (26, "AA"), (27, "AB"), (52, "BA")])
def test_letters_go_on_after_z(index, letter):
    assert letter_of(index) == letter


@pytest.mark.parametrize(
    ("point", "words"),
    [((0, 0), "lower left"), ((9, 9), "upper right"), ((5, 9), "upper"), ((5, 5), "middle")],
)
def test_where_a_point_lies(point, words):
    assert where(point, (0, 0, 10, 10)) == words


def test_a_triangle_keeps_three_corners():
    assert len(corners(Polygon([(0, 0), (100, 0), (30, 80)]), 1.0)) == 3

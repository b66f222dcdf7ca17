"""Tape lengths must lead back to the panel's corner, from places a person can find."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, FoundBy, Piece
from salvage.report.cutting.bearings import bearings, letter_of, panel_corners
from salvage.report.cutting.landmarks import Landmark, corners, find_landmarks, is_straight, sides, where
from salvage.report.cutting.upright import turn_of, upright


def coat_back() -> Piece:
    pocket = Blocked(BlockedKind.POCKET, box(300, 400, 420, 540), 3.0, what="patch pocket")
    seam = Blocked(BlockedKind.SEAM, LineString([(4, 640), (616, 640)]), 6.0)
    return Piece("back", box(0, 0, 620, 700), blocked=(pocket, seam))


def reading(mark: Landmark, place: np.ndarray) -> float:
    """What a tape reads from a landmark to a place: the shortest way, found by shapely."""
    thing = mark.line if mark.line is not None else Point(mark.point)
    return float(thing.distance(Point(*place)))


@settings(max_examples=40, deadline=None)
@given(
    x=st.floats(5, 400),
    y=st.floats(5, 400),
    width=st.floats(30, 200),
    length=st.floats(30, 250),
    turn=st.floats(0, 360),
)
def test_a_tape_from_the_landmark_to_the_corner_reads_what_is_said(
    x: float, y: float, width: float, length: float, turn: float
) -> None:
    shape = affinity.translate(affinity.rotate(box(0, 0, width, length), turn, origin="centroid"), x, y)
    marks, (two,) = bearings(coat_back(), [shape])
    by_letter = {mark.letter: mark for mark in marks}
    for bearing in two:
        assert len(bearing.tapes) == 2
        for tape in bearing.tapes:
            assert reading(by_letter[tape.letter], np.array(bearing.corner)) == pytest.approx(
                tape.length, abs=0.01
            )
            assert math.dist(tape.foot, bearing.corner) == pytest.approx(tape.length, abs=0.01)
        assert shape.exterior.distance(Point(bearing.corner)) < 1e-6
    assert len(two) == 2
    assert math.dist(two[0].corner, two[1].corner) >= 0.6 * math.hypot(width, length) - 1e-6


@settings(max_examples=40, deadline=None)
@given(x=st.floats(5, 400), y=st.floats(5, 440))
def test_a_corner_set_wrong_shows_on_the_tapes(x: float, y: float) -> None:
    """Whichever way the corner is wrong by 1 mm, one of the two tapes must read at least 0.3 mm off."""
    marks, ((bearing, _),) = bearings(coat_back(), [box(x, y, x + 120, y + 200)])
    assume(all(tape.length > 1.0 for tape in bearing.tapes))  # nearer, both sides of a line read the same
    by_letter = {mark.letter: mark for mark in marks}
    for turn in np.radians(np.arange(0, 360, 15)):
        wrong = np.array(bearing.corner) + np.array([np.cos(turn), np.sin(turn)])
        off = [abs(reading(by_letter[tape.letter], wrong) - tape.length) for tape in bearing.tapes]
        assert max(off) > 0.3


def test_corners_of_the_piece_the_pocket_and_the_seam_are_landmarks() -> None:
    words = {mark.words for mark in find_landmarks(coat_back())}
    assert "the lower left corner of the back" in words
    assert "the upper right corner of the patch pocket" in words
    assert "the right end of the seam" in words


def test_edges_hems_and_both_sides_of_a_zip_are_lines() -> None:
    zip_ = Blocked(BlockedKind.CLOSURE, box(300, 0, 316, 600), 3.0, what="zip")
    hem = Blocked(BlockedKind.HEM, LineString([(0, 30), (620, 30)]), 6.0)
    found = find_landmarks(Piece("back", box(0, 0, 620, 700), blocked=(zip_, hem)))
    words = {mark.words for mark in found if mark.line is not None}
    assert {
        "the lower edge of the back",
        "the left side of the zip",
        "the right side of the zip",
        "the hem",
    } <= words


def test_a_ring_is_cut_into_sides_that_are_the_whole_ring() -> None:
    shape = Polygon([(0, 0), (300, 0), (300, 200), (150, 260), (0, 200)])
    runs = sides(shape, corners(shape, 2.0))
    assert sum(run.length for run in runs) == pytest.approx(shape.exterior.length)
    assert len(runs) == 5


def test_an_armhole_is_no_edge_to_measure_from() -> None:
    bend = [(150 * math.cos(a), 150 * math.sin(a)) for a in np.linspace(0, math.pi / 2, 20)]
    assert not is_straight(LineString(bend))
    assert is_straight(LineString([(0, 0), (100, 1), (200, 0)]))


def test_features_of_one_name_are_told_apart_by_where_they_are() -> None:
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


def test_letters_are_shared_between_panels_and_distinct() -> None:
    shapes = [box(10, y, 110, y + 60) for y in (10, 80, 150)]
    marks, found = bearings(coat_back(), shapes)
    assert len({mark.letter for mark in marks}) == len(marks)
    assert len(marks) <= 6
    assert {tape.letter for two in found for bearing in two for tape in bearing.tapes} == {
        mark.letter for mark in marks
    }


def test_a_round_piece_has_no_corners_but_landmarks_all_the_same() -> None:
    round_piece = Piece("cap", Point(100, 100).buffer(90, quad_segs=32))
    assert corners(round_piece.outline, 3.0) == []
    marks, ((bearing, _),) = bearings(round_piece, [box(80, 80, 120, 130)])
    assert len(bearing.tapes) == 2
    assert marks
    assert all("point of the cap" in mark.words for mark in marks)


def test_a_round_panel_is_found_by_its_outermost_points() -> None:
    names = [words for _, words in panel_corners(Point(0, 0).buffer(50, quad_segs=32))]
    assert names == ["its lowest point", "its highest point", "its leftmost point", "its rightmost point"]


def test_seams_are_taken_only_where_they_lie_on_the_piece() -> None:
    seam = Blocked(BlockedKind.SEAM, LineString([(-500, 300), (900, 300)]), 6.0)
    piece = Piece("front", box(0, 0, 400, 600), blocked=(seam,))
    marks = find_landmarks(piece)
    assert any("seam" in mark.words for mark in marks)
    assert all(piece.outline.buffer(5).covers(Point(mark.point)) for mark in marks)


def test_what_may_not_be_there_is_no_landmark() -> None:
    tab = Blocked(BlockedKind.CLOSURE, box(100, 100, 160, 140), 3.0, what="tab", confidence=0.5)
    piece = Piece("front", box(0, 0, 400, 600), blocked=(tab,))
    assert not any("tab" in mark.words for mark in find_landmarks(piece))
    sure = Piece("front", box(0, 0, 400, 600), blocked=(replace(tab, found_by=FoundBy.PERSON),))
    assert any("tab" in mark.words for mark in find_landmarks(sure))


@pytest.mark.parametrize(("index", "letter"), [(0, "A"), (25, "Z"), (26, "AA"), (27, "AB"), (52, "BA")])
def test_letters_go_on_after_z(index: int, letter: str) -> None:
    assert letter_of(index) == letter


@pytest.mark.parametrize(
    ("point", "words"),
    [((0, 0), "lower left"), ((9, 9), "upper right"), ((5, 9), "upper"), ((5, 5), "middle")],
)
def test_where_a_point_lies(point: tuple[float, float], words: str) -> None:
    assert where(point, (0, 0, 10, 10)) == words


def test_a_triangle_keeps_three_corners() -> None:
    assert len(corners(Polygon([(0, 0), (100, 0), (30, 80)]), 1.0)) == 3


def test_a_feature_whose_ring_crosses_itself_is_mended_and_not_a_crash() -> None:
    bow = Polygon([(100, 100), (200, 200), (200, 100), (100, 200)])
    drawn = Blocked(BlockedKind.POCKET, bow, 3.0, found_by=FoundBy.PERSON)
    piece = Piece("back", box(0, 0, 620, 700), blocked=(drawn,))
    assert any("pocket" in mark.words for mark in find_landmarks(piece))


def test_a_button_has_a_middle_and_no_corners() -> None:
    button = Blocked(BlockedKind.CLOSURE, Point(100, 100).buffer(10), 3.0, what="button")
    zip_ = Blocked(BlockedKind.CLOSURE, box(300, 100, 320, 400), 3.0, what="zip")
    words = {
        mark.words for mark in find_landmarks(Piece("front", box(0, 0, 400, 500), blocked=(button, zip_)))
    }
    assert "the middle of the button" in words
    assert not any("button" in each and "corner" in each for each in words)
    assert any("side of the zip" in each for each in words)
    assert not any("end of the zip" in each for each in words)  # where the find ends the zip may go on


def test_the_end_of_a_find_is_no_landmark() -> None:
    """A seam that was seen for a part of its way only, a pocket seen as a blob, a seam that nobody saw."""
    short = Blocked(BlockedKind.SEAM, LineString([(100, 300), (300, 310)]), 6.0)
    blob = Blocked(BlockedKind.POCKET, Point(200, 150).buffer(50), 3.0, what="slit pocket")
    told = Blocked(BlockedKind.SEAM, LineString([(0, 500), (400, 500)]), 6.0, FoundBy.TRADE, "waist seam")
    words = {
        m.words for m in find_landmarks(Piece("front", box(0, 0, 400, 600), blocked=(short, blob, told)))
    }
    assert "the seam" in words  # its run is there
    assert not any("end of the seam" in each or "pocket" in each or "waist" in each for each in words)


def test_a_seam_ends_where_it_meets_another_or_the_edge() -> None:
    across = Blocked(BlockedKind.SEAM, LineString([(0, 400), (400, 400)]), 6.0, what="yoke seam")
    down = Blocked(BlockedKind.SEAM, LineString([(150, 395), (150, 120)]), 6.0, what="dart")
    words = {m.words for m in find_landmarks(Piece("front", box(0, 0, 400, 600), blocked=(across, down)))}
    assert "the left end of the yoke seam" in words
    assert "the upper end of the dart" in words
    assert "the lower end of the dart" not in words


@pytest.mark.parametrize(
    ("grain", "one_way", "turn"),
    [(90, False, 0), (92, False, -2), (0, False, 90), (180, False, -90), (270, False, 0), (270, True, 180)],
)
def test_a_piece_is_turned_grain_up_and_no_farther_than_it_must(
    grain: float, one_way: bool, turn: float
) -> None:
    piece = Piece("front", box(0, 0, 400, 600), grain=grain, one_way=one_way)
    assert abs((turn_of(piece) - turn + 180) % 360 - 180) in (pytest.approx(0), pytest.approx(180))
    assert one_way or abs(turn_of(piece)) <= 90 + 1e-6
    up = upright(piece)
    assert up.grain % 180 == pytest.approx(90)
    assert not one_way or up.grain % 360 == pytest.approx(90)
    assert up.outline.area == pytest.approx(piece.outline.area)


def test_no_two_landmarks_are_called_the_same() -> None:
    # a yoke with a notch at its neck: two corners lie upper right, three buttons in a row have one name
    outline = Polygon([(0, 0), (500, 0), (500, 130), (380, 200), (150, 150), (0, 130)])
    buttons = tuple(
        Blocked(BlockedKind.CLOSURE, Point(x, 60).buffer(8), 3.0, found_by=FoundBy.PERSON, what="button")
        for x in (440, 460, 480)
    )
    marks = find_landmarks(Piece("yoke", outline, blocked=buttons))
    words = [mark.words for mark in marks]
    assert len(set(words)) == len(words)
    by_words = {mark.words: mark.point for mark in marks}
    left = by_words["the upper right corner of the yoke, further left"]
    right = by_words["the upper right corner of the yoke, further right"]
    assert left[0] < right[0]
    of_buttons = sorted((point[0], name) for name, point in by_words.items() if "button" in name)
    assert [name[-19:] for _, name in of_buttons] == [f"no. {n} from the left" for n in (1, 2, 3)]

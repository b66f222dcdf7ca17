"""What of a line was found already: a seam must be told once, and none lost for running near another."""

from __future__ import annotations

import pytest
from shapely.geometry import LineString, MultiLineString, Point

from salvage.cloth.finders.found import Seam
from salvage.cloth.finders.lines.beside import joined_lines, not_yet, running_along

LINE = LineString([(0, 0), (400, 0)])


def left(*lines: LineString, known: tuple[LineString, ...] = (LINE,)) -> list[LineString]:
    return [each.line for each in not_yet([Seam(line, 0.7) for line in lines], known)]


def test_a_line_beside_a_known_one_is_known() -> None:
    assert left(LineString([(10, 5), (380, 8)])) == []
    assert left(LineString([(380, 8), (10, 5)])) == []  # whichever way it was traced


@pytest.mark.parametrize(
    "line",
    [
        LineString([(0, 30), (400, 30)]),  # too far
        LineString([(200, -150), (200, 150)]),  # across
        LineString([(0, -150), (300, 150)]),  # askew
    ],
)
def test_another_line_is_new(line: LineString) -> None:
    assert sum(each.length for each in left(line)) == pytest.approx(line.length)


def test_of_a_longer_line_the_rest_is_new() -> None:
    (rest,) = left(LineString([(200, 4), (700, 4)]))
    assert rest.bounds[0] == pytest.approx(412, abs=2.0)
    assert rest.bounds[2] == 700


def test_a_bit_that_reaches_over_is_nothing() -> None:
    assert left(LineString([(0, 4), (440, 4)])) == []  # 28 mm of 440
    assert left(LineString([(340, 4), (436, 4)])) == []  # a quarter of it, but only 24 mm
    assert len(left(LineString([(340, 4), (440, 4)]))) == 1


def test_a_line_that_goes_on_where_another_ends_is_whole() -> None:
    assert left(LineString([(402, 4), (700, 4)])) == [LineString([(402, 4), (700, 4)])]


def test_a_bit_of_a_line_tells_no_way_and_takes_nothing_away() -> None:
    assert left(LINE, known=(LineString([(100, 4), (112, 4)]),)) == [LINE]
    assert len(left(LINE, known=(LineString([(100, 4), (130, 4)]),))) == 2


def test_of_two_new_lines_side_by_side_the_first_is_told() -> None:
    one, two = LineString([(0, 100), (300, 100)]), LineString([(0, 106), (300, 106)])
    assert left(one, two) == [one]
    assert left(two, one) == [two]


def test_a_corner_shares_its_way_only_where_it_runs_along() -> None:
    corner = LineString([(0, 3), (200, 3), (200, 300)])
    (rest,) = left(corner)
    assert rest.length == pytest.approx(300 - 12, abs=6.0)


def test_what_runs_along_is_its_surroundings() -> None:
    assert running_along(LINE, LineString([(200, -100), (200, 100)]), 12.0).is_empty
    zone = running_along(LINE, LineString([(100, 5), (300, 5)]), 12.0)
    assert zone.covers(Point(200, 11))
    assert not zone.covers(Point(200, 13))


def test_lines_that_meet_end_to_end_are_one() -> None:
    parts = MultiLineString([[(0, 0), (10, 0)], [(10, 0), (10, 10)], [(50, 0), (60, 0)]])
    assert sorted(each.length for each in joined_lines(parts)) == [10, 20]
    assert joined_lines(Point(0, 0)) == []

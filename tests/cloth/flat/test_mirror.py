"""Lines in which shapes lie on their own mirror image, of shapes whose lines are known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from salvage.cloth.flat.mirror import Mirrored, MirrorLine

KITE = Polygon([(0, -400), (220, 150), (0, 300), (-220, 150)])  # mirrored in x = 0 alone


def askew(line: MirrorLine, angle: float) -> float:
    return abs((line.angle - angle + 90) % 180 - 90)


def off_line(line: MirrorLine, at: tuple[float, float]) -> float:
    """mm that a point lies beside the line."""
    along = math.radians(line.angle)
    x, y = at[0] - line.at[0], at[1] - line.at[1]
    return abs(x * math.sin(along) - y * math.cos(along))


@pytest.mark.parametrize("turn", [0.0, 20.0, 133.0])
def test_a_kite_is_mirrored_in_its_length(turn: float) -> None:
    line = Mirrored(affinity.translate(affinity.rotate(KITE, turn, origin=(0, 0)), 900, -300)).best()
    assert askew(line, 90 + turn) <= 1.0
    assert off_line(line, (900, -300)) <= 8.0
    assert line.likeness > 0.95


def test_a_line_beside_the_centroid_is_found() -> None:
    """A tail to one side moves the centroid, not the line in which most of the kite is mirrored."""
    tailed = KITE.union(box(100, 100, 420, 160))
    line = Mirrored(tailed).best_near(90.0, 5.0)
    assert 10 < tailed.centroid.x < 40
    assert off_line(line, (0, 0)) < tailed.centroid.x


@pytest.mark.parametrize(("toward", "found"), [(5.0, 0.0), (80.0, 90.0), (170.0, 0.0)])
def test_of_two_lines_nearly_as_good_the_one_that_is_meant(toward: float, found: float) -> None:
    assert askew(Mirrored(box(0, 0, 400, 520)).best_toward(toward, 0.05), found) <= 1.0


def test_a_much_worse_line_is_not_taken_however_near() -> None:
    """The kite across its length: the one peak within five hundredths is along it."""
    assert askew(Mirrored(KITE).best_toward(0.0, 0.05), 90.0) <= 1.0


def test_a_picture_is_turned_with_the_direction_up() -> None:
    """A pointer to the right of the middle, looked along 0 degrees, comes to lie on top."""
    pointer = Point(0, 0).buffer(100).union(box(0, -10, 400, 10))
    rows = np.flatnonzero(Mirrored(pointer).turned(0.0).any(axis=1))
    turned = Mirrored(pointer).turned(0.0)
    middle = (len(turned) - 1) / 2
    assert middle - rows[0] > 1.5 * (rows[-1] - middle)

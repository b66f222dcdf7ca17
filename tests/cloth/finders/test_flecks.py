"""Small marks are found on plain cloth, in any colour; a print of dots, a thread and the weave are none."""

from collections.abc import Sequence

import numpy as np
import pytest
from shapely.geometry import Point, Polygon, box

from salvage.cloth.finders.wear.flecks import find_flecks
from salvage.cloth.flat.picture import Flat

SIZE = 320
SOUND = np.ones((SIZE, SIZE), bool)
AT = [(80, 90), (200, 150), (240, 250)]


def cloth(shapes: Sequence[Polygon], colour: tuple[int, int, int], spread: float = 6) -> Flat:
    rgb = np.random.default_rng(2).normal((70, 90, 120), spread, (SIZE, SIZE, 3))
    flat = Flat(np.zeros((SIZE, SIZE, 3), np.uint8), SOUND, 1.0, 0.0, SIZE - 1.0)
    for each in shapes:
        rgb[flat.raster(each)] = colour
    return Flat(rgb.clip(0, 255).astype(np.uint8), SOUND, 1.0, 0.0, SIZE - 1.0)


@pytest.mark.parametrize("colour", [(235, 235, 225), (170, 40, 40), (15, 15, 15)])
@pytest.mark.parametrize("radius", [3.0, 8.0])
def test_marks_are_found_where_they_are(colour: tuple[int, int, int], radius: float) -> None:
    marks = [Point(each).buffer(radius) for each in AT]
    found = [shape for shape, _ in find_flecks(cloth(marks, colour), SOUND)]
    assert len(found) == 3
    for mark in marks:
        assert max(each.intersection(mark).area for each in found) > 0.6 * mark.area


def test_where_the_cloth_is_known_to_be_something_else_there_is_none() -> None:
    marks = [Point(each).buffer(5) for each in AT]
    assert find_flecks(cloth(marks, (235, 235, 225)), ~SOUND) == []


@pytest.mark.parametrize(
    "shapes",
    [
        [],
        [box(40, 100, 280, 104)],  # a thread
        [Point(x, y).buffer(5) for x in range(30, 300, 40) for y in range(30, 300, 40)],  # a print of dots
    ],
)
def test_weave_thread_and_print_are_no_marks(shapes: Sequence[Polygon]) -> None:
    assert find_flecks(cloth(shapes, (235, 235, 225)), SOUND) == []


def test_a_tear_that_gapes_is_found_though_it_is_long() -> None:
    gape = Polygon([(120, 160), (140, 155.5), (160, 160), (140, 164.5)])
    (found, _), *more = find_flecks(cloth([gape], (15, 15, 15)), SOUND)
    assert not more
    assert found.intersection(gape).area > 0.7 * gape.area

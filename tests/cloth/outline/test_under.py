"""What may be the sheet under a garment is told: where the network, believed less, or colours alone leave it out."""

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Point, box

from salvage.cloth.outline.problems import problems
from salvage.cloth.outline.under import may_be_floor
from salvage.photo.problem import Code

FULL = (400, 300)
SHAPE = MultiPolygon([box(50, 50, 350, 250)])
STRIP = (slice(50, 250), slice(280, 350))  # of the cloth, that the looks differ on


def looks(
    net: float = 1.0, few: float = 1.0, colours: float = 1.0
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """The three looks: sure of all the cloth but for the strip."""
    maps = []
    for chance in (net, few, colours):
        seen = np.zeros((300, 400), np.float32)
        seen[50:250, 50:350] = 1.0
        seen[STRIP] = chance
        maps.append(seen)
    return maps[0], maps[1], maps[2]


@pytest.mark.parametrize("seen", [looks(few=0.4), looks(net=0.9, colours=0.0)])
def test_where_a_look_leaves_it_out_it_may_be_floor(
    seen: tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]],
) -> None:
    found = may_be_floor(*seen, SHAPE, FULL)
    strip = box(280, 50, 350, 250)
    assert found.intersection(strip).area > 0.9 * strip.area
    assert found.difference(strip.buffer(3)).area == 0
    assert found.difference(SHAPE).area < 1e-6


def test_where_colours_alone_differ_and_the_network_is_sure_it_is_cloth() -> None:
    assert may_be_floor(*looks(net=1.0, colours=0.0), SHAPE, FULL).is_empty


def test_on_a_floor_of_its_colour_less_is_believed() -> None:
    assert may_be_floor(*looks(few=0.6), SHAPE, FULL).is_empty
    assert not may_be_floor(*looks(few=0.6), SHAPE, FULL, faint=True).is_empty


@pytest.mark.parametrize(("colours", "empty"), [(1.0, True), (0.0, False)])
def test_well_within_the_cloth_both_looks_must_see_floor(colours: float, empty: bool) -> None:
    few, by_colours = looks()[1], looks()[2]
    few[100:180, 120:220], by_colours[100:180, 120:220] = 0.3, colours
    assert may_be_floor(looks(net=0.9)[0] * 0.96, few, by_colours, SHAPE, FULL).is_empty == empty


def test_what_a_person_says_is_cloth_is_not_asked_about() -> None:
    assert may_be_floor(*looks(few=0.4), SHAPE, FULL, cloth_at=[(300.0, 100.0)]).is_empty


def test_a_narrow_rim_is_the_edges_own_doubt() -> None:
    seen = looks()
    seen[1][50:250, 347:350] = 0.2
    assert may_be_floor(*seen, SHAPE, FULL).is_empty


def test_it_is_a_warning_that_says_how_much() -> None:
    pixels = np.full((300, 400, 3), 90, np.uint8)
    pixels[50:250, 50:350] = 200
    assert problems(pixels, SHAPE, False, MultiPolygon()) == ()
    (told,) = problems(pixels, SHAPE, False, MultiPolygon([Point(100, 100).buffer(40)]))
    assert told.code is Code.LOW_CONTRAST
    assert "About 8 %" in told.message

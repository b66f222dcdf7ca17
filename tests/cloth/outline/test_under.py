"""What may be the sheet under a garment is told: where the looks at the outline are in doubt, and no outline is seen."""

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, Point, box

from salvage.cloth.outline.problems import problems
from salvage.cloth.outline.under import FloorLooks, may_be_floor
from salvage.photo.problem import Code

FULL = (400, 300)
SHAPE = MultiPolygon([box(50, 50, 350, 250)])
STRIP = (slice(50, 250), slice(280, 350))  # of the cloth, that the looks differ on


def looks(near: float = 1.0, colours: float = 1.0, edge: float = 0.0) -> FloorLooks:
    """Looks that are sure of all the cloth but for the strip."""
    maps = []
    for chance, on_strip in ((1.0, near), (1.0, colours), (0.0, edge)):
        seen = np.zeros((300, 400), np.float32)
        seen[50:250, 50:350] = chance
        seen[STRIP] = on_strip
        maps.append(seen)
    return FloorLooks(*maps)


@pytest.mark.parametrize(
    "seen", [looks(near=0.4, colours=0.0), looks(near=0.9, colours=0.0), looks(near=0.55)]
)
def test_where_the_looks_are_in_doubt_it_may_be_floor(seen: FloorLooks) -> None:
    found = may_be_floor(seen, SHAPE, FULL)
    strip = box(280, 50, 350, 250)
    assert found.intersection(strip).area > 0.7 * strip.area
    assert found.difference(strip.buffer(3)).area == 0
    assert found.difference(SHAPE).area < 1e-6


def test_where_colours_alone_differ_and_all_else_is_sure_it_is_cloth() -> None:
    assert may_be_floor(looks(near=1.0, colours=0.0), SHAPE, FULL).is_empty


def test_where_the_network_sees_the_outline_pass_the_doubt_is_the_edges() -> None:
    assert not may_be_floor(looks(near=0.7), SHAPE, FULL).is_empty
    assert may_be_floor(looks(near=0.7, edge=0.9), SHAPE, FULL).is_empty


def test_well_within_the_cloth_it_is_a_stain_or_a_pocket() -> None:
    seen = looks()
    seen.near[100:180, 120:220] = 0.3
    assert may_be_floor(seen, SHAPE, FULL).is_empty


def test_what_a_person_says_is_cloth_is_not_asked_about() -> None:
    assert may_be_floor(looks(near=0.4), SHAPE, FULL, cloth_at=[(300.0, 100.0)]).is_empty


def test_a_narrow_rim_is_the_edges_own_doubt() -> None:
    seen = looks()
    seen.near[50:250, 347:350] = 0.2
    assert may_be_floor(seen, SHAPE, FULL).is_empty


def test_it_is_a_warning_that_says_how_much() -> None:
    pixels = np.full((300, 400, 3), 90, np.uint8)
    pixels[50:250, 50:350] = 200
    assert problems(pixels, SHAPE, False, MultiPolygon()) == ()
    (told,) = problems(pixels, SHAPE, False, MultiPolygon([Point(100, 100).buffer(40)]))
    assert told.code is Code.LOW_CONTRAST
    assert "About 8 %" in told.message

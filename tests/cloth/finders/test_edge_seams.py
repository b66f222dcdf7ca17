"""Seams on the outline end at its corners; what was cut is ragged; what is drawn close along the outline is its rim."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon, box

from salvage.cloth.finders.found import Seam
from salvage.cloth.finders.lines.seams import _off_the_rim, _raggedness, find_edge_seams
from salvage.cloth.flat.chances import EVERY, Chances
from salvage.cloth.flat.picture import Flat, rasterise

CLOTH = box(50, 50, 350, 450)
SIZE = (500, 400)


def seen(cloth: Polygon, edge: Polygon) -> list[Seam]:
    """What is found where the network sees a seam on the outline within some area."""
    mask = rasterise(cloth, SIZE, 1.0, 0.0, SIZE[0] - 1.0)
    flat = Flat(np.full((*SIZE, 3), 120, np.uint8), mask, 1.0, 0.0, SIZE[0] - 1.0, 0.5)
    nothing = np.zeros((SIZE[0] // EVERY, SIZE[1] // EVERY), np.float32)
    chance = flat.raster(edge, EVERY).astype(np.float32) * np.float32(0.8)
    return find_edge_seams(Chances(nothing, nothing, chance, *[nothing] * 5), flat, cloth)


def test_a_seam_ends_at_the_corner_of_the_outline() -> None:
    side = box(40, 40, 60, 460)  # spills a little over both corners
    (found,) = seen(CLOTH, side)
    assert found.line.length == pytest.approx(400, abs=12)
    assert found.line.within(box(40, 40, 62, 460))


def test_two_sides_are_two_seams() -> None:
    assert len(seen(CLOTH, box(40, 40, 60, 460).union(box(40, 40, 360, 60)))) == 2


def test_a_seam_lies_where_it_is_seen_all_round_the_outline() -> None:
    ragged = [(350 - 8 * (k % 2), 440 - 10 * k) for k in range(39)]  # a longer way than the outline's own
    cloth = Polygon([(50, 50), (350, 50), *ragged[::-1], (350, 450), (50, 450)])
    found = seen(cloth, box(40, 150, 60, 350))
    assert len(found) == 1
    assert found[0].line.distance(Point(50, 250)) < 2
    assert found[0].line.bounds[1] == pytest.approx(150, abs=12)
    assert found[0].line.bounds[3] == pytest.approx(350, abs=12)


def test_an_even_bend_is_not_ragged_and_a_torn_edge_is() -> None:
    bend = Point(0, 0).buffer(120, quad_segs=64).exterior
    torn = LineString([(k, float(np.random.default_rng(0).normal(0, 1, 400)[k])) for k in range(400)])
    assert _raggedness(LineString(bend.coords)) < 0.1
    assert _raggedness(torn) > 0.3


def test_what_runs_close_along_the_outline_is_its_rim() -> None:
    line = LineString([(200, 250), (345, 250), (345, 400)])  # to the side, and up along it
    (kept,) = _off_the_rim([Seam(line, 0.7)], CLOTH)
    assert kept.line.equals(LineString([(200, 250), (kept.line.bounds[2], 250)]))
    assert kept.line.length > 130


def test_a_hem_is_stitched_along_the_outline() -> None:
    hem = Seam(LineString([(60, 57), (340, 57)]), 0.7, hem=True)
    assert _off_the_rim([hem], CLOTH) == [hem]

"""A facing of another cloth is no flaw; what was spilt, or lies in the middle, is."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import substring

from salvage.cloth.finders.found import Seam, Spot
from salvage.cloth.finders.wear.othercloth import part_other_cloth
from salvage.cloth.flat.axis import Axis
from salvage.cloth.flat.picture import Flat
from salvage.cloth.garment import BlockedKind
from salvage.cloth.pieces.names import names_of

SIZE = 400
CLOTH = box(40, 40, 360, 360)
TAN, TEAL, DARKER_TAN = (200, 170, 120), (60, 105, 115), (180, 150, 100)
LOBED = Polygon([(150, 360), (120, 300), (180, 320), (200, 250), (220, 320), (280, 300), (250, 360)])


def parted(
    shape: Polygon, colour: tuple[int, int, int], known: tuple[LineString, ...] = ()
) -> tuple[list[Spot], list[Seam]]:
    rgb = np.random.default_rng(0).normal(TAN, 3, (SIZE, SIZE, 3))
    flat = Flat(np.zeros((SIZE, SIZE, 3), np.uint8), np.ones((SIZE, SIZE), bool), 1.0, 0.0, SIZE - 1.0)
    rgb[flat.raster(shape)] = colour
    flat = Flat(rgb.clip(0, 255).astype(np.uint8), flat.raster(CLOTH), 1.0, 0.0, SIZE - 1.0)
    return part_other_cloth([Spot(BlockedKind.WORN, shape, "odd colour", 0.6)], CLOTH, flat, known)


def test_a_facing_along_the_edge_is_another_cloth_and_a_seam_bounds_it() -> None:
    kept, seams = parted(box(42, 300, 358, 358), TEAL)
    assert kept == []
    assert sum(seam.line.length for seam in seams) == pytest.approx(316, abs=30)
    assert all(abs(y - 300) < 12 for seam in seams for _, y in seam.line.coords)


def test_what_seams_bound_nearly_all_round_is_another_cloth_though_it_lies_in_the_middle() -> None:
    lining = box(120, 120, 260, 240)
    ring = LineString(lining.exterior.coords)
    kept, seams = parted(lining, TEAL, (substring(ring, 0.0, 0.75, normalized=True),))
    assert kept == []
    assert sum(seam.line.length for seam in seams) == pytest.approx(ring.length, rel=0.05)
    kept, seams = parted(lining, TEAL, (substring(ring, 0.0, 0.4, normalized=True),))
    assert (len(kept), seams) == (1, [])  # a spot beside a seam or two


@pytest.mark.parametrize(
    ("shape", "colour"),
    [
        (box(42, 300, 358, 358), DARKER_TAN),  # much the same colour: may be faded or wet
        (Point(200, 200).buffer(50), TEAL),  # in the middle: paint
        (LOBED, TEAL),  # spilt over the edge
        (box(42, 330, 80, 358), TEAL),  # small
    ],
)
def test_what_may_be_a_flaw_stays_one(shape: Polygon, colour: tuple[int, int, int]) -> None:
    kept, seams = parted(shape, colour)
    assert (len(kept), seams) == (1, [])


def test_trousers_that_were_not_parted_are_both_legs_and_an_upright_strip_is_no_waistband() -> None:
    cloth = Polygon([(-250, 0), (-60, 0), (0, 600), (60, 0), (250, 0), (200, 900), (-200, 900)])
    axis = Axis(90.0, (0.0, 450.0), 1.0, True, True)
    fly, band = box(-20, 650, 20, 850), box(-200, 850, 200, 900)
    names = names_of([cloth.difference(band).difference(fly), band, fly], cloth, axis, False)
    assert names[:2] == ["both legs", "waistband"]
    assert names[2] == "fly"

"""Bands between two seams: another colour makes a zip of them, the same cloth doesn't."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString, box

from salvage.cloth.finders.found import Seam
from salvage.cloth.finders.sewn.zips import find_bands
from salvage.cloth.flat.picture import Flat

SIZE = 400


def picture(band: tuple[int, int, int] | None = None) -> Flat:
    """Grey cloth, a mm a pixel; band: the colour of a stretch 20 mm wide about x = 200."""
    rgb = np.random.default_rng(2).normal((120, 110, 100), 3, (SIZE, SIZE, 3))
    if band is not None:
        rgb[:, 190:211] = band
    return Flat(rgb.clip(0, 255).astype(np.uint8), np.ones((SIZE, SIZE), bool), 1.0, 0.0, SIZE - 1.0)


def upright(x: float, low: float = 50, high: float = 350, lean: float = 0.0) -> Seam:
    return Seam(LineString([(x, low), (x + lean, high)]), 0.9)


BOTH = [upright(190), upright(210)]


def test_two_seams_with_another_colour_between_are_a_zip_and_no_seams() -> None:
    bands, left = find_bands([*BOTH, upright(320)], picture((30, 40, 90)))
    assert len(bands) == 1
    assert bands[0].area.symmetric_difference(box(188, 50, 212, 350)).area < 0.1 * 24 * 300
    assert [each.line.coords[0][0] for each in left] == [320]


@pytest.mark.parametrize(
    ("seams", "flat"),
    [
        (BOTH, picture()),  # the same cloth between them: two rows of stitching
        ([upright(190), upright(194)], picture((30, 40, 90))),  # too near each other
        ([upright(190, high=140), upright(210, high=140)], picture((30, 40, 90))),  # short
        ([upright(170), upright(215, lean=60)], picture((30, 40, 90))),  # they run apart
    ],
)
def test_what_is_no_zip(seams: list[Seam], flat: Flat) -> None:
    bands, left = find_bands(seams, flat)
    assert bands == []
    assert left == seams

"""Standard sheets and cards, photographed, come out in their standards' proportions and where they lie."""

from __future__ import annotations

import numpy as np
import pytest
from drawn_photo import Camera, Scene, boards, plain_floor, rectangle

from salvage.scale.find import find_squares
from salvage.scale.square import SquareKind
from salvage.trade.paper import PAPER

# ISO 216:2007, trimmed sizes in mm; ANSI/ASME Y14.1 size A (8 1/2 x 11 in of 25.4 mm); ISO/IEC 7810:2019, ID-1.
# Typed from the standards and not taken from salvage/.
STANDARD_MM = {
    "A3": (297, 420),
    "A4": (210, 297),
    "A5": (148, 210),
    "Letter": (215.9, 279.4),
    "ID-1": (53.98, 85.60),
}
CORNER_RADIUS_ID1 = 3.18  # ISO/IEC 7810:2019: 2.88 to 3.48 mm

# Straight down, no lens: then lengths in the picture are lengths on the floor, times one factor.
DOWN = Camera((1200, 900), 26.0, 900.0)
PX_PER_MM = DOWN.focal_px / DOWN.height


@pytest.mark.parametrize("name", STANDARD_MM)
def test_table_of_sizes_is_the_standards(name: str) -> None:
    assert PAPER[name] == pytest.approx(STANDARD_MM[name])


@pytest.mark.parametrize("name", ["A4", "A5", "Letter", "ID-1"])
def test_sheet_or_card_seen_from_above_measures_as_its_standard(name: str) -> None:
    width, length = STANDARD_MM[name]
    drawn = Scene.on(DOWN, boards((0.3, 0.17, 0.09)))
    radius = CORNER_RADIUS_ID1 if name == "ID-1" else 0.0
    drawn.lay(rectangle(width, length, (-120, 30), 25), (0.65, 0.65, 0.62), radius=radius)
    [found] = find_squares(drawn.photograph(), side=0.0, paper=name).squares
    assert found.kind is SquareKind.PAPER
    assert (found.width, found.length) == pytest.approx((width, length))
    sides = np.linalg.norm(np.roll(found.corners_px, -1, axis=0) - found.corners_px, axis=1) / PX_PER_MM
    assert sides == pytest.approx([width, length, width, length], abs=0.5)


@pytest.mark.parametrize("name", ["A4", "ID-1"])
def test_corners_of_a_tilted_sheet(name: str) -> None:
    camera = Camera((1200, 900), 26.0, 800.0, tilt=20.0, toward=30.0)
    width, length = STANDARD_MM[name]
    corners = rectangle(width, length, (150, -60), 50)
    drawn = Scene.on(camera, plain_floor((0.2, 0.2, 0.22)))
    drawn.lay(corners, (0.6, 0.6, 0.6), radius=CORNER_RADIUS_ID1 if name == "ID-1" else 0.0)
    [found] = find_squares(drawn.photograph(), side=0.0, paper=name).squares
    gaps = np.linalg.norm(found.corners_px[:, None] - camera.to_px(corners)[None], axis=-1)
    assert gaps.min(axis=1).max() < 0.4
    assert np.linalg.norm(np.diff(found.corners_px[:2], axis=0)) < np.linalg.norm(
        np.diff(found.corners_px[1:3], axis=0)
    )


def test_square_card_is_no_sheet_of_paper() -> None:
    drawn = Scene.on(DOWN, plain_floor((0.2, 0.2, 0.22)))
    drawn.lay(rectangle(150, 150, (50, 60), 30), (0.6, 0.6, 0.6))
    assert find_squares(drawn.photograph(), side=0.0, paper="A4").squares == ()

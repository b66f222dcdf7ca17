"""Two colours meet at a seam; shade, prints and stains make none. On flat pictures drawn here."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import box

from salvage.cloth.finders.lines.colour_blocks import colour_seams
from salvage.cloth.flat.picture import Flat

CLOTH = box(0.0, -399.0, 299.0, 0.0)  # 300 x 400 mm, its top left corner at (0, 0)


def flat(rgb: np.ndarray) -> Flat:
    mask = np.ones(rgb.shape[:2], bool)
    return Flat(np.clip(rgb, 0, 255).astype(np.uint8), mask, 1.0, 0.0, 0.0)


def plain(*colour: int) -> np.ndarray:
    dice = np.random.default_rng(0)
    return np.array(colour, float) + dice.normal(0, 4, (400, 300, 1))


def test_the_edge_between_two_colours_is_a_seam_from_edge_to_edge() -> None:
    rgb = plain(40, 60, 130)
    rgb[:150] = plain(220, 220, 225)[:150]
    seams = colour_seams(flat(rgb), CLOTH)
    line = shapely.union_all([each.line for each in seams])
    assert line.length > 260
    assert np.abs(np.asarray(shapely.get_coordinates(line))[:, 1] + 150).max() < 6


def test_slow_shade_is_no_seam() -> None:
    rgb = plain(90, 120, 160) * np.linspace(0.45, 1.3, 300)[None, :, None]
    assert colour_seams(flat(rgb), CLOTH) == []


def test_a_print_of_many_colours_is_no_seam() -> None:
    dice = np.random.default_rng(1)
    spots = dice.choice(np.array([[30, 30, 90], [220, 60, 60], [240, 240, 230]]), (20, 15))
    rgb = np.repeat(np.repeat(spots, 20, 0), 20, 1).astype(float)
    assert colour_seams(flat(rgb), CLOTH) == []


def test_an_island_of_another_colour_is_no_block_of_cloth() -> None:
    rgb = plain(200, 190, 170)
    rgb[120:220, 90:190] = (90, 50, 40)
    assert colour_seams(flat(rgb), CLOTH) == []

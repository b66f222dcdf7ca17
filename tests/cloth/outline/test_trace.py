"""Chances of cloth traced: the line lies where it was drawn, in the pixels of the picture, to a fraction of one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from salvage.cloth.outline.trace import assemble, level_rings

H, W = 60, 80


@settings(max_examples=30)
@given(
    st.sampled_from([1, 3, 4]),
    st.integers(8, 30),
    st.integers(5, 20),
    st.integers(12, 40),
    st.integers(10, 30),
)
def test_a_rectangle_is_traced_where_its_pixels_end(
    by: int, left: int, top: int, wide: int, high: int
) -> None:
    """Pixel (0, 0)'s middle is (0, 0), so cells left..left + wide - 1 end half a pixel beside their middles."""
    chance = np.zeros((H, W), np.float32)
    chance[top : top + high, left : left + wide] = 1.0
    [ring] = level_rings(chance, (W * by, H * by))
    traced = Polygon(ring)
    wanted = box(left * by - 0.5, top * by - 0.5, (left + wide) * by - 0.5, (top + high) * by - 0.5)
    assert traced.hausdorff_distance(wanted) < 0.75 * by  # corners are cut by half a cell
    assert traced.bounds == pytest.approx(wanted.bounds, abs=1e-3)


def test_cloth_that_leaves_the_picture_ends_at_its_edge() -> None:
    chance = np.zeros((H, W), np.float32)
    chance[:, 40:] = 1.0
    [ring] = level_rings(chance, (2 * W, 2 * H))
    assert Polygon(ring).bounds == pytest.approx((79.5, -0.5, 2 * W - 0.5, 2 * H - 0.5))


def test_a_speck_is_no_ring() -> None:
    chance = np.zeros((H, W), np.float32)
    chance[10:12, 10:12] = 1.0
    assert level_rings(chance, (W, H)) == []


def ring(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return np.array(box(x0, y0, x1, y1).exterior.coords)


def test_holes_are_cut_out_and_a_large_second_piece_stays() -> None:
    cloth = assemble(
        [ring(40, 40, 80, 80), ring(0, 0, 100, 100), ring(200, 0, 260, 60), ring(300, 0, 305, 5)]
    )
    assert cloth.area == pytest.approx(100 * 100 - 40 * 40 + 60 * 60, rel=0.01)
    assert len(cloth.geoms) == 2

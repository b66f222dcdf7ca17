"""Small rectangles sewn on are found on plain cloth; creases, single lines and rows of stitches are none."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import box

from salvage.cloth.finders.sewn.tabs import find_tabs
from salvage.cloth.flat.picture import Flat

SIZE = 320  # mm and flat pixels


def cloth_with(*lines: list[tuple[float, float]], dark: int = 80, rough: float = 3.0) -> Flat:
    """Plain woven cloth, `rough` grey levels uneven, with lines of points in mm, y up, drawn 2 mm wide."""
    picture = (
        np.random.default_rng(2)
        .normal(120, rough, (SIZE, SIZE, 1))
        .clip(0, 255)
        .astype(np.uint8)
        .repeat(3, 2)
    )
    for line in lines:
        points = np.array(line, float) * (1, -1) + (0, SIZE - 1)
        cv2.polylines(
            picture, [np.round(points * 16).astype(np.int32)], False, (dark,) * 3, 2, cv2.LINE_AA, 4
        )
    return Flat(picture, np.ones((SIZE, SIZE), bool), 1.0, 0.0, SIZE - 1.0)


@settings(deadline=None, max_examples=20)
@given(
    turn=st.floats(0, 180),
    long=st.floats(40, 70),
    wide=st.floats(18, 28),
    dark=st.sampled_from([70, 90, 165]),
)
def test_a_tab_is_found_whichever_way_it_lies(turn: float, long: float, wide: float, dark: int) -> None:
    tab = affinity.rotate(box(160 - long / 2, 160 - wide / 2, 160 + long / 2, 160 + wide / 2), turn)
    found = find_tabs(cloth_with(tab.exterior.coords, dark=dark))
    assert len(found) == 1
    assert found[0].intersection(tab).area > 0.6 * found[0].union(tab).area


@pytest.mark.parametrize(
    "lines",
    [
        [],
        [[(60, 100), (260, 100)], [(60, 120), (260, 120)]],  # two rows of stitches
        [[(130, 100), (190, 100)], [(130, 120), (190, 120)]],  # without ends
        [[(130, 100), (190, 100), (190, 120), (130, 120)]],  # with one end only
    ],
)
def test_what_has_no_four_sides_is_no_tab(lines: list[list[tuple[float, float]]]) -> None:
    assert find_tabs(cloth_with(*lines)) == []


@pytest.mark.parametrize(("rough", "count"), [(0.5, 1), (6.0, 1), (10.0, 0)])
def test_what_hardly_shows_on_an_uneven_cloth_is_no_tab(rough: float, count: int) -> None:
    assert (
        len(find_tabs(cloth_with([*box(130, 150, 190, 172).exterior.coords], dark=108, rough=rough))) == count
    )


def test_a_cloth_without_any_inside_has_none() -> None:
    flat = cloth_with()
    assert find_tabs(Flat(flat.rgb, np.zeros((SIZE, SIZE), bool), 1.0, 0.0, 0.0)) == []

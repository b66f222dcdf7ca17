"""What the finders look at: laid flat to the millimetre, looked at upright, and sharp only where stitches can be seen."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import box

from salvage.cloth.finders import sight
from salvage.cloth.flat.axis import find_axis
from salvage.cloth.flat.picture import flatten

CLOTH = box(40, 30, 240, 330)


class Straight:
    """A camera straight above: so many pixels a millimetre, y down."""

    def __init__(self, px_per_mm: float) -> None:
        self.by = px_per_mm

    def to_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        points = np.asarray(points_mm, float)
        return np.column_stack([points[:, 0] * self.by, (400.0 - points[:, 1]) * self.by])


@pytest.mark.parametrize(("px_per_mm", "sharp"), [(0.5, False), (0.8, False), (0.85, True), (2.0, True)])
def test_stitches_are_seen_where_a_pixel_is_at_most_1_2_mm(px_per_mm: float, sharp: bool) -> None:
    """A stitch is 2 to 3 mm long, and two pixels of it must be told apart (common practice; sampling theorem)."""
    assert sight._is_sharp(Straight(px_per_mm), CLOTH) is sharp


def test_the_whole_garment_is_looked_at_again_where_it_lies_across_its_axis(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    picture = np.full((400, 400, 3), 120, np.uint8)
    flat = flatten(picture, Straight(1.0), CLOTH, sight.STEP)
    looked: list[Any] = []
    axis = find_axis(CLOTH)
    assert axis.is_symmetric

    def look(up: Any, own: Any) -> SimpleNamespace:
        looked.append(own.up)
        return SimpleNamespace(up=up)

    monkeypatch.setattr(sight, "find_axis", lambda _: axis)
    across = axis.up + 90.0
    for up, times in ((across, 2), (axis.up, 1)):
        looked.clear()
        monkeypatch.setattr(sight, "look_whole", lambda _, own, up=up: look(up, own))
        _, found = sight._whole_of(flat, CLOTH)
        assert found is axis
        assert len(looked) == times
        assert np.allclose(looked[-1], up)


def test_a_sight_is_laid_flat_a_millimetre_a_pixel(monkeypatch: pytest.MonkeyPatch) -> None:
    picture = np.full((800, 800, 3), 120, np.uint8)
    picture[300:340, 200:260] = (200, 40, 40)  # 100 to 130 mm across, 230 to 250 mm up
    axis = find_axis(CLOTH)
    monkeypatch.setattr(sight, "_whole_of", lambda flat, cloth: (SimpleNamespace(up=axis.up), axis))
    monkeypatch.setattr(sight, "axis_told", lambda cloth, up, axis: axis)
    monkeypatch.setattr(sight, "chances_of", lambda flat: "chances")
    found = sight.sight_of(picture, Straight(2.0), CLOTH)
    red = found.flat.rgb[..., 0].astype(int) - found.flat.rgb[..., 1] > 80
    rows, columns = np.nonzero(red)
    assert found.flat.left + np.array([columns.min(), columns.max()]) == pytest.approx([100, 130], abs=1.5)
    assert found.flat.top - np.array([rows.max(), rows.min()]) == pytest.approx([230, 250], abs=1.5)
    assert found.flat.mask.sum() == pytest.approx(CLOTH.area, rel=0.02)
    assert (found.chances, found.sharp, found.cloth) == ("chances", True, CLOTH)

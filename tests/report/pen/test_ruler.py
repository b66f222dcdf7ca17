"""Rulers: ticks and figures where the plane has them, in the person's unit, and never so near that they can't be read."""

from __future__ import annotations

import itertools

import pytest
from collected import Collected
from hypothesis import given
from hypothesis import strategies as st

from salvage.report.pen.ruler import ROOM, draw_rulers, ruler_steps
from salvage.units import Unit

MM = {Unit.MM: 1.0, Unit.CM: 10.0, Unit.INCH: 25.4}
START, BOUNDS = (100.0, 40.0), (60.0, 20.0, 900.0, 700.0)


@pytest.mark.parametrize("unit", list(Unit))
@pytest.mark.parametrize("scale", [1.0, 4.0, 10.0])
def test_each_figure_stands_at_the_place_it_says(unit: Unit, scale: float) -> None:
    pen = Collected()
    draw_rulers(pen.page(72 / 25.4 / scale), BOUNDS, START, scale, unit)
    across = [each for each in pen.words if each.up == "top"]
    upward = [each for each in pen.words if each.rotation == 90]
    assert len(across) + len(upward) == len(pen.words)
    assert across[0].text == f"0 {unit}"
    for word in across:
        assert float(word.text.split()[0]) * MM[unit] == pytest.approx(word.x - START[0])
        assert BOUNDS[1] - ROOM * scale < word.y < BOUNDS[1]
    for word in upward:
        assert float(word.text) * MM[unit] == pytest.approx(word.y - START[1])
        assert BOUNDS[0] - ROOM * scale < word.x < BOUNDS[0]
    for words, at in ((across, "x"), (upward, "y")):
        places = [getattr(each, at) for each in words]
        assert all(b - a >= 12.0 * scale - 1e-6 for a, b in itertools.pairwise(places))


@pytest.mark.parametrize("unit", list(Unit))
def test_ticks_stand_off_the_drawing_and_run_to_its_end(unit: Unit) -> None:
    pen = Collected()
    draw_rulers(pen.page(), BOUNDS, START, 4.0, unit)
    step, _, _ = ruler_steps(4.0, unit)
    bases = [each for each in pen.lines if each.length > 100]
    assert sorted(each.length for each in bases) == [BOUNDS[3] - START[1], BOUNDS[2] - START[0]]
    ticks = [each for each in pen.lines if each.length <= 100]
    assert len(ticks) == sum(int(each.length / step) + 1 for each in bases)
    for line in pen.lines:
        left, low, right, high = line.bounds
        assert high < BOUNDS[1] or right < BOUNDS[0]  # below it, or at its left
        assert left >= BOUNDS[0] - ROOM * 4.0
        assert low >= BOUNDS[1] - ROOM * 4.0


@given(st.floats(0.5, 120.0), st.sampled_from(list(Unit)))
def test_steps_are_whole_ones_that_people_count_by(scale: float, unit: Unit) -> None:
    step, every, per = ruler_steps(scale, unit)
    assert per == MM[unit]
    assert (step / (25.4 if unit is Unit.INCH else 10.0)) % 1 == pytest.approx(0.0, abs=1e-9)
    if scale <= 40:
        assert step * every / scale >= 12.0

"""Faults of a strip's lengths, each in its words."""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon, box

from salvage.fit.answer import Placement
from salvage.fit.check.strips import strip_faults
from salvage.project.project import Join, Strip

TIE = Strip("tie", 40.0, 500.0, join=Join.BIAS, shortest=100.0, seam_allowance=10.0)


def lengths(*sizes: float, first: int | None = 1) -> list[Placement]:
    shapes = [box(0, 0, 40, size) for size in sizes]
    return [
        Placement("tie", 1, None if first is None else first + place, 0, "back", 1, 0.0, False, shape)
        for place, shape in enumerate(shapes)
    ]


def test_lengths_on_the_bias_cost_the_width_at_each_join() -> None:
    assert strip_faults(TIE, lengths(200, 200, 180)) == []
    assert strip_faults(TIE, lengths(500, first=None)) == []


@pytest.mark.parametrize(
    ("placed", "fault"),
    [
        (lengths(200, 200, 160), "comes to 480.0 mm when joined, asked are 500.0 mm"),
        (lengths(450, 90), "a length of 90.0 mm is shorter than 100 mm"),
        (lengths(300, 240, first=2), "not numbered from 1"),
        ([], "copies [] are there, 1 to 1 are asked for"),
    ],
)
def test_each_fault_has_its_words(placed: list[Placement], fault: str) -> None:
    assert fault in " / ".join(strip_faults(TIE, placed))


def test_a_length_with_a_corner_cut_off_is_no_rectangle() -> None:
    """Its box has the right width and length."""
    cut = Polygon([(0, 0), (40, 0), (40, 490), (30, 500), (0, 500)])
    (fault,) = strip_faults(TIE, [Placement("tie", 1, None, 0, "back", 1, 0.0, False, cut)])
    assert "not a rectangle" in fault

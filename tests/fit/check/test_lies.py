"""Faults of where shapes lie, asked one by one."""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Placement
from salvage.fit.check.lies import cloth_faults, gap_faults, lie_faults
from salvage.project.project import Grain, Panel, Project, Strip

CORNERS = ((0.0, 0.0), (50.0, 0.0), (50.0, 80.0), (0.0, 80.0))
BACK = Piece("left front 2", box(0, 0, 600, 700), grain=90.0, fabric="shell")
COAT = Garment("coat", (BACK,))


def lies(
    shape: Polygon, *, copy: int = 1, layer: int = 1, angle: float = 0.0, name: str = "body"
) -> Placement:
    return Placement(name, copy, None, 0, BACK.name, layer, angle, False, shape)


def test_an_outline_that_crosses_itself_is_a_fault_of_its_own() -> None:
    bow = lies(Polygon([(10, 10), (60, 60), (60, 10), (10, 60)]))
    (fault,) = cloth_faults([COAT], Project("p", (Panel("body", CORNERS),)), [bow], 0.0)
    assert "crosses itself" in fault


@pytest.mark.parametrize(("across", "up"), [(1, 0), (0, 1), (-1, 0), (0, -1)])
def test_the_gap_counts_on_every_side(across: int, up: int) -> None:
    """Shapes exactly as far apart as asked are right; a hundredth of a mm nearer is told, whoever comes first."""
    one = lies(box(200, 200, 250, 280))

    def other(gap: float) -> Placement:
        x, y = 200 + across * (50 + gap), 200 + up * (80 + gap)
        return lies(box(x, y, x + 50, y + 80), copy=2)

    assert gap_faults([one, other(4.0)], 4.0) == []
    (near,) = gap_faults([one, other(3.99)], 4.0)
    assert "3.990 mm apart, asked are 4 mm" in near
    (over,) = gap_faults([other(-0.01), one], 4.0)
    assert "overlap" in over


def test_a_piece_is_named_with_or_without_its_number() -> None:
    there = [lies(box(10, 10, 60, 90))]
    for wanted, right in (
        ("left front", True),
        (" Left Front 2", True),
        ("left front 1", False),
        ("left", False),
    ):
        assert (lie_faults([COAT], Panel("body", CORNERS, pieces=(wanted,)), there) == []) is right, wanted


def test_a_strip_has_no_degrees_off_its_grain() -> None:
    strip = Strip("tie", 50.0, 80.0, grain=Grain.ALONG)
    assert lie_faults([COAT], strip, [lies(box(10, 10, 60, 90), name="tie")]) == []
    (turned,) = lie_faults([COAT], strip, [lies(box(10, 10, 60, 90), name="tie", angle=0.01)])
    assert "turned 0.01 degrees" in turned

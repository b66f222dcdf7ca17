"""Whether one thing alone has a place, on rectangles, where it is a matter of two lengths."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.help.places import has_place
from salvage.fit.layout.budget import Budget
from salvage.fit.material.lay import lay_of
from salvage.project.project import Grain, Join, Panel, Project, Strip

PIECES = {
    "back": (200.0, 300.0, "shell"),
    "sleeve": (120.0, 400.0, "shell"),
    "yoke": (500.0, 500.0, "lining"),
}
COAT = Garment(
    "coat",
    tuple(
        Piece(name, box(0, 0, w, h), fabric, usable=MultiPolygon([box(0, 0, w, h)]))
        for name, (w, h, fabric) in PIECES.items()
    ),
)


def placed(item: Panel | Strip, gap: float = 3.0) -> bool:
    panels, strips = ((item,), ()) if isinstance(item, Panel) else ((), (item,))
    project = Project("p", panels, strips, cutting_gap=gap)
    return has_place(lay_of([COAT]), project, item, Budget.start(2.0))


def panel(w: float, h: float, **more: object) -> Panel:
    return Panel("body", ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)), **more)  # type: ignore[arg-type]


@settings(max_examples=60)
@given(st.integers(60, 420), st.integers(60, 420), st.sampled_from([Grain.ALONG, Grain.ACROSS, Grain.EITHER]))
def test_a_panel_has_a_place_on_a_piece_as_wide_and_as_long(w: int, h: int, grain: Grain) -> None:
    ways = {Grain.ALONG: [(w, h)], Grain.ACROSS: [(h, w)], Grain.EITHER: [(w, h), (h, w)]}[grain]
    wanted = any(a <= width and b <= length for a, b in ways for width, length in ((200, 300), (120, 400)))
    assert placed(panel(w, h, grain=grain)) == wanted


def test_only_on_pieces_that_it_may_come_from_and_of_its_fabric() -> None:
    assert placed(panel(190, 290, pieces=("back",)))
    assert not placed(panel(190, 290, pieces=("sleeve",)))
    assert placed(panel(450, 450, fabric="lining"))
    assert not placed(panel(450, 450))


def test_parts_may_lie_where_the_whole_does_not() -> None:
    """110 x 560 with one join and an allowance of 10 on each part: two of 290 go on; without the join it doesn't."""
    assert placed(panel(110, 560, joins=1, seam_allowance=10.0))
    assert not placed(panel(110, 560, seam_allowance=10.0))
    assert not placed(panel(110, 1500, joins=1, seam_allowance=10.0))


@pytest.mark.parametrize(
    ("long", "join", "shortest", "found"),
    [
        (400.0, Join.NONE, 100.0, True),
        (401.0, Join.NONE, 100.0, False),
        (2000.0, Join.BIAS, 100.0, True),
        (2000.0, Join.BIAS, 401.0, False),
        (2000.0, Join.STRAIGHT, 400.0, True),
    ],
)
def test_a_strip_whole_or_one_length_of_it(long: float, join: Join, shortest: float, found: bool) -> None:
    """Along the grain the longest piece has 400 mm, on a width of 120."""
    assert placed(Strip("tie", 120.0, long, join=join, shortest=shortest)) == found
    assert not placed(Strip("tie", 210.0, long, join=join, shortest=shortest))

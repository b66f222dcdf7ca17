"""What a panel keeps, in its own frame: the place told for a thing, and the side that lies on a finished edge."""

from __future__ import annotations

import pytest
from shapely.geometry import LineString, MultiPoint, Point, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece
from salvage.project.project import Around, Edge, Panel
from salvage.report.template.drawing import Layer
from salvage.report.template.kept import edge_run, kept_marks, kept_on, kept_words, thing_in
from salvage.units import Unit

RING = ((0.0, 0.0), (200.0, 0.0), (200.0, 240.0), (0.0, 240.0))
POCKET = Blocked(BlockedKind.POCKET, box(200, 150, 310, 270), 3.0, what="patch pocket")
COAT = Garment("coat", (Piece("front", box(0, 0, 500, 600), blocked=(POCKET,)),))
SIDES = {
    "bottom": [(0, 0), (200, 0)], "top": [(0, 240), (200, 240)], "left": [(0, 0), (0, 240)], "right": [(200, 0), (200, 240)],
}  # fmt: skip


def round_pocket(at: tuple[float, float] | None, tolerance: float = 12.0) -> Panel:
    return Panel("front", RING, around=Around("pocket", at, tolerance))


def test_the_middle_of_a_thing_is_a_cross_in_a_square_of_its_tolerance() -> None:
    lines, (text,) = kept_marks(round_pocket((90.0, 100.0)), Unit.MM)
    drawn = MultiPoint([point for line in lines for point in line.points])
    assert drawn.bounds == (78.0, 88.0, 102.0, 112.0)
    crosses = [LineString(line.points) for line in lines if len(line.points) == 2]
    assert crosses[0].intersection(crosses[1]).equals(Point(90, 100))
    assert {line.layer for line in lines} == {Layer.KEPT}
    assert text.at[1] < 88.0
    assert "12 mm" in text.text
    exact, _ = kept_marks(round_pocket((90.0, 100.0), 0.0), Unit.MM)
    assert len(exact) == 2  # the cross alone
    assert kept_marks(round_pocket(None), Unit.MM) == ([], [])


@pytest.mark.parametrize("side", SIDES)
def test_a_side_on_a_finished_edge_is_drawn_as_such_with_words_outside_its_panel(side: str) -> None:
    panel = Panel("skirt", RING, edge=Edge("hem", side))
    assert edge_run(panel).equals(LineString(SIDES[side]))
    (line,), texts = kept_marks(panel, Unit.MM)
    assert line.layer is Layer.EDGE
    assert LineString(line.points).equals(LineString(SIDES[side]))
    for text in texts:
        inside = Polygon(RING).contains(Point(text.at))
        assert LineString(SIDES[side]).distance(Point(text.at)) < 5
        assert text.rotation == (90.0 if side in ("left", "right") else 0.0)
        assert inside is Polygon(RING).contains(Point(texts[0].at))


def test_what_keeps_nothing_says_nothing() -> None:
    bare = Panel("a", RING)
    assert kept_marks(bare, Unit.MM) == ([], [])
    assert kept_words(bare) == ()
    assert edge_run(bare).is_empty
    assert thing_in(bare, [COAT]) is None
    assert kept_on(bare, box(0, 0, 500, 600), COAT.pieces[0]) == ()


def test_words_say_what_and_where() -> None:
    assert "the pocket" in kept_words(round_pocket(None))[0]
    assert "anywhere" in kept_words(round_pocket(None))[0]
    assert "dotted square" in kept_words(round_pocket((9.0, 9.0)))[0]
    assert "number 7" in kept_words(Panel("a", RING, around=Around("7")))[0]
    assert "lay the top on the hem" in kept_words(Panel("a", RING, edge=Edge("hem", "top")))[0]


def test_the_thing_lies_in_the_panels_frame_with_its_middle_where_it_is_wanted() -> None:
    thing = thing_in(round_pocket((90.0, 100.0)), [COAT])
    assert thing is not None
    left, low, right, high = thing.bounds
    assert (right - left, high - low) == pytest.approx((110, 120), abs=0.5)
    assert ((left + right) / 2, (low + high) / 2) == pytest.approx((90, 100), abs=12.0)
    assert Polygon(RING).covers(thing)
    assert thing_in(round_pocket((90.0, 100.0)), [Garment("bare", (Piece("a", box(0, 0, 90, 90)),))]) is None


@pytest.mark.parametrize(
    ("shape", "there"), [(box(190, 140, 320, 280), True), (box(190, 140, 300, 280), False)]
)
def test_only_what_lies_whole_in_a_laid_panel_is_kept_by_it(shape: Polygon, there: bool) -> None:
    lines = kept_on(round_pocket(None), shape, COAT.pieces[0])
    assert bool(lines) is there
    if there:
        assert Polygon(lines[0].points).symmetric_difference(POCKET.shape).area < 1

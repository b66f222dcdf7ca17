"""What is left over as an aim: how much spare it may cost, and how much it gains."""

from __future__ import annotations

from dataclasses import replace

import hidden_layouts as hidden
import pytest
from shapely.geometry import MultiPolygon, Polygon, box

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.fit.answer import Verdict
from salvage.fit.check.check import check
from salvage.fit.fit import fit_project
from salvage.fit.layout.arrange import arrange
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout, moved_to
from salvage.fit.layout.remains import Kept, Rest, keeping_most, rest_of
from salvage.fit.layout.spare import clearance
from salvage.fit.material.lay import Lay, lay_of
from salvage.fit.material.rectangles import ClearRectangle
from salvage.fit.say.layouts import of_trade
from salvage.project.project import Panel, Project
from salvage.units import Unit

STEPS = 400


def sheet(width: float, length: float, edge: float) -> Garment:
    cloth = box(0, 0, width, length)
    piece = Piece("back", cloth, usable=MultiPolygon([cloth]), plus_minus=PlusMinus(0.0, edge))
    return Garment("coat", (piece,))


def panel(name: str, width: float, length: float, **more: object) -> Panel:
    return Panel(name, ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)  # type: ignore[arg-type]


TWO = Project("two", (panel("one", 200, 150, cut=2),), cutting_gap=3)
LAY = lay_of([sheet(500, 400, 1.0)])


def laid(project: Project = TWO, lay: Lay = LAY, by: float = 0.0) -> Layout:
    found = arrange(lay.shrunk(by), project, Budget.start(5, steps=STEPS))
    assert found.complete
    return found


def rest(*sizes: tuple[float, float]) -> Rest:
    return Rest(laid(), tuple((ClearRectangle(w, h, box(0, 0, w, h)), 0) for w, h in sizes))


def test_the_largest_rectangle_counts_first_and_the_next_one_where_two_are_alike() -> None:
    assert rest((100, 200)).leaves_more_than(rest((100, 150), (100, 140)))
    assert rest((100, 200), (50, 80)).leaves_more_than(rest((101, 200), (50, 60)))
    assert not rest((100, 200)).leaves_more_than(rest((100, 201)))


def test_rectangles_left_lie_beside_all_panels_and_beside_each_other() -> None:
    found = laid()
    shapes = [each.shape for each in found.placements()]
    left = rest_of(found, LAY).rectangles
    assert len(left) >= 2
    for stretch, _ in left:
        assert all(stretch.polygon.intersection(shape).area < 1e-3 for shape in shapes)
        shapes.append(stretch.polygon)


@pytest.mark.parametrize("plus_minus", [1.0, 4.0, 12.0])
def test_what_is_shown_keeps_twice_the_plus_minus_and_a_third_of_the_best_spare(plus_minus: float) -> None:
    roomy = laid(by=40.0)
    most = clearance(roomy, LAY)
    budget = Budget.start(5, steps=STEPS)
    kept = keeping_most(laid(), (most, roomy), LAY, plus_minus, budget, lambda *_: True)
    assert kept.spare >= max(2 * plus_minus, most / 3) - 1e-6
    assert kept.spare == pytest.approx(clearance(kept.shown.layout, LAY))
    assert kept.shown.leaves_more_than(kept.roomiest)
    assert kept.shown.area(0) > 1.05 * kept.roomiest.area(0)


def test_where_no_layout_keeps_twice_the_plus_minus_the_roomiest_is_shown() -> None:
    roomy = laid(by=40.0)
    most = clearance(roomy, LAY)
    kept = keeping_most(
        laid(), (most, roomy), LAY, 0.51 * most, Budget.start(5, steps=STEPS), lambda *_: True
    )
    assert kept.shown.layout is roomy
    assert kept.spare == most


def test_a_layout_that_the_checker_refuses_is_never_shown() -> None:
    roomy = laid(by=40.0)
    most = clearance(roomy, LAY)
    kept = keeping_most(laid(), (most, roomy), LAY, 1.0, Budget.start(5, steps=STEPS), lambda *_: False)
    assert kept.shown.layout is roomy


def test_both_figures_are_told_and_nothing_where_they_are_the_same() -> None:
    shown, roomiest = rest((180, 250), (90, 90)), rest((135, 252), (90, 90))
    assert of_trade(Kept(shown, 5.1, roomiest, 12.0), Unit.MM) == (
        "As it is laid here, 5.1 mm are to spare at every edge, and a rectangle of 180 × 250 mm is left; "
        "with 12.0 mm to spare 135 × 252 mm would be left."
    )
    assert of_trade(Kept(roomiest, 12.0, roomiest, 12.0), Unit.MM) is None
    second = of_trade(Kept(rest((180, 250), (90, 190)), 5.1, shown, 12.0), Unit.MM)
    assert second is not None
    assert "90 × 190 mm is left beside the largest" in second


def test_a_layout_seen_on_another_lay_lies_where_it_lay() -> None:
    found = laid(by=20.0)
    moved = moved_to(found, LAY.shrunk(10.0))
    assert moved.complete
    assert moved.placements() == found.placements()
    assert not moved_to(found, LAY.shrunk(90.0)).complete


def test_the_answer_leaves_more_than_the_roomiest_layout_and_is_the_same_again() -> None:
    """Two panels of 200 x 150, one above the other and a third of the spare off the edge, leave about 286 x 400."""
    garment = sheet(500, 400, 1.0)
    first, second = (fit_project([garment], TWO, steps=STEPS) for _ in range(2))
    assert first.verdict is Verdict.YES
    assert check([garment], TWO, first.placements, shrunk_by=2.0) == ()
    width, length, *_ = first.left_over["shell"].rectangles[0]
    assert width * length > 0.9 * 286 * 400
    assert any("are to spare at every edge, and a rectangle of" in each for each in first.reasons)
    assert first.placements == second.placements


def test_most_of_a_hidden_rectangle_is_found_again() -> None:
    each = list(hidden.leaving(4))[3]
    answer = fit_project([each.garment], each.project, steps=STEPS)
    assert answer.verdict is Verdict.YES
    width, length, *_ = answer.left_over["shell"].rectangles[0]
    assert width * length > 0.7 * each.left


def test_hidden_layouts_are_ones_with_that_rectangle_left() -> None:
    """The known value is one: the panels' area and the rectangle's are no more than the cloth there is."""
    questions = list(hidden.leaving(6))
    assert len(questions) == 6
    for each in questions:
        cloth = sum(piece.usable.area for piece in each.garment.pieces if piece.usable is not None)
        panels = sum(Polygon(panel.outline).area for panel in each.project.panels)
        assert panels + each.left < cloth
        alone = replace(each.project, panels=each.project.panels[:1])
        assert fit_project([each.garment], alone, steps=STEPS, brief=True).verdict is Verdict.YES

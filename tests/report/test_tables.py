"""The tables of a report, on layouts laid by hand."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from report_kit import placed, rectangle
from shapely.geometry import box

from salvage.cloth.garment import Garment, Piece, PiecePhoto, PlusMinus
from salvage.fit.answer import Answer, LeftOver, Placement, Verdict
from salvage.project.project import Panel, Project
from salvage.report.cutting.chart import CutShape, Spread, spreads
from salvage.report.tables import left_table, measured_table, of_piece, panel_table, place_table
from salvage.units import Unit

BACK = Piece("back", box(0, 0, 600, 700), layers=2)
COAT = Garment("coat", (BACK,))
BODY = Panel("body", rectangle(100, 200), cut=3)
PROJECT = Project("bag", (BODY, Panel("flap", rectangle(50, 60))))


def cuts(*placements: Placement) -> list[tuple[CutShape, Spread]]:
    laid = spreads(Answer(Verdict.YES, (), placements=placements), [COAT], PROJECT)
    return [(cut, spread) for spread in laid for cut in spread.cuts]


def test_each_panel_is_told_with_where_its_copies_come_from() -> None:
    laid = cuts(placed("body", 1, 10, 10, 100, 200), placed("body", 2, 10, 10, 100, 200, layer=2))
    table = panel_table(PROJECT, laid, [COAT], Counter({"body": 1, "flap": 1}), Unit.MM)
    body, flap = (dict(zip(table.columns, row, strict=True)) for row in table.rows)
    assert (body["Panel"], body["How many"], body["Cut size"]) == ("body", "3", "100 × 200 mm")
    assert body["Cut from"] == "2 × back, 1 not placed"
    assert body["No."] == "1–2"  # two numbers, drawn together
    assert (flap["Cut from"], flap["No."]) == ("1 not placed", "–")


def test_a_place_says_its_layer_where_there_are_several() -> None:
    (row,) = place_table(cuts(placed("body", 1, 10, 10, 100, 200, layer=2)), [COAT], Unit.MM).rows
    assert row[:4] == ("1", "body 1 of 3", "100 × 200 mm", "back, layer 2")
    (alone,) = place_table(cuts(placed("body", 1, 10, 10, 100, 200)), [COAT, COAT], Unit.MM).rows
    assert alone[3] == "back of coat, layer 1"


def test_of_a_piece_the_garment_is_said_where_there_are_several() -> None:
    assert of_piece([COAT], 0, "back") == "back"
    assert of_piece([COAT, replace(COAT, name="shirt")], 1, "back") == "back of shirt"


def test_what_is_left_over_is_told_with_four_rectangles_at_most() -> None:
    rectangles = tuple((100.0 + n, 200.0, 0, "back") for n in range(6))
    answer = Answer(
        Verdict.YES, (), left_over={"shell": LeftOver(250_000.0, rectangles), "lining": LeftOver(0.0, ())}
    )
    shell, lining = left_table(answer, [COAT], Unit.MM).rows
    assert shell[0] == "shell"
    assert shell[2].count("(back)") == 4
    assert lining[2] == "–"


@pytest.mark.parametrize(("count", "names"), [(6, "1, 2, 3, 4, 5 and 6"), (8, "1, 2, 3, 4, 5 and 3 more")])
def test_of_many_pieces_the_first_are_named(count: int, names: str) -> None:
    photo = PiecePhoto("shots/back.jpg", 150.0, {}, {})
    pieces = tuple(
        Piece(str(n), box(0, 0, 9, 9), photo=photo, plus_minus=PlusMinus(0.4, 2.0))
        for n in range(1, count + 1)
    )
    (row,) = measured_table([Garment("coat", pieces)], Unit.MM).rows
    assert row == ("coat", "back.jpg", "150 mm", "± 0.4 %", "± 2.0 mm", names)


def test_cloth_that_was_typed_in_is_taken_as_exact() -> None:
    (row,) = measured_table([COAT], Unit.MM).rows
    assert row == ("coat", "typed in by hand", "–", "taken as exact", "taken as exact", "back")

"""How the cloth behaves, fabric by fabric: of the pieces that are cut from; and sections that say nothing are none."""

from __future__ import annotations

from dataclasses import replace

from report_kit import placed, rectangle
from shapely.geometry import box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Answer, Verdict
from salvage.project.project import Panel, Project, Strip
from salvage.report.say.section import Section
from salvage.report.say.sewing import care_caution, sewing_table
from salvage.report.say.table import Table
from salvage.trade.behaviour import behaviour_of
from salvage.trade.care import SYMBOLS

JEANS = Garment("jeans", (Piece("back", box(0, 0, 300, 300)),), "denim")
SHIRT = Garment("shirt", (Piece("back", box(0, 0, 300, 300), fabric=" Shell "),), "knit")
PROJECT = Project(
    "p", (Panel("a", rectangle(50, 50)), Panel("b", rectangle(9, 9))), (Strip("tie", 30, 90, "lining"),)
)
NOTHING = Answer(Verdict.NO, ())


def rows(answer: Answer, *garments: Garment) -> list[tuple[str, str]]:
    return [(row[0], row[1]) for row in sewing_table(answer, garments, PROJECT).rows]


def test_one_row_for_a_fabric_and_a_kind_however_many_panels() -> None:
    assert rows(NOTHING, JEANS) == [("shell", behaviour_of("shell", "denim").kind)]
    assert len(rows(NOTHING, JEANS, replace(JEANS, name="other"))) == 1
    assert [kind for _, kind in rows(NOTHING, JEANS, SHIRT)] == [
        behaviour_of("shell", "denim").kind, behaviour_of("shell", "knit").kind,
    ]  # fmt: skip


def test_of_what_is_cut_from_alone_once_that_is_known() -> None:
    cut = Answer(Verdict.YES, (), (replace(placed("a", 1, 0, 0, 50, 50), garment=1),))
    assert rows(cut, JEANS, SHIRT) == [("shell", behaviour_of("shell", "knit").kind)]


def test_the_row_says_what_the_trade_says() -> None:
    table = sewing_table(NOTHING, [JEANS], PROJECT)
    (row,) = table.rows
    denim = behaviour_of("shell", "denim")
    assert len(row) == len(table.columns) == len(table.weights)
    assert denim.needle_words in row
    assert denim.stitch_words in row
    assert any(
        denim.iron.words in cell and "label" in cell for cell in row
    )  # the garment's own label goes before


def test_the_caution_reads_the_label_before_it_is_cut_off() -> None:
    said = care_caution()
    assert said.startswith("Read the care label")
    assert "Iron crossed out" in said
    assert next(each for each in SYMBOLS if each.looks == "tub with a number").before in said


def test_a_section_is_there_if_anything_stands_under_its_title() -> None:
    assert not Section("Empty")
    assert not Section("Empty", table=Table(("a",), (1.0,), ()), note="said before nothing")
    assert Section("Full", points=("a",))
    assert Section("Full", texts=("a",))
    assert Section("Full", table=Table(("a",), (1.0,), (("b",),)))

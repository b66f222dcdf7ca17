"""A lay plan in words, drawn and on paper: what is to be bought and cut stands there, each as often as it is cut."""

from __future__ import annotations

from dataclasses import replace

import pypdfium2
import pytest
from report_kit import placed, rectangle
from shapely.geometry import shape
from written import texts_of, words_of

from salvage.fit.bolt.plan import LayPlan
from salvage.project.project import Panel, Project, Strip
from salvage.report.cutting.lay_plans import (
    plan_alt,
    plan_cuts,
    plan_table,
    plan_title,
    plan_words,
    plans_data,
)
from salvage.report.drawing.bolt import bolt_leaf, cloth_shape
from salvage.report.drawing.panels import drawn_parts, parts_alt, parts_leaf
from salvage.report.drawing.plan_legend import legend_alt, legend_height, legend_leaf
from salvage.report.paper.lay_plans import lay_plans_pdf
from salvage.report.pen.draw import Printing, text_width
from salvage.report.say.table import Table
from salvage.units import Unit

PROJECT = Project(
    "Tote",
    (Panel("wall", rectangle(340, 300), cut=2), Panel("base", rectangle(340, 120))),
    (Strip("handle", 60, 500),),
)
OPEN_ = (
    placed("wall", 1, 20, 0, 340, 300), placed("wall", 2, 400, 0, 340, 300), placed("base", 1, 760, 0, 340, 120),
    placed("handle", 1, 1120, 0, 60, 260, part=1), placed("handle", 1, 1200, 0, 60, 260, part=2),
)  # fmt: skip
PLAN = LayPlan("shell", 1400.0, False, False, 300.0, 300.0, OPEN_, OPEN_, 0.0, 250.0, PROJECT)
FOLDED = replace(
    PLAN, folded=True, fold=310.0, length=450.0, used=430.0,
    shown=(placed("wall", 1, 20, 0, 340, 300), placed("base", 1, 20, 311, 340, 119)),
)  # fmt: skip
NONE = replace(PLAN, length=None, placements=(), shown=(), reason="wall is wider than the cloth")


def test_the_length_to_buy_is_told_in_the_unit_of_the_shop() -> None:
    assert plan_title(PLAN, Unit.MM) == "shell: 0.30 m of cloth 140 cm wide"
    inches = replace(PLAN, width=54 * 25.4, length=4 * 4.5 * 25.4)
    assert plan_title(inches, Unit.INCH) == "shell: 1/2 yd of cloth 54 in wide"
    assert "no lay plan" in plan_title(NONE, Unit.MM)
    assert plan_words(NONE, Unit.MM).endswith("wall is wider than the cloth.")


def test_how_sure_the_length_is() -> None:
    assert "0.25 m is proved to be too little" in plan_words(PLAN, Unit.MM)
    assert "isn't proved" in plan_words(replace(PLAN, shorter_refuted=None), Unit.MM)
    one_mark = replace(PLAN, length=50.0, shorter_refuted=None)
    assert "too little" not in plan_words(one_mark, Unit.MM)
    assert "isn't proved" not in plan_words(one_mark, Unit.MM)  # no shorter one is sold


def test_how_the_cloth_lies() -> None:
    assert "single layer" in plan_words(PLAN, Unit.MM)
    assert "opened out" in plan_words(FOLDED, Unit.MM)
    assert "opened out" not in plan_words(replace(FOLDED, shown=FOLDED.shown[:1]), Unit.MM)
    assert "top up" in plan_words(replace(PLAN, one_way=True), Unit.MM)
    assert "upside down" in plan_words(PLAN, Unit.MM)


def test_every_shape_that_is_drawn_has_a_number_and_its_size() -> None:
    cuts = plan_cuts(PLAN)
    assert sorted(each.number for each in cuts) == [1, 2, 3, 4, 5]
    assert {cut.size for cut in cuts if cut.placement.panel == "wall"} == {(340, 300)}
    assert {cut.size for cut in cuts if cut.placement.panel == "handle"} == {(60, 260)}  # of each length
    fillings = {cut.placement.panel: cut.filling for cut in cuts}
    assert len(set(fillings.values())) == 3
    twice = {cut.placement.panel: cut.name for cut in plan_cuts(FOLDED)}
    assert "through both" in twice["wall"]
    assert "through both" not in twice["base"]
    assert all(str(cut.number) in plan_alt(PLAN) and cut.name in plan_alt(PLAN) for cut in cuts)


def test_the_table_counts_what_is_cut_and_names_where_it_is_drawn() -> None:
    table = plan_table(PLAN, Unit.MM)
    assert isinstance(table, Table)
    assert len(table.columns) == len(table.weights)
    assert all(len(row) == len(table.columns) for row in table.rows)
    rows = {row[0]: row for row in table.rows}
    assert [rows[name][1] for name in ("wall", "base", "handle")] == ["2", "1", "1"]
    assert "2 lengths" in rows["handle"][2]
    numbers = [int(each) for row in table.rows for each in row[4].split(", ")]
    assert sorted(numbers) == [1, 2, 3, 4, 5]
    assert plan_table(FOLDED, Unit.MM).rows[2][4] == "–"


def test_the_data_are_the_shapes_themselves() -> None:
    (told,) = plans_data([PLAN])
    for each, row in zip(PLAN.placements, told["placements"], strict=True):
        assert shape(row["shape"]).equals(each.shape)
        assert (row["panel"], row["copy"], row["part"]) == (each.panel, each.copy, each.part)
    assert (told["length"], told["shorter_refuted"], told["reason"]) == (300.0, 250.0, "")


# --- drawn ---------------------------------------------------------------------------------------


def test_of_folded_cloth_half_the_width_is_seen_up_to_the_fold_and_all_of_it_above() -> None:
    assert cloth_shape(PLAN).area == 1400 * 300
    assert cloth_shape(FOLDED).area == 700 * 450 + 700 * (450 - 310)
    assert cloth_shape(replace(FOLDED, shown=FOLDED.shown[:1])).area == 700 * 450


@pytest.mark.parametrize("printing", [Printing(), Printing(large=True, grey=True)])
def test_a_plan_is_drawn_with_each_panel_in_its_place(printing: Printing) -> None:
    leaf, sheet = bolt_leaf(PLAN, Unit.MM, printing)
    written = {each.text: (each.x, each.y) for each in words_of(leaf)}
    for cut in plan_cuts(PLAN):
        x, y = next(at for text, at in written.items() if text.split()[0] == str(cut.number))
        left, low, right, high = cut.shape.bounds
        assert left - 60 < x < right + 60
        assert low - 60 < y < high + 60
    assert (leaf.width, leaf.height) == pytest.approx(sheet.size)
    low_x, low_y, high_x, high_y = sheet.bounds
    assert low_x < 0 < 1400 < high_x
    assert low_y < 0 < 300 < high_y


def test_the_fold_is_named() -> None:
    assert "fold" in texts_of(bolt_leaf(FOLDED, Unit.MM)[0])
    assert "fold" not in texts_of(bolt_leaf(PLAN, Unit.MM)[0])


def test_on_paper_each_plan_stands_with_its_title_its_table_and_its_caution() -> None:
    other = replace(PLAN, fabric="lining")
    pdf = pypdfium2.PdfDocument(lay_plans_pdf([PLAN, other, NONE], "Tote", Unit.MM))
    said = " ".join(" ".join(page.get_textpage().get_text_range() for page in pdf).split())
    for plan in (PLAN, other):
        assert plan_title(plan, Unit.MM) in said
    assert "wall is wider than the cloth" in said
    assert "shrinks" in said
    assert "Drawn 1 : " in said
    assert pdf[0].get_size() == pytest.approx((210 * 72 / 25.4, 297 * 72 / 25.4), abs=1)
    letter = pypdfium2.PdfDocument(lay_plans_pdf([NONE], "Tote", Unit.INCH))
    assert letter[0].get_size() == pytest.approx((8.5 * 72, 11 * 72), abs=1)
    assert "shrinks" not in " ".join(page.get_textpage().get_text_range() for page in letter)


def test_the_legend_of_a_plan_is_as_high_as_it_is_drawn_and_says_everything() -> None:
    leaf = legend_leaf(180.0)
    said = texts_of(leaf)
    assert all(
        words in said
        for words in legend_alt().split(": ", 1)[1].rstrip(".").split(", ")
        if "closure" not in words and "pocket" not in words
    )
    assert leaf.height == pytest.approx(legend_height(180.0))
    assert legend_height(90.0) > legend_height(180.0)
    assert legend_height(180.0, Printing(large=True)) > legend_height(180.0)
    wide, high = leaf.size
    for words in words_of(leaf):
        assert words.x + text_width(words.text, 7.5) <= wide
        assert 0 < words.y < high


def test_where_nothing_is_laid_the_legend_tells_of_the_cloth_alone() -> None:
    said = texts_of(legend_leaf(180.0, laid=False))
    assert "usable" in said
    assert not {"cut here", "stitching line", "tape", "landmark for the tape"} & set(said)
    assert "tape" not in legend_alt(laid=False)
    assert legend_height(180.0, laid=False) < legend_height(180.0)


def test_panels_that_parts_gave_are_drawn_and_those_with_a_shape_of_their_own_are_not() -> None:
    from salvage.project.project import Part

    part = Part("bag", "bag", ("wall", "handle"), (), "common practice")
    project = replace(PROJECT, parts=(part,))
    panels = drawn_parts(project)
    assert [each.name for each in panels] == ["wall"]
    said = " ".join(texts_of(parts_leaf(panels, Unit.MM)[0]))
    assert "wall" in said
    assert "cut 2" in said
    assert "wall" in parts_alt(panels)
    assert drawn_parts(PROJECT) == ()

"""The cutting chart says every shape once, in the order of cutting, with the right sizes."""

from __future__ import annotations

from dataclasses import replace

import pytest
from report_kit import MakeRectangle, Placed

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer, Verdict
from salvage.project.project import Grain, Panel, Project, Strip
from salvage.report.content import content
from salvage.report.cutting.chart import cut_size, finished_size, spreads
from salvage.report.pen.fonts import lacking
from salvage.report.say.words import grain_words, lies_words, scale_words, small_length
from salvage.units import Unit


def test_every_shape_is_numbered_once_largest_first(answer: Answer, coat: Garment, project: Project) -> None:
    cuts = [cut for spread in spreads(answer, [coat], project) for cut in spread.cuts]
    by_number = sorted(cuts, key=lambda cut: cut.number)
    assert [cut.number for cut in by_number] == list(range(1, 9))
    areas = [cut.placement.shape.area for cut in by_number]
    assert areas == sorted(areas, reverse=True)


def test_copies_parts_and_lengths_are_named(answer: Answer, coat: Garment, project: Project) -> None:
    names = {cut.name for spread in spreads(answer, [coat], project) for cut in spread.cuts}
    assert {"body 1 of 2", "body 2 of 2", "strap, length 2 of 2", "inner pocket, part 1 of 2"} <= names


def test_the_cut_size_is_that_of_the_panel_however_it_is_turned(placed: Placed) -> None:
    for angle in (0.0, 37.0, 90.0, 211.5):
        size = cut_size(placed("x", 1, 50, 60, 120, 90, angle=angle))
        assert size == pytest.approx((120, 90))


def test_layers_are_separate_spreads(answer: Answer, coat: Garment, project: Project, placed: Placed) -> None:
    upper = placed("body", 1, 10, 10, 200, 250, layer=1)
    lower = placed("body", 2, 10, 10, 200, 250, layer=2)
    both = replace(answer, placements=(upper, lower))
    assert [(s.layer, len(s.cuts)) for s in spreads(both, [coat], project)] == [(1, 1), (2, 1)]


def test_the_finished_length_of_a_strip_is_without_the_allowance_at_its_ends() -> None:
    strip = Strip("tie", 40, 420, finished_width=10, folds=4, seam_allowance=6)
    assert finished_size(strip) == (10, 408)


@pytest.mark.parametrize(
    ("angle", "grain", "words"),
    [
        (0.0, 90.0, "330 mm along the grain"),
        (180.0, 90.0, "330 mm along the grain, top end down"),
        (30.0, 120.0, "330 mm along the grain"),
        (90.0, 90.0, "112 mm along the grain"),
        (45.0, 90.0, "on the bias, 45° to the grain"),
        (10.0, 90.0, "10° off the grain"),
        (355.0, 90.0, "5° off the grain"),
    ],
)
def test_how_a_panel_lies_to_the_grain(angle: float, grain: float, words: str) -> None:
    assert lies_words(angle, grain, (112.0, 330.0), Unit.MM, flipped=False) == words


def test_rotations_are_said_instead_of_the_grain(rectangle: MakeRectangle) -> None:
    assert grain_words(Panel("x", rectangle(10, 10), rotations=(0.0, 90.0))) == "turned 0° and 90°"
    assert grain_words(Panel("x", rectangle(10, 10), grain=Grain.BIAS)) == "on the bias"


def test_the_chart_says_sizes_fabric_origin_and_numbers(
    answer: Answer, coat: Garment, project: Project
) -> None:
    rows = {row[0]: row for row in content(answer, [coat], project, Unit.MM, lacking).panels.rows}
    assert rows["body"] == ("body", "2", "180 × 230 mm", "200 × 250 mm", "shell", "along", "2 × back", "1–2")
    assert rows["strap"][3] == "40 × 420 mm in 2 lengths"
    assert rows["strap"][2] == "10 × 408 mm, folded 4×"
    assert rows["flap"][1] == "2, half mirrored"


def test_inches_are_fractions_where_they_lie_on_a_mark(
    answer: Answer, coat: Garment, project: Project
) -> None:
    rows = content(answer, [coat], project, Unit.INCH, lacking).panels.rows
    assert rows[0][3] == "7.87 × 9.84 in"  # 200 x 250 mm: on no sixteenth, so by hand in hundredths
    inches = replace(project.panels[0], outline=((0, 0), (203.2, 0), (203.2, 257.175), (0, 257.175)))
    rows = content(answer, [coat], replace(project, panels=(inches,)), Unit.INCH, lacking).panels.rows
    assert rows[0][3] == "8 × 10 1/8 in"


def test_what_found_no_place_is_said(answer: Answer, coat: Garment, project: Project) -> None:
    partial = replace(
        answer, verdict=Verdict.UNSETTLED, placements=answer.placements[1:], not_placed=("body",), spare=None
    )
    said = content(partial, [coat], project, Unit.MM, lacking)
    assert [panel.name for panel in said.unplaced] == ["body"]
    assert "1 not placed" in said.panels.rows[0][6]


def test_how_to_join_is_told_only_for_the_joins_there_are(
    answer: Answer, coat: Garment, project: Project
) -> None:
    with_bias = " ".join(content(answer, [coat], project, Unit.MM, lacking).section("Joins").points)
    assert "on the bias" in with_bias
    assert "Piecing a panel" in with_bias
    whole = replace(answer, placements=answer.placements[:4], join_plan=())
    assert content(whole, [coat], project, Unit.MM, lacking).section("Joins").points == ()


def test_many_shapes_are_listed_up_to_a_limit_and_counted(
    answer: Answer, coat: Garment, project: Project, placed: Placed
) -> None:
    many = [placed("flap", n + 1, 10 + 6 * (n % 90), 10 + 6 * (n // 90), 5, 5) for n in range(500)]
    said = content(replace(answer, placements=tuple(many)), [coat], project, Unit.MM, lacking)
    assert len(said.places.rows) + said.places_left_out == 500
    assert len(said.places.rows) == 150


def test_cautions_of_the_cloth_the_stain_and_the_trade_are_there_once(
    answer: Answer, coat: Garment, project: Project
) -> None:
    cautions = content(answer, [coat], project, Unit.MM, lacking).section("Before you cut").points
    assert len(set(cautions)) == len(cautions)
    text = " ".join(cautions)
    for word in ("glue behind the collar", "stain", "sharp", "iron", "by hand"):
        assert word in text


def test_small_lengths_never_flatter() -> None:
    assert small_length(3.94, Unit.MM, up=True) == "4.0 mm"
    assert small_length(3.94, Unit.MM, up=False) == "3.9 mm"
    assert small_length(3.9, Unit.MM, up=True) == "3.9 mm"
    assert small_length(3.9, Unit.CM, up=False) == "0.39 cm"
    assert small_length(4.0, Unit.INCH, up=True) == "3/16 in"  # 5.04 thirty-seconds, so 6 of them
    assert small_length(4.0, Unit.INCH, up=False) == "5/32 in"


def test_how_much_larger_is_said_only_where_it_is_larger(answer: Answer) -> None:
    assert "108 %" in scale_words(answer)
    assert scale_words(replace(answer, largest_scale_percent=97.0)) == ""


def test_an_unsure_outline_that_is_cut_from_is_a_caution(
    answer: Answer, coat: Garment, project: Project
) -> None:
    unsure = replace(coat, pieces=(replace(coat.pieces[0], confidence=0.3), *coat.pieces[1:]))
    assert any(
        "edge of back may be wrong" in text
        for text in content(answer, [unsure], project, Unit.MM, lacking).section("Before you cut").points
    )
    assert not any(
        "may be wrong" in text
        for text in content(answer, [coat], project, Unit.MM, lacking).section("Before you cut").points
    )

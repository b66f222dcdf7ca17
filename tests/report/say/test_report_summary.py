"""What the terminal says: the verdict first, everything on one line each."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import pytest
from shapely.geometry import MultiPolygon

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer, FabricAnswer, Verdict
from salvage.fit.material.holds import holds
from salvage.job import Look, Measured
from salvage.photo.photo import Photo
from salvage.photo.problem import Code, Level, Problem
from salvage.project.project import Project
from salvage.report.say.summary import check_summary, fit_summary, holds_lines, measure_summary, tape_line
from salvage.report.say.words import allowance_words
from salvage.scale.square import Square
from salvage.units import Unit


def test_the_verdict_is_the_first_line_and_every_reason_follows(answer: Answer, project: Project) -> None:
    lines = fit_summary(answer, project, Unit.MM).splitlines()
    assert lines[0] == "Basket liner: Yes, with joins."
    assert answer.reasons
    assert all(f"  {reason}" in lines for reason in answer.reasons)
    assert any("108 %" in line for line in lines)
    assert not any("Not placed" in line for line in lines)


def test_a_no_tells_what_would_help_and_not_to_cut(answer: Answer, project: Project) -> None:
    text = fit_summary(replace(answer, verdict=Verdict.NO, placements=(), spare=None), project, Unit.MM)
    assert "Shorten the body by 10 mm." in text
    assert "Don't cut it" in text


def test_what_lies_of_an_unsettled_project_is_the_headline(answer: Answer, project: Project) -> None:
    partial = replace(
        answer, verdict=Verdict.UNSETTLED, placements=answer.placements[1:], not_placed=("body",), spare=None,
        seconds=10.0,
    )  # fmt: skip
    total = len(answer.placements)
    text = fit_summary(partial, project, Unit.MM)
    assert "  Not placed: body." in text.splitlines()
    assert text.startswith(
        f"Basket liner: Unsettled: {total - 1} of {total} shapes are laid out, and whether all fit isn't known."
    )
    assert text.splitlines()[-1] == (
        "Don't cut yet. Let it search longer, for example with --seconds 60, or make one of the changes under "
        "“What would help”: with each of them a layout was found."
    )
    nothing = replace(partial, placements=(), helps=(), seconds=90.0)
    text = fit_summary(nothing, project, Unit.MM)
    assert "Not placed" not in text  # all of it is not: the headline says so
    assert text.startswith("Basket liner: Unsettled: no layout found, and no proof that there is none.")
    assert text.endswith("Let it search longer, for example with --seconds 300, or make the project smaller.")


def test_only_a_fabric_that_is_refused_calls_for_other_cloth(answer: Answer, project: Project) -> None:
    fabrics = {
        "shell": FabricAnswer(Verdict.YES, ()),
        "lining": FabricAnswer(Verdict.UNSETTLED, ()),
        "felt": FabricAnswer(Verdict.NO, ()),
    }
    mixed = replace(answer, verdict=Verdict.NO, fabrics=fabrics, helps=(), seconds=1.0)
    assert fit_summary(mixed, project, Unit.MM).splitlines()[-1] == (
        "Only the shell can be cut as drawn. For the felt find other cloth before you cut; for the lining let it "
        "search longer, for example with --seconds 60."
    )
    open_one = replace(mixed, verdict=Verdict.UNSETTLED, fabrics={k: fabrics[k] for k in ("shell", "lining")})
    assert fit_summary(open_one, project, Unit.MM).splitlines()[-1] == (
        "Only the shell can be cut as drawn. For the lining let it search longer, for example with --seconds 60."
    )


def test_one_change_is_not_said_to_be_enough_where_two_fabrics_fail(answer: Answer, project: Project) -> None:
    refused = {"lining": FabricAnswer(Verdict.NO, ()), "shell": FabricAnswer(Verdict.UNSETTLED, ())}
    both = replace(answer, verdict=Verdict.NO, fabrics=refused)
    assert fit_summary(both, project, Unit.MM).splitlines()[-1] == (
        "Don't cut it from this as it stands. Every fabric has to fit: the changes found for each stand under “What "
        "would help”."
    )
    alone = replace(both, fabrics={"lining": refused["lining"]})
    assert fit_summary(alone, project, Unit.MM).splitlines()[-1] == (
        "Don't cut it from this as it stands. One of the changes under “What would help” makes it fit."
    )


def test_cloth_that_does_not_suit_is_said_before_the_verdict(
    answer: Answer, project: Project, coat: Garment
) -> None:
    padded = replace(coat, kind="padded")
    lines = fit_summary(answer, project, Unit.MM, [padded]).splitlines()
    assert lines[0] == (
        "Basket liner: Don't cut by this: the cloth is not suited. By size alone it would fit, with joins."
    )
    assert lines[1].startswith(f"  {coat.name}: Not suited: this is padded")
    assert lines[-1].startswith("Take other cloth.")


def test_cloth_that_does_not_suit_and_is_not_cut_from_is_no_headline(
    answer: Answer, project: Project, coat: Garment
) -> None:
    padded = replace(coat, kind="padded")
    assert fit_summary(answer, project, Unit.MM, [coat, padded]).startswith("Basket liner: Yes, with joins.")


def test_the_allowance_is_said(answer: Answer, project: Project, coat: Garment) -> None:
    assert "Seam allowance, counted in the cut sizes: " in fit_summary(answer, project, Unit.MM, [coat])
    bare = replace(
        project, panels=tuple(replace(each, seam_allowance=0.0) for each in project.panels), strips=()
    )
    assert "No seam allowance is counted in" in fit_summary(answer, bare, Unit.MM, [coat])
    mixed = (replace(bare.panels[0], seam_allowance=9.525), *bare.panels[1:])
    words = allowance_words(replace(bare, panels=mixed), Unit.INCH)
    assert words == f"Seam allowance, counted in the cut sizes: none; {mixed[0].name}: 3/8 in."


def test_holds_says_area_and_rectangles_of_each_fabric(coat: Garment) -> None:
    text = "\n".join(holds_lines(holds([coat]), Unit.MM, [coat]))
    assert text.startswith("shell: ")
    assert "lining: 780 cm²" in text  # 300 x 260 mm
    assert "300 × 260 mm" in text


@pytest.mark.parametrize(
    ("unit", "line"),
    [
        (Unit.MM, "10,20 to 900.5,80: 412.6 mm ± 2.1 mm"),
        (Unit.CM, "10,20 to 900.5,80: 41.26 cm ± 0.21 cm"),
        (Unit.INCH, "10,20 to 900.5,80: 16 1/4 in ± 3/32 in"),
    ],
)
def test_a_tape_length_with_its_plus_minus(unit: Unit, line: str) -> None:
    assert tape_line((10, 20), (900.5, 80), 412.6, 2.1, unit) == line


def test_check_names_every_problem_and_the_scale(
    photo: Photo, square: Square, outline_px: MultiPolygon
) -> None:
    plane = SimpleNamespace(mm_per_px=0.41, tilt=11.2, plus_minus_percent=0.6, drawn=None)
    seen = SimpleNamespace(
        photo=photo, squares=(square,), known=(), ok=False,
        solution=SimpleNamespace(plane=plane, advice=("Put a second square at the other side.",)),
        outline=SimpleNamespace(shape_px=outline_px, confidence=0.31),
        problems=(Problem(Code.BLURRED, Level.ERROR, "It is blurred."), Problem(Code.TILTED, Level.WARNING, "Tilted.")),
    )  # fmt: skip
    text = check_summary(cast(Look, seen), Unit.MM)
    assert "can't be measured from" in text.splitlines()[0]
    for words in ("blurred", "tilted", "0.410 mm", "± 0.6 %", "second square", "look at its edge", "150 mm"):
        assert words in text


def test_measure_lists_every_piece(coat: Garment) -> None:
    seen = SimpleNamespace(garment=coat, looks=())
    lines = measure_summary(cast(Measured, seen), Unit.MM).splitlines()
    assert lines[0].startswith("work coat: 2 pieces")
    assert any(line.startswith("  back: shell, 620 × 700 mm over all") for line in lines)

"""What stands beside the layout: notions, how the cloth behaves, other cloth, the chart as CSV, other printings."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from report_kit import Placed, TiltedCamera
from shapely.geometry import Point, box

from salvage.cloth.garment import Blocked, BlockedKind, FoundBy, Garment, Piece
from salvage.fit.answer import Answer, Verdict
from salvage.photo.photo import Photo
from salvage.project.project import Grain, Join, Panel, Project, Strip
from salvage.project.read import project_from
from salvage.report.content import content
from salvage.report.cutting.chart_csv import chart_csv
from salvage.report.paper import pages as sheets_module
from salvage.report.paper.flow import _rows_that_fit
from salvage.report.paper.pages import fit_report_pdf
from salvage.report.pen.draw import Printing
from salvage.report.pen.fonts import lacking
from salvage.report.say.notions import notions_data, notions_table
from salvage.report.say.other_cloth import cloth_length
from salvage.report.web.page import fit_report_html
from salvage.units import Unit


def panel(name: str, width: float, length: float, **more: Any) -> Panel:
    return Panel(name, ((0, 0), (width, 0), (width, length), (0, length)), **more)


def test_a_zip_is_needed_and_the_garment_has_one() -> None:
    project = project_from(
        {"seam_allowance": 10, "part": [{"name": "p", "kind": "zip pocket", "zip": 160, "depth": 110}]},
        folder=Path(),
    )
    zip_ = Blocked(BlockedKind.CLOSURE, box(300, 0, 312, 555), 3.0, FoundBy.PERSON, "zip")
    doubtful = Blocked(BlockedKind.CLOSURE, box(10, 0, 22, 300), 3.0, what="zip", confidence=0.4)
    buttons = tuple(
        Blocked(BlockedKind.CLOSURE, Point(100, 100 * n).buffer(8), 3.0, what="button", id=f"b{n}")
        for n in range(1, 6)
    )
    coat = Garment("coat", (Piece("front", box(0, 0, 620, 700), blocked=(zip_, doubtful, *buttons)),))
    rows = {row[0]: row[1:] for row in notions_table(project, [coat], Unit.MM).rows}
    assert rows["zip"] == ("160 mm, for p", "one of about 555 mm (front), long enough")
    assert notions_data(project, [coat])[0] == {
        "what": "zip", "length": 160.0, "count": 1, "for": "p", "garment_has": [555.0],
    }  # fmt: skip
    assert rows["thread"][0].startswith("about")


def test_the_thread_is_guessed_by_the_seams() -> None:
    # four equal squares of 1 m round: 4 x 4 m of edge make 8 m of seam; 2.5 times that and 15 % more are 23 m
    project = Project("p", (panel("a", 1000, 1000, cut=4),))
    (row,) = notions_table(project, [], Unit.MM).rows
    assert row[:2] == ("thread", "about 23 m, a guess")


def test_each_fabric_has_its_needle(answer: Answer, coat: Garment, project: Project) -> None:
    table = content(answer, [coat], project, Unit.MM, lacking).section("How the cloth behaves").table
    assert table is not None
    rows = {row[0]: row for row in table.rows}
    assert rows["shell"][1] == "canvas"
    assert "90/14 to 110/18" in rows["shell"][2]
    assert rows["lining"][1] == "lining"
    assert "60/8" in rows["lining"][2]


@pytest.mark.parametrize(
    ("items", "width", "length"),
    [
        ([panel("a", 300, 400, cut=4)], 1400.0, 400.0),  # four times 300 in 1380
        ([panel("a", 300, 400, cut=5)], 1400.0, 800.0),
        ([panel("a", 300, 400, cut=4, grain=Grain.EITHER)], 920.0, 600.0),  # two rows across: 2 x 400 in 900
        ([panel("a", 1500, 400)], 1400.0, None),
        ([panel("a", 1500, 400, grain=Grain.EITHER)], 1400.0, 1500.0),
        (
            [Strip("s", 100, 1300, join=Join.STRAIGHT, seam_allowance=10)],
            1400.0,
            660.0,
        ),  # two of 660, side by side
        ([Strip("s", 100, 1300, join=Join.NONE)], 1400.0, 1300.0),
    ],
)
def test_how_much_other_cloth_is_enough(
    items: list[Panel | Strip], width: float, length: float | None
) -> None:
    found = cloth_length(items, width, 0.0)
    assert found == (pytest.approx(length) if length is not None else None)


def test_other_cloth_is_never_less_than_the_panels_area() -> None:
    rng = np.random.default_rng(3)
    for _ in range(40):
        items: list[Panel | Strip] = [
            panel(f"p{n}", *rng.uniform(50, 600, 2), cut=int(rng.integers(1, 6)), grain=Grain.EITHER)
            for n in range(6)
        ]
        area = sum(
            each.cut * each.outline[2][0] * each.outline[2][1] for each in items if isinstance(each, Panel)
        )
        length = cloth_length(items, 1400.0, 3.0)
        assert length is not None
        assert length * 1380 >= area


@pytest.mark.parametrize("unit", list(Unit))
def test_the_chart_as_csv_has_a_row_for_each_shape(
    answer: Answer, coat: Garment, project: Project, unit: Unit
) -> None:
    data = chart_csv(answer, [coat], project, unit)
    assert data.startswith(b"\xef\xbb\xbf")
    rows = list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))
    assert [row["No."] for row in rows] == [str(n) for n in range(1, 9)]
    mm = {"mm": 1.0, "cm": 10.0, "in": 25.4}[unit.value]
    first = rows[0]
    assert float(first[f"width {unit}"]) * mm == pytest.approx(200, abs=0.05)
    assert float(first[f"length {unit}"]) * mm == pytest.approx(250, abs=0.05)
    assert first["piece"] == "back"
    assert first["from 1a"][:2].rstrip(":").isupper()
    assert float(first[f"{unit} 2b"]) >= 0


def test_a_name_does_not_run_as_a_formula(
    answer: Answer, coat: Garment, project: Project, placed: Placed
) -> None:
    wicked = replace(project, panels=(replace(project.panels[0], name="=cmd()"), *project.panels[1:]))
    laid = replace(answer, placements=(placed("=cmd()", 1, 10, 10, 200, 250),), not_placed=("=cmd()",))
    text = chart_csv(laid, [coat], wicked, Unit.MM).decode("utf-8-sig")
    cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
    assert not any(cell.startswith("=") for cell in cells)
    assert "not placed" in cells


def pdf(
    answer: Answer,
    garments: Sequence[Garment],
    project: Project,
    photo: Photo,
    camera: TiltedCamera,
    printing: Printing,
) -> pypdfium2.PdfDocument:
    photos, planes = {"back.jpg": photo}, {"back.jpg": camera}
    data = fit_report_pdf(
        answer, garments, project, photos=photos, planes=planes, unit=Unit.MM, printing=printing
    )
    return pypdfium2.PdfDocument(data)


def test_a_report_in_black_and_white_has_no_colour(
    answer: Answer, coat: Garment, project: Project, photo: Photo, camera: TiltedCamera
) -> None:
    for number, page in enumerate(pdf(answer, [coat], project, photo, camera, Printing(grey=True))):
        picture = page.render(scale=1.0).to_numpy()[:, :, :3].astype(int)
        assert np.ptp(picture, axis=2).max() <= 6, f"page {number + 1}"


def test_large_print_has_larger_letters_and_all_the_words(
    answer: Answer, coat: Garment, project: Project, photo: Photo, camera: TiltedCamera
) -> None:
    def heights(document: pypdfium2.PdfDocument) -> list[float]:
        found = []
        for page in document:
            text = page.get_textpage()
            for k in range(text.count_rects()):
                _, bottom, _, top = text.get_rect(k)
                found.append(top - bottom)
        return found

    plain = pdf(answer, [coat], project, photo, camera, Printing())
    large = pdf(answer, [coat], project, photo, camera, Printing(large=True))
    assert np.median(heights(large)) > 1.2 * np.median(heights(plain))
    words = " ".join(page.get_textpage().get_text_range() for page in large)
    for said in ("strap, length 1 of 2", "How it was measured", "landmark for the tape"):
        assert said in words


def test_the_page_says_how_it_is_printed(answer: Answer, coat: Garment, project: Project) -> None:
    page = fit_report_html(
        answer, [coat], project, photos={}, planes={}, unit=Unit.MM, printing=Printing(large=True, grey=True)
    )
    assert 'class="large grey"' in page
    assert ".grey img" in page


def test_the_panels_of_parts_are_drawn_with_their_formulas() -> None:
    project = project_from(
        {
            "seam_allowance": 10,
            "part": [{"name": "b", "kind": "bag", "width": 260, "height": 240, "depth": 80}],
        },
        folder=Path(),
    )
    coat = Garment("coat", (Piece("back", box(0, 0, 620, 700)),))
    page = fit_report_html(Answer(Verdict.UNSETTLED, ()), [coat], project, photos={}, planes={}, unit=Unit.MM)
    assert "wall = width + depth by height + depth / 2" in page
    assert "common practice" in page
    assert "with stitching lines and notches: b wall" in page


@pytest.mark.parametrize(
    ("count", "room", "fit"),
    [(5, 100, 5), (5, 40, 3), (5, 30, 3), (3, 20, 2), (4, 30, 2), (5, 5, 0)],
)
def test_no_row_is_left_alone(count: int, room: float, fit: int) -> None:
    """Rows of 10 mm: where one would be left for the next page, two are."""
    assert _rows_that_fit([10.0] * count, room) == fit


def test_a_last_page_is_not_left_nearly_empty(coat: Garment, project: Project) -> None:
    """Cautions are added until a few lines spill over to a page of their own; then the pages are set closer."""
    answer = Answer(Verdict.UNSETTLED, ("Nothing was found.",))  # without plans, which take the time

    def with_cautions(count: int) -> tuple[Garment, list[float]]:
        told = replace(coat, cautions=tuple(f"Caution number {n}: look once more." for n in range(count)))
        said = content(answer, [told], project, Unit.MM, lacking)
        return told, sheets_module._set(said, {}, {}, None, Printing(), tight=False).fills

    pages = len(with_cautions(0)[1])
    over = next(count for count in range(12, 84, 12) if len(with_cautions(count)[1]) > pages)
    told, fills = next(
        (told, fills)
        for told, fills in map(with_cautions, range(over - 12, over + 1, 2))
        if len(fills) > pages
    )
    assert fills[-1] < 0.15
    data = fit_report_pdf(answer, [told], project, photos={}, planes={}, unit=Unit.MM)
    assert len(pypdfium2.PdfDocument(data)) == len(fills) - 1

"""The PDF is searchable, breaks over pages, and its plans measure true with a ruler."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
from report_kit import Placed, TiltedCamera
from shapely.geometry import box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Answer, Placement, Verdict
from salvage.photo.photo import Photo
from salvage.project.project import Panel, Project
from salvage.report.paper.pages import fit_report_pdf
from salvage.report.pen.fonts import USUAL, font_of, lacking
from salvage.units import MM_PER_INCH, Unit

POINTS_PER_MM = 72 / MM_PER_INCH


def report(
    answer: Answer,
    garments: Sequence[Garment],
    project: Project,
    photo: Photo | None = None,
    camera: TiltedCamera | None = None,
    unit: Unit = Unit.MM,
) -> pypdfium2.PdfDocument:
    photos = {"back.jpg": photo} if photo is not None else {}
    planes = {"back.jpg": camera} if camera is not None else {}
    data = fit_report_pdf(answer, garments, project, photos=photos, planes=planes, unit=unit)
    return pypdfium2.PdfDocument(data)


def texts(document: pypdfium2.PdfDocument) -> list[str]:
    return [document[i].get_textpage().get_text_range() for i in range(len(document))]


def test_the_verdict_is_on_the_first_page_and_the_chart_can_be_searched(
    answer: Answer, coat: Garment, project: Project, photo: Photo, camera: TiltedCamera
) -> None:
    pages = texts(report(answer, [coat], project, photo, camera))
    assert "Yes, with joins" in pages[0]
    whole = " ".join(pages)
    for words in ("Cutting chart", "200 × 250 mm", "strap, length 1 of 2", "How it was measured", "± 0.4 %"):
        assert words in whole


@pytest.mark.parametrize(("unit", "size"), [(Unit.MM, (210.0, 297.0)), (Unit.INCH, (215.9, 279.4))])
def test_paper_is_a4_or_letter_after_the_person_s_unit(
    answer: Answer, coat: Garment, project: Project, unit: Unit, size: tuple[float, float]
) -> None:
    page = report(answer, [coat], project, unit=unit)[0]
    assert (page.get_width() / POINTS_PER_MM, page.get_height() / POINTS_PER_MM) == pytest.approx(
        size, abs=0.1
    )


def test_a_panel_on_the_plan_measures_its_size_at_the_scale_told(project: Project) -> None:
    """Render the page, measure the coloured panel in it, and compare with the scale that stands under it."""
    shape = box(50, 80, 350, 280)
    flag = Project("one", (Panel("flag", tuple(shape.exterior.coords)[:4]),))
    answer = Answer(
        Verdict.YES, ("It fits.",), (Placement("flag", 1, None, 0, "sheet", 1, 0.0, False, shape),)
    )
    document = report(answer, [Garment("cloth", (Piece("sheet", box(0, 0, 620, 700)),))], flag)
    page_number = next(i for i, text in enumerate(texts(document)) if "Drawn 1 :" in text)
    told = float(texts(document)[page_number].split("Drawn 1 :")[1].split()[0])
    px_per_mm = 8.0
    picture = document[page_number].render(scale=px_per_mm / POINTS_PER_MM).to_numpy()[:, :, :3].astype(int)
    # blue of the first panel look, hatching and letters on it left out: its extent is what counts
    blue = (np.abs(picture - np.array([220, 191, 138])).sum(axis=2) < 75) & (
        picture[:, :, 0] - picture[:, :, 2] > 40
    )
    rows, columns = np.where(blue.sum(axis=1) > 100)[0], np.where(blue.sum(axis=0) > 100)[0]
    line = 1.3 / POINTS_PER_MM * told  # the cut line hides half its width of the colour on each side
    assert np.ptp(columns) / px_per_mm * told == pytest.approx(300 - line, abs=1.5)
    assert np.ptp(rows) / px_per_mm * told == pytest.approx(200 - line, abs=1.5)


def test_sixty_panels_break_over_pages_and_all_are_there(answer: Answer, placed: Placed) -> None:
    panels = tuple(
        Panel(f"quite a long name of panel {n}", ((0, 0), (60, 0), (60, 90), (0, 90))) for n in range(60)
    )
    placements = tuple(
        placed(panel.name, 1, 5 + 65 * (n % 9), 5 + 95 * (n // 9), 60, 90) for n, panel in enumerate(panels)
    )
    cloth = Garment("cloth", (Piece("back", box(0, 0, 620, 700)),))
    pages = texts(report(replace(answer, placements=placements), [cloth], Project("sixty", panels)))
    flat = " ".join(" ".join(pages).split())
    assert len(pages) >= 4
    assert all(f"panel {n} " in flat for n in range(60))
    assert sum("With the tape" in page for page in pages) >= 2  # the table's head stands on each of its pages


def test_a_very_long_name_stays_inside_the_page(answer: Answer, coat: Garment, project: Project) -> None:
    long = "w" * 300
    document = report(replace(answer, reasons=(long,)), [coat], replace(project, name=long))
    for index in range(len(document)):
        page = document[index].get_textpage()
        for rectangle in range(page.count_rects()):
            left, _, right, _ = page.get_rect(rectangle)
            assert left >= 0
            assert right <= document[index].get_width()


def test_the_same_answer_gives_the_same_file(answer: Answer, coat: Garment, project: Project) -> None:
    first = fit_report_pdf(answer, [coat], project, photos={}, planes={}, unit=Unit.MM)
    assert first == fit_report_pdf(answer, [coat], project, photos={}, planes={}, unit=Unit.MM)


def named(project: Project, name: str) -> Project:
    return replace(project, name=name)


def test_letters_that_no_font_here_has_are_owned_up_to(
    answer: Answer, coat: Garment, project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    no_letter = "\ue9a7"  # of the private use area: no font draws it the same, if any does
    monkeypatch.setattr(
        "salvage.report.paper.pages.lacking", lambda names: no_letter * any(no_letter in n for n in names)
    )
    assert "can't be drawn" in texts(report(answer, [coat], named(project, f"bag {no_letter}")))[0]
    assert "can't be drawn" not in texts(report(answer, [coat], named(project, "Täschchen Ωж")))[0]


def test_a_font_that_has_the_letter_is_looked_for() -> None:
    assert {font_of(letter) for letter in "Täschchen Ωж"} == {USUAL}
    assert lacking(["Täschchen Ωж"]) == ""
    assert lacking(["\U0010fffd a"]) == "\U0010fffd"
    assert (font_of("袋") != USUAL) == (lacking(["袋"]) == "")

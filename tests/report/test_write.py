"""The files of a report: side by side, never over anybody's, the chart left out where nothing is laid."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest

from salvage.cloth.garment import Garment
from salvage.errors import SalvageError
from salvage.fit.answer import Answer, Verdict
from salvage.project.project import Project
from salvage.report.drawing import figures
from salvage.report.drawing.cut import draw_cut
from salvage.report.pen.draw import PLAIN
from salvage.report.records import Loaded
from salvage.report.write import ReportFiles, plans_beside, write_report
from salvage.units import Unit


def test_the_three_files_stand_side_by_side(
    tmp_path: Path, answer: Answer, coat: Garment, project: Project
) -> None:
    files = ReportFiles(tmp_path / "liner.html")
    steps: list[str] = []
    written = write_report(files, answer, Loaded((coat,)), project, PLAIN, step=steps.append)
    assert [each.name for each in written] == ["liner.html", "liner.pdf", "liner-chart.csv"]
    assert sorted(each.name for each in tmp_path.iterdir()) == sorted(each.name for each in written)
    assert len(steps) == 2
    page = files.page.read_text(encoding="utf-8")
    pdf = " ".join(each.get_textpage().get_text_range() for each in pypdfium2.PdfDocument(files.pdf))
    for text in (page, pdf):
        assert "Basket liner" in text
    rows = list(csv.reader(io.StringIO(files.chart.read_text(encoding="utf-8-sig"))))
    assert sum("body" in " ".join(row) for row in rows) >= 2
    files.check()  # over its own it may go


def test_nothing_laid_needs_no_chart(tmp_path: Path, coat: Garment, project: Project) -> None:
    nothing = Answer(Verdict.NO, ("Too little.",))
    files = ReportFiles(tmp_path / "liner.html")
    assert len(write_report(files, nothing, Loaded((coat,)), project, PLAIN, empty_chart=False)) == 2
    assert not files.chart.exists()


@pytest.mark.parametrize("which", ["page", "pdf", "chart"])
def test_a_file_of_somebody_else_is_in_the_way_before_anything_is_written(tmp_path: Path, which: str) -> None:
    files = ReportFiles(tmp_path / "liner.html")
    files.check()
    getattr(files, which).write_text("mine")
    with pytest.raises(SalvageError, match=getattr(files, which).name):
        files.check()


def test_plans_on_other_cloth_have_a_nap_where_the_garments_cloth_has(
    answer: Answer, coat: Garment, project: Project
) -> None:
    small = replace(project, panels=project.panels[1:], strips=())
    napped = replace(coat, pieces=(replace(coat.pieces[0], one_way=True, fabric=" Shell "), coat.pieces[1]))
    no = Answer(Verdict.NO, ())
    plans = {each.fabric: each for each in plans_beside(no, Loaded((napped,)), small, width=900.0)}
    assert {name: plan.one_way for name, plan in plans.items()} == {"shell": True, "lining": False}
    assert {plan.width for plan in plans.values()} == {900.0}


# --- which pictures are shown ---------------------------------------------------------------------


def test_of_several_pieces_the_one_with_most_usable_cloth_of_that_fabric_is_shown(coat: Garment) -> None:
    shown = figures.largest_of([coat], {"lining"})
    assert shown is not None
    assert (shown.piece.name, shown.cuts) == ("lining", ())
    both = figures.largest_of([replace(coat, pieces=coat.pieces[1:]), coat], {"shell"})
    assert both is not None
    assert (both.garment, both.piece.name) == (1, "back")
    other = figures.largest_of([coat], {"silk"})  # there is none: then any
    assert other is not None
    assert other.piece.name == "back"
    assert figures.largest_of([], {"shell"}) is None


def test_every_piece_is_shown_bare_where_nothing_is_placed(coat: Garment) -> None:
    bare = figures.bare_spreads([coat, replace(coat, pieces=coat.pieces[:1])])
    assert [(each.garment, each.piece.name, each.cuts) for each in bare] == [
        (0, "back", ()), (0, "lining", ()), (1, "back", ()),
    ]  # fmt: skip


def test_a_panel_that_is_drawn_carries_its_number_its_cut_line_and_its_grain(
    answer: Answer, coat: Garment, project: Project
) -> None:
    from collected import Collected
    from shapely.geometry import box

    from salvage.report.cutting.chart import spreads
    from salvage.report.pen.labels import Labels

    (spread, *_) = spreads(answer, [coat], project)
    for one_way, heads in ((False, 2), (True, 1)):
        cut = spread.cuts[0]
        pen = Collected()
        page = pen.page(1.0)
        draw_cut(page, cut, 90.0, Labels(page, box(-50, -50, 700, 800)), one_way=one_way, unit=Unit.MM)
        assert any(word.text.startswith(str(cut.number)) for word in pen.words)
        assert any(
            line.is_ring and line.envelope.symmetric_difference(cut.shape.envelope).area < 1
            for line in pen.lines
        )
        arrows = [each for each in pen.areas if len(each.parts[0].exterior.coords) == 4]
        assert len(arrows[-1].parts) == heads

"""The files of a fit report: where they go, that nothing is in the way, and writing them. One home for commands and page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.ours import check_ours, write_ours

if TYPE_CHECKING:
    from salvage.fit.answer import Answer
    from salvage.fit.bolt.plan import LayPlan
    from salvage.project.project import Project
    from salvage.report.pen.draw import Printing
    from salvage.report.records import Loaded

SECONDS_FOR_A_PLAN = 0.6  # for each fabric, beside a report that is waited for


@dataclass(frozen=True, slots=True)
class ReportFiles:
    """A report is a page, a PDF and the cutting chart as CSV, side by side."""

    page: Path

    @property
    def pdf(self) -> Path:
        return self.page.with_suffix(".pdf")

    @property
    def chart(self) -> Path:
        return self.page.with_name(f"{self.page.stem}-chart.csv")

    def check(self) -> None:
        """Raise SalvageError where one of them would go over a file that is not ours."""
        for file in (self.page, self.pdf, self.chart):
            check_ours(file)


def write_report(
    files: ReportFiles,
    answer: Answer,
    loaded: Loaded,
    project: Project,
    printing: Printing,
    *,
    plans: Sequence[LayPlan] = (),
    empty_chart: bool = True,
    step: Callable[[str], None] = lambda said: None,
) -> list[Path]:
    """Write all files of a report; returns them. Sentences are in the project's unit.

    plans: on other cloth. empty_chart: write the chart also where nothing is laid. step: told what is being drawn.
    """
    from salvage.report.cutting.chart_csv import chart_csv
    from salvage.report.paper.pages import fit_report_pdf
    from salvage.report.web.page import fit_report_html

    garments, photos, planes, unit = loaded.garments, loaded.photos, loaded.planes, project.unit
    step("drawing the page")
    page = fit_report_html(
        answer, garments, project, photos=photos, planes=planes, unit=unit, printing=printing, plans=plans
    )
    write_ours(files.page, page)
    step("drawing the sheets")
    pages = fit_report_pdf(
        answer, garments, project, photos=photos, planes=planes, unit=unit, printing=printing, plans=plans
    )
    write_ours(files.pdf, pages)
    if not (answer.placements or empty_chart):
        return [files.page, files.pdf]
    write_ours(files.chart, chart_csv(answer, garments, project, unit))
    return [files.page, files.pdf, files.chart]


def plans_beside(
    answer: Answer, loaded: Loaded, project: Project, *, width: float | None = None, seed: int = 0
) -> tuple[LayPlan, ...]:
    """The project as it is cut, on other cloth, for its report: with a nap where the garment's cloth of that name has one.

    width: mm; the usual one unless told.
    """
    from salvage.fit.bolt.plan import plans_of
    from salvage.fit.say.open import as_cut
    from salvage.trade.widths import CUT_OFF, USUAL_WIDTH

    naps = {
        piece.fabric.strip().casefold()
        for garment in loaded.garments
        for piece in garment.pieces
        if piece.one_way
    }
    return plans_of(
        as_cut(project, answer),
        width or USUAL_WIDTH[project.unit],
        CUT_OFF[project.unit],
        one_way=lambda fabric: fabric.strip().casefold() in naps,
        seconds=SECONDS_FOR_A_PLAN,
        seed=seed,
    )

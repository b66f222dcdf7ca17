"""`salvage fit`: the verdict, the layout, the report."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .shared.ahead import ahead
from .shared.keep_rest import can_keep, keep
from .shared.options import Json, PhotosIn, Seed, Units, can_write, length, print_json, say, told_by_options
from .shared.progress import share
from .shared.status import DONE, NO, OPEN, UNUSABLE

if TYPE_CHECKING:
    from salvage.fit.answer import Answer
    from salvage.project.project import Project
    from salvage.report.records import Loaded
    from salvage.telling import Telling
    from salvage.units import Unit

NAME = "fit"
FOR_DOUBTS = 6.0  # s at most, to find out whether a no hangs on a question about the garment,
KEPT_FOR_DOUBTS = 0.2  # and of all the time, where there are such questions
WITHOUT = "This is the answer without the cloth of what could not be used."


@told_by_options()
def run(
    files: Annotated[
        list[Path],
        typer.Argument(
            help="Garment records (or photographs with --side), then one project.",
            metavar="G.json... PROJECT.toml",
        ),
    ],
    told: Telling,
    photos: PhotosIn = None,
    seconds: Annotated[
        float, typer.Option("--seconds", help="How long to search.", min=0.1, max=86400)
    ] = 10.0,
    step_limit: Annotated[
        int | None,
        typer.Option(
            "--steps",
            help="Search so many steps instead, for each part of the work, proofs included: the same answer on any machine, "
            "however long that takes.",
            min=1,
        ),
    ] = None,
    seed: Seed = 0,
    out: Annotated[
        Path | None, typer.Option("--out", help="The report to write (.html; a .pdf is written beside it).")
    ] = None,
    sheet: Annotated[
        list[Path] | None,
        typer.Option(
            "--sheet",
            help="The whole layout at full size on one sheet: .pdf, .svg or .dxf. May be repeated.",
            metavar="FILE",
        ),
    ] = None,
    large_print: Annotated[bool, typer.Option("--large-print", help="The report in larger letters.")] = False,
    black_and_white: Annotated[
        bool, typer.Option("--black-and-white", help="The report without colours.")
    ] = False,
    other_cloth: Annotated[
        str | None,
        typer.Option(
            "--other-cloth",
            help="Width of the plain cloth that the report lays the project on too, 1400mm or 54in unless told.",
            metavar="LENGTH",
        ),
    ] = None,
    report: Annotated[bool, typer.Option("--report/--no-report", help="Write the report.")] = True,
    keep_rest: Annotated[
        Path | None,
        typer.Option(
            "--keep-rest",
            help="Once you cut it so: a record to write (.json) of what is left; the garment's own is marked as used up.",
            metavar="REST.json",
        ),
    ] = None,
    units: Units = None,
    json: Json = False,
) -> int:
    """Can this project be cut from these garments? Ends with 0 yes, 1 no, 3 too close or unsettled.

    Ctrl-C during the search gives the best answer so far. A garment that can't be used is named and left out; a yes
    without it stands, and anything else then ends with 4.
    """
    from salvage.errors import SalvageError
    from salvage.fit.write import answer_to_json
    from salvage.project.read import read_project
    from salvage.report.say.summary import fit_summary

    from .shared.photographs import load_garments

    garment_files, project_file = sort_out(files)
    project = read_project(project_file)
    unit = units or project.unit
    html = report_path(out, project_file) if report else None
    other_wide = length(other_cloth, "--other-cloth")
    sheets = sheet_paths(sheet or ())
    if keep_rest is not None:
        can_keep(keep_rest, garment_files)
    ahead("salvage.fit.fit", *(["salvage.report.paper.pages", "salvage.report.web.page"] if html else []))
    loaded = load_garments(garment_files, told, photos_in=photos or (), pictures=html is not None)
    for note in (*project.notes, *loaded.notes):
        say(f"note: {note}", aside=True)
    # The answer's sentences are written in the unit that the person wants to see.
    project = replace(project, unit=unit)
    answer = search(
        loaded, project, seconds=seconds, steps=step_limit, seed=seed, thorough=report or sheet is not None
    )
    if loaded.unused:
        answer = replace(answer, reasons=(WITHOUT, *answer.reasons))
    if not json:
        say(fit_summary(answer, project, unit, loaded.garments))
    status = status_of(answer, loaded)
    if html is not None or sheets:
        try:
            write_sheets(sheets, answer, loaded, project, unit)
            if html is not None:
                looks = (large_print, black_and_white)
                write_reports(html, answer, loaded, project, looks, other_wide, seed)
        except KeyboardInterrupt:
            say("stopped before the report was complete; the answer stands.", aside=True)
        except SalvageError as error:  # the answer is there and must not go under with the report
            say(f"salvage: {error}", aside=True)
            status = UNUSABLE
    if keep_rest is not None:
        keep(keep_rest, answer, loaded, project)
    if json:
        from salvage.report.say.notions import notions_data
        from salvage.report.say.savings import saving_data

        more: dict[str, Any] = {"unused": list(loaded.unused)} if loaded.unused else {}
        notes: dict[str, Any] = {"notes": [*project.notes, *loaded.notes]}
        notes |= {"notions": notions_data(project, loaded.garments), "saved": saving_data(loaded.garments)}
        print_json(answer_to_json(answer, loaded.garments, loaded.to_px) | notes | more)
    return status


def sort_out(files: list[Path]) -> tuple[list[Path], Path]:
    """Which of the files is the project. Raises UsageError where that isn't plain."""
    from salvage.errors import UsageError

    projects = [path for path in files if path.suffix.lower() == ".toml"]
    if len(projects) != 1:
        raise UsageError(f"give exactly one project (.toml); found {len(projects)}.")
    garments = [path for path in files if path != projects[0]]
    if not garments:
        raise UsageError("give at least one garment: a record (.json) or a photograph with --side.")
    return garments, projects[0]


def search(
    loaded: Loaded, project: Project, *, seconds: float, steps: int | None, seed: int, thorough: bool
) -> Answer:
    """Ask the fit room, with a progress bar; Ctrl-C asks it to stop and give what it has.

    thorough: what it finds is about to be cut, so that it is worth while to look for the layout that leaves most.
    """
    from salvage.fit.fit import fit_project
    from salvage.fit.hangs import open_questions, with_doubts

    doubts = any(open_questions(garment) for garment in loaded.garments) and steps is None
    for_search = seconds * (1.0 - KEPT_FOR_DOUBTS) if doubts else seconds
    with interruptible() as stopped, share("searching for a layout") as done:
        answer = fit_project(
            loaded.garments,
            project,
            seconds=for_search,
            steps=steps,
            seed=seed,
            stop=stopped,
            progress=done,
            thorough=thorough,
        )
        if not doubts:  # with steps, nothing is tried by the clock
            return answer
        left = min(FOR_DOUBTS, max(0.0, seconds - answer.seconds))
        return with_doubts(answer, loaded.garments, project, seconds=left, seed=seed, stop=stopped)


@contextmanager
def interruptible() -> Iterator[Callable[[], bool]]:
    """The first Ctrl-C is noted and asked for; the second one stops the program as usual."""
    pressed = False
    before = signal.getsignal(signal.SIGINT)

    def note(_number: int, _frame: Any) -> None:
        nonlocal pressed
        pressed = True
        signal.signal(signal.SIGINT, before)

    signal.signal(signal.SIGINT, note)
    try:
        yield lambda: pressed
    finally:
        signal.signal(signal.SIGINT, before)


def status_of(answer: Answer, loaded: Loaded) -> int:
    """A yes needs no more cloth; any other answer might be another with the garments that weren't used."""
    from salvage.fit.answer import Verdict

    if answer.is_yes:
        return DONE
    if loaded.unused:
        return UNUSABLE
    return NO if answer.verdict is Verdict.NO else OPEN


def report_path(out: Path | None, project_file: Path) -> Path:
    """Where the report goes; its page and its PDF never over a file that is not ours."""
    from salvage.report.write import ReportFiles

    path = out or Path(f"fit-{project_file.stem}.html")
    can_write(path, (".html", ".htm"), "the report (a .pdf is written beside it)")
    ReportFiles(path).check()
    return path


def sheet_paths(files: Sequence[Path]) -> Sequence[Path]:
    """Where the layout at full size goes; never over a file that is not ours."""
    if not files:  # most don't ask for it, and what draws it takes as long to load as the answer to find
        return files
    from salvage.ours import check_ours
    from salvage.report.template.write import ENDINGS

    for file in files:
        can_write(file, ENDINGS, "the layout at full size")
        check_ours(file)
    return files


def write_sheets(files: Sequence[Path], answer: Answer, loaded: Loaded, project: Project, unit: Unit) -> None:
    """Write the layout at full size, where there is one."""
    if not files:
        return
    from salvage.ours import write_ours
    from salvage.report.template.layout import layout_sheet
    from salvage.report.template.write import as_bytes

    drawing = layout_sheet(answer, loaded.garments, project, unit)
    if drawing is None:
        say("nothing is laid, so there is no layout to draw at full size.", aside=True)
        return
    for file in files:
        write_ours(file, as_bytes(drawing, file.suffix.lower(), unit))
        say(f"wrote {file}", aside=True)


def write_reports(
    html: Path,
    answer: Answer,
    loaded: Loaded,
    project: Project,
    looks: tuple[bool, bool] = (False, False),
    other_wide: float | None = None,
    seed: int = 0,
) -> None:
    """Write the report as a page, as a PDF beside it, and its cutting chart as CSV.

    looks: large print, no colours. other_wide: of the plain cloth that it is laid on too, mm.
    """
    from salvage.report.pen.draw import Printing
    from salvage.report.write import ReportFiles, plans_beside, write_report

    plans = plans_beside(answer, loaded, project, width=other_wide, seed=seed)
    written = write_report(ReportFiles(html), answer, loaded, project, Printing(*looks), plans=plans)
    for line in loaded.missing:
        say(f"warning: {line} The report has no layout drawn over that photograph.", aside=True)
    *before, last = map(str, written)
    say(f"wrote {', '.join(before)} and {last}", aside=True)

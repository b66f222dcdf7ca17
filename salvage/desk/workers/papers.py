"""What the second process draws and writes for somebody to take along: report, chart, marked pictures, full size."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from salvage.errors import UsageError
from salvage.units import Unit

if TYPE_CHECKING:
    from salvage.cloth.garment import Garment
    from salvage.desk.teller import Teller

Data = dict[str, Any]


def report(
    teller: Teller,
    records: list[str],
    project: str,
    out: str,
    unit: str,
    large: bool = False,
    grey: bool = False,
) -> Data:
    """The report of the answer, as a page and as a PDF, beside the record, its chart as CSV; and the marked pictures.

    large: large print; grey: black and white.
    """
    from salvage.desk.answer import asking
    from salvage.report.pen.draw import Printing
    from salvage.report.write import ReportFiles, plans_beside, write_report

    files = ReportFiles(Path(out).with_suffix(".html"))
    files.check()
    teller.step("reading the photographs")
    question = asking.asked([Path(each) for each in records], Path(project), Unit(unit), pictures=True)
    found = asking.last_answer(question, teller)
    shown = question.shown
    asked = replace(question.project, unit=question.unit)
    written = write_report(
        files, found, shown, asked, Printing(large, grey), plans=plans_beside(found, shown, asked), empty_chart=False,
        step=teller.step,
    )  # fmt: skip
    pictures = [name for each in records for name in marked(teller, each, unit)["files"]]
    return {
        "files": [*(file.name for file in written), *pictures],
        "missing": list(shown.missing),
        "yes": found.is_yes,
    }


def marked(teller: Teller, record: str, unit: str) -> Data:
    """The marked pictures of a record, one for each of its photographs that is there."""
    from salvage.cloth.record.file import read_garment
    from salvage.desk.answer.asking import loaded
    from salvage.report.keys import picture_key
    from salvage.report.marked import files_of, marked_beside, write_marked

    path = Path(record)
    garment = read_garment(path)
    shown = loaded([path])
    there = files_of(garment)
    files = []
    for file, target in zip(there, marked_beside(path, there), strict=True):
        photo, plane = shown.photos.get(picture_key(0, file)), shown.planes.get(picture_key(0, file))
        if photo is None or plane is None:
            continue
        teller.step(f"drawing {target.name}")
        write_marked(target, garment, file, photo, plane, Unit(unit))
        files.append(target.name)
    return {"files": files, "missing": list(shown.missing)}


def templates(
    teller: Teller, records: list[str], project: str, out: str, unit: str, layout: bool, paper: str
) -> Data:
    """Drawn at full size, as `salvage template` and `fit --sheet` do: the panels of a project, tiled on paper or on one
    sheet where paper is ""; or with layout all of the layout on one sheet."""
    from salvage.desk.answer import asking
    from salvage.ours import check_ours, write_ours
    from salvage.project.read import read_project
    from salvage.report.template.layout import layout_sheet
    from salvage.report.template.write import as_bytes, sheet_count, templates
    from salvage.trade.paper import ROLL_USUAL, TILED

    target, of = Path(out), Unit(unit)
    ending = target.suffix
    check_ours(target)
    if layout:
        question = asking.asked([Path(each) for each in records], Path(project), of)
        found = asking.last_answer(question, teller)
        teller.step("drawing the layout")
        drawing = layout_sheet(found, question.shown.garments, question.project, of)
        if drawing is None:
            raise UsageError("nothing is laid, so there is no layout to draw.")
        write_ours(target, as_bytes(drawing, ending, of))
        return {"files": [target.name], "sheets": 1}
    if paper and paper not in TILED:
        raise UsageError(f"{paper}: choose one of {', '.join(TILED)}.")
    read = read_project(Path(project))
    teller.step("drawing the panels")
    strips = not read.panels  # of a project that has nothing else
    tiled = bool(paper) and ending == ".pdf"
    more: Data = {"paper": paper} if tiled else {"roll": ROLL_USUAL if ending == ".pdf" else None}
    write_ours(target, templates(read, ending, of, strips=strips, **more))
    return {"files": [target.name], "sheets": sheet_count(read, of, paper, strips=strips) if tiled else 1}


def cut(teller: Teller, records: list[str], project: str, unit: str) -> Data:
    """It was cut as laid out: what is left of each garment is kept as one of its own, and those are marked as used up.

    The same as `salvage fit --keep-rest`. rests: the new records, by those that were cut; "" where nothing worth
    keeping is left.
    """
    from salvage.desk.answer import asking
    from salvage.desk.edit import journal
    from salvage.ours import free_name
    from salvage.rail.cut import cut_today, keep_new
    from salvage.rail.rest import rest_of

    question = asking.asked([Path(each) for each in records], Path(project), Unit(unit))
    found = asking.last_answer(question, teller)
    if not found.is_yes:
        raise UsageError("there is no layout that could have been cut.")
    asked, rests = question.project, {}
    for index in sorted({each.garment for each in found.placements}):
        path, garment = Path(records[index]), question.shown.garments[index]
        left = rest_of(
            garment, found.placements, index, gap=asked.cutting_gap, purpose=asked.name, file=path.name
        )
        place = path.with_name(f"{path.stem}-rest.json")
        place = free_name(place) if place.exists() else place
        if left is not None:
            keep_new(place, left)
        rest = place.name if left is not None else ""

        def marked_used(now: Garment, rest: str = rest) -> Garment:
            return cut_today(now, asked.name, rest)

        journal.change(path, marked_used, called={"do": "used"})
        rests[path.name] = rest
    return {"rests": rests}


TASKS: dict[str, Callable[..., Any]] = {
    "report": report,
    "marked": marked,
    "templates": templates,
    "cut": cut,
}

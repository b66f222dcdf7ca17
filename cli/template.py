"""`salvage template`: a project's panels at full size."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from .shared.options import Json, Units, can_write, length, print_json, say

NAME = "template"
NARROWEST_ROLL, WIDEST_ROLL = 100.0, 5000.0  # mm


def run(
    files: Annotated[
        list[Path],
        typer.Argument(
            help="The project; and garment records, to draw what of them a panel is cut round.",
            metavar="PROJECT.toml [G.json...]",
        ),
    ],
    out: Annotated[
        list[Path] | None,
        typer.Option("--out", help="What to write: .pdf, .svg or .dxf. May be repeated.", metavar="FILE"),
    ] = None,
    paper: Annotated[
        str | None,
        typer.Option("--paper", help="Sheets to tile the PDF on: A4, A3 or Letter.", metavar="SIZE"),
    ] = None,
    roll: Annotated[
        str | None,
        typer.Option(
            "--roll",
            help="All on one sheet for a plotter, on a roll so wide, such as 914mm or 36in.",
            metavar="LENGTH",
        ),
    ] = None,
    strips: Annotated[bool, typer.Option("--strips", help="Draw strips too, not only panels.")] = False,
    units: Units = None,
    json: Json = False,
) -> int:
    """Write a project's panels at full size, to print, to plot or to draw on with another program.

    A PDF is tiled on sheets that overlap, with marks to lay them together, a map of them and a square to check the
    printer with. The layout on a garment at full size is what `salvage fit --sheet` writes.
    """
    from salvage.cloth.record.file import read_garment
    from salvage.errors import UsageError
    from salvage.ours import check_ours, write_ours
    from salvage.project.read import read_project
    from salvage.report.say.words import plural
    from salvage.report.template.write import ENDINGS, sheet_count, templates
    from salvage.trade.paper import TILED
    from salvage.units import Unit

    project_file, records = sort_out(files)
    written = out or [Path(f"template-{project_file.stem}.pdf")]
    for file in written:
        can_write(file, ENDINGS, "a template")
        check_ours(file)
    names = {name.lower(): name for name in TILED}
    sheet = names.get(paper.lower()) if paper is not None else ""
    if sheet is None:
        raise UsageError(f"--paper {paper}: choose one of {', '.join(TILED)}, or one sheet with --roll.")
    wide = length(roll, "--roll")
    if wide is not None and not NARROWEST_ROLL <= wide <= WIDEST_ROLL:
        raise UsageError(f"--roll {roll}: give the width of the roll, from 100 mm to 5 m, such as 914mm.")
    project = read_project(project_file)
    garments = [read_garment(record) for record in records]
    for note in project.notes:
        say(f"note: {note}", aside=True)
    unit = units or project.unit
    if not project.panels and not strips:
        raise UsageError(f"{project_file}: has strips only. Draw them with --strips.")
    sheet = sheet or ("Letter" if unit is Unit.INCH else "A4")
    drawn = len(project.panels) + (len(project.strips) if strips else 0)
    count = sheet_count(project, unit, sheet, strips=strips)
    for file in written:
        ending = file.suffix.lower()
        drawing = templates(project, ending, unit, paper=sheet, roll=wide, strips=strips, garments=garments)
        write_ours(file, drawing)
        tiles = (
            f" on {plural(count, 'sheet')} of {sheet}"
            if ending == ".pdf" and wide is None
            else " on one sheet"
        )
        say(f"wrote {file}: {plural(drawn, 'template')}{tiles}.", aside=True)
    if json:
        print_json(
            {
                "format": "salvage template 1",
                "files": [str(file) for file in written],
                "paper": sheet if wide is None else None,
                "sheets": count if wide is None else 1,
                "panels": [panel.name for panel in project.panels],
                "notes": list(project.notes),
            }
        )
    return 0


def sort_out(files: Sequence[Path]) -> tuple[Path, list[Path]]:
    """Which of the files is the project; the rest are records. Raises UsageError where that isn't plain."""
    from salvage.errors import UsageError

    records = [path for path in files if path.suffix.lower() == ".json"]
    others = [path for path in files if path not in records]
    if len(others) != 1:
        raise UsageError(f"give exactly one project (.toml); found {len(others)}.")
    return others[0], records

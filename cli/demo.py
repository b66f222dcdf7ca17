"""`salvage demo`: all of it on a demonstration photograph, into a folder."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated

import typer

from salvage.desk.samples import PHOTO, SIDE, data_folder

from .shared.options import Units, beside, say

NAME = "demo"
PROJECTS = ("tool_roll.toml", "bench_cover.toml")


def run(
    out: Annotated[Path, typer.Option("--out", help="The folder to fill.")] = Path("salvage-demo"),
    units: Units = None,
) -> int:
    """Check, measure and fit a demonstration photograph: a work coat, a tool roll, and a cover that is too big."""
    from salvage.ours import copy_as_it_is

    from . import check, fit, holds, measure

    record = out / "work_coat.json"
    reports = {name: out / f"fit-{Path(name).stem}.html" for name in PROJECTS}
    make_folder(out)
    nothing_in_the_way(out, record, reports.values())
    copy_as_it_is(data_folder("demo_images") / PHOTO, out / PHOTO)
    for name in PROJECTS:
        copy_as_it_is(data_folder("projects") / name, out / name)
    say(f"salvage check {PHOTO} --side {SIDE}")
    check.run([out / PHOTO], side=SIDE, units=units, json=False)
    say(f"\nsalvage measure {PHOTO} --side {SIDE} --out {record.name}")
    measure.run([out / PHOTO], out=record, side=SIDE, name="work coat", units=units, json=False)
    say(f"\nsalvage holds {record.name}")
    holds.run([record], units=units, json=False)
    for name, report in reports.items():
        say(f"\nsalvage fit {record.name} {name}")
        fit.run([record, out / name], out=report, units=units, json=False)
    say(f"\nEverything is in {out}: open {reports[PROJECTS[0]]} and {beside(record, '-marked.jpg')}.")
    return 0


def make_folder(out: Path) -> None:
    """The folder to fill: a new or an empty one, or one that the demonstration has begun to fill before."""
    from salvage.errors import SalvageError

    try:
        out.mkdir(parents=True, exist_ok=True)
        # a killed run may have left a file that it was still writing, where the disk can't write without a name
        filled = any(not each.name.startswith(".salvage") for each in out.iterdir())
    except OSError as error:
        raise SalvageError(
            f"{out}: can't be made a folder ({error.strerror}). Choose another with --out."
        ) from error
    if filled and not (out / PHOTO).exists():
        raise SalvageError(f"{out}: is not empty. Choose another folder with --out.")


def nothing_in_the_way(out: Path, record: Path, reports: Iterable[Path]) -> None:
    """Raise SalvageError before the work where one of the files to write is a person's."""
    from salvage.cloth.record.file import read_garment
    from salvage.ours import check_copy, check_ours
    from salvage.report.write import ReportFiles

    check_copy(data_folder("demo_images") / PHOTO, out / PHOTO)
    for name in PROJECTS:
        check_copy(data_folder("projects") / name, out / name)
    if record.exists():
        read_garment(record)
    check_ours(beside(record, "-marked.jpg"))
    for report in reports:
        ReportFiles(report).check()

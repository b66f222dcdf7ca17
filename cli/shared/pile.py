"""What `holds`, `match` and `rail` share: a folder opened, photographs measured, results written."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from .options import can_write, print_json, say

if TYPE_CHECKING:
    from salvage.project.project import Project
    from salvage.rail.crew.pool import Crew
    from salvage.rail.rail import Rail
    from salvage.rail.show.cards import Card
    from salvage.units import Unit

Records = Annotated[
    Path | None,
    typer.Option(
        "--out", help="A folder to keep records in; beside the photographs unless told.", metavar="FOLDER"
    ),
]
Cores = Annotated[
    int | None,
    typer.Option("--cores", help="So many processes at once; as many as there are cores unless told.", min=1),
]
Scheduler = Annotated[
    str | None,
    typer.Option(
        "--scheduler", help="Hand the work to a Dask cluster, such as tcp://10.0.0.5:8786.", metavar="ADDRESS"
    ),
]
Again = Annotated[
    bool, typer.Option("--again", help="Try photographs again that could not be measured before.")
]
Sort = Annotated[
    str, typer.Option("--sort", help="By name, area, largest, strip, kind, date or number (of the project).")
]
Csv = Annotated[Path | None, typer.Option("--csv", help="A table to write (.csv).", metavar="FILE")]
Page = Annotated[
    Path | None,
    typer.Option(
        "--page", help="A page to write (.html): a card for each, to sort and print.", metavar="FILE"
    ),
]


@contextmanager
def opened(
    folder: Path, out: Path | None, *, cores: int | None = None, scheduler: str | None = None
) -> Iterator[Rail]:
    """The rail of a folder, with whoever does the work. Raises SalvageError for what is no folder."""
    from salvage.errors import SalvageError
    from salvage.rail.rail import open_rail

    if not folder.is_dir():
        raise SalvageError(
            f"{folder}: is no folder. Give the folder that the garments' photographs or records lie in."
        )
    if out is not None and not out.is_dir():
        raise SalvageError(f"{out}: there is no such folder. Make it, or choose another with --out.")
    with crew_of(cores, scheduler) as crew, open_rail(folder, out, crew=crew) as rail:
        told = rail.notes
        for note in told:
            say(f"note: {note}", aside=True)
        try:
            yield rail
        finally:
            for note in rail.notes:
                if note not in told:
                    say(f"note: {note}", aside=True)


@contextmanager
def crew_of(cores: int | None, scheduler: str | None) -> Iterator[Crew]:
    """Processes of this machine, or a cluster. Raises SalvageError where that doesn't answer."""
    from salvage.errors import UsageError
    from salvage.rail.crew.pool import Processes, how_many

    if scheduler is None:
        yield Processes(cores or how_many())
        return
    if cores is not None:
        raise UsageError(
            "--cores is about this machine, and --scheduler gives the work to others. Give one of them."
        )
    from salvage.rail.crew.cluster import cluster

    with cluster(scheduler) as crew:
        yield crew


@contextmanager
def watched() -> Iterator[Callable[[str, int, int], None]]:
    """Progress with the time left, where a person watches."""
    if not sys.stderr.isatty():
        yield lambda _what, _done, _of: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(),
        TimeRemainingColumn(elapsed_when_finished=True), TextColumn("left"),
    )  # fmt: skip
    with Progress(*columns, console=Console(stderr=True), transient=True, speed_estimate_period=600) as bar:
        tasks = {}

        def tell(what: str, done: int, of: int) -> None:
            if what not in tasks:
                tasks[what] = bar.add_task(what, total=of)
            bar.update(tasks[what], completed=done, total=of)

        yield tell


def sorted_cards(cards: Sequence[Card], by: str) -> tuple[Card, ...]:
    """Raises UsageError for another word than those of SORTS."""
    from salvage.errors import UsageError
    from salvage.rail.show.cards import SORTS, sorted_by

    if by not in SORTS:
        raise UsageError(f"--sort {by}: choose one of {', '.join(SORTS)}.")
    return sorted_by(cards, by)


def places(csv: Path | None, page: Path | None) -> None:
    """Raise UsageError or SalvageError where a table or a page can't go there, before the work."""
    from salvage.ours import check_ours

    if csv is not None:
        can_write(csv, (".csv",), "a table")
    if page is not None:
        can_write(page, (".html", ".htm"), "a page")
        check_ours(page)


def tell_cards(rail: Rail, cards: Sequence[Card], unit: Unit, *, json: bool) -> None:
    """Print the garments and the files that can't be used."""
    from salvage.rail.show.data import rail_data
    from salvage.rail.show.table import rail_lines

    if not json:
        say("\n".join(rail_lines(cards, rail.bad, unit)))
        return
    print_json(rail_data(cards, rail.bad, unit))


def write_cards(
    rail: Rail, cards: Sequence[Card], unit: Unit, *, csv: Path | None, page: Path | None, folder: Path
) -> None:
    """Write the garments as a table and as a page, where asked for."""
    from salvage.rail.show.table import rail_csv

    if csv is not None:
        write_csv(csv, rail_csv(cards, rail.bad, unit), rail)
    if page is not None:
        write_page(page, rail, cards, unit, f"The rail of {folder.resolve().name}")


def write_csv(path: Path, text: str, rail: Rail) -> None:
    """Write a table, never over a file that isn't ours. A spreadsheet shows whatever stands in it, so it carries no
    mark; the index knows it by its content."""
    from salvage.errors import SalvageError
    from salvage.files import update
    from salvage.ours import free_name
    from salvage.rail.known.keys import content_of

    data = b"\xef\xbb\xbf" + text.encode()  # the mark by which spreadsheets know UTF-8

    def change(before: bytes | None) -> bytes:
        if before not in (None, data) and not rail.store.is_written(path, content_of(before or b"")):
            raise SalvageError(
                f"{path}: is there already and isn't known as a table of this program, or was changed since, so it stays. "
                f"Choose another --csv: {free_name(path).name} is free."
            )
        return data

    update(path, change)
    rail.store.keep_written(path, content_of(data))
    say(f"wrote {path}", aside=True)


def write_page(path: Path, rail: Rail, cards: Sequence[Card], unit: Unit, title: str) -> None:
    """Write the page with a card for each garment."""
    from salvage.ours import write_ours
    from salvage.rail.show.page import rail_page

    with watched() as progress:
        pictures = rail.pictures(cards, progress=progress)
    write_ours(path, rail_page(cards, rail.bad, pictures, unit=unit, title=title))
    say(f"wrote {path}", aside=True)


def projects_in(files: Sequence[Path]) -> list[Project]:
    """Projects, read. Raises SalvageError for one that can't be."""
    from salvage.project.read import read_project

    found = [read_project(path) for path in files]
    for project, path in zip(found, files, strict=True):
        for note in project.notes:
            say(f"note: {path.name}: {note}", aside=True)
    return found

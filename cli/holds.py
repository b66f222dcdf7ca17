"""`salvage holds`: how much sound cloth there is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .shared.options import Json, Units, print_json, say, told_by_options
from .shared.pile import Again, Cores, Csv, Page, Records, Scheduler, Sort
from .shared.status import DONE, UNUSABLE

if TYPE_CHECKING:
    from salvage.telling import Telling

NAME = "holds"


@told_by_options()
def run(
    files: Annotated[
        list[Path],
        typer.Argument(
            help="Garment records, or photographs with --side; or one folder of them.",
            metavar="G.json...|FOLDER",
        ),
    ],
    told: Telling,
    project: Annotated[
        list[Path] | None,
        typer.Option("--project", help="Say how many of this project (.toml) each gives. May be repeated."),
    ] = None,
    seconds: Annotated[
        float,
        typer.Option("--seconds", help="How long to look for one project on one garment.", min=0.3, max=3600),
    ] = 4.0,
    out: Records = None,
    sort: Sort = "area",
    csv: Csv = None,
    page: Page = None,
    cores: Cores = None,
    scheduler: Scheduler = None,
    again: Again = False,
    units: Units = None,
    json: Json = False,
) -> int:
    """Say how much sound cloth the garments hold: area, largest rectangles and strip lengths, by fabric.

    Of several, each is told first and then the sum. A garment that can't be used is named and left out, and the
    command then ends with 4.

    Of a FOLDER, every photograph that no record is about is measured first; its record is kept beside it (or in --out),
    so that it is measured once and Ctrl-C loses nothing: the same command goes on where it was. Then comes a table of
    what hangs there, and with --csv and --page a spreadsheet's table and a page with pictures. One bad photograph stops
    nobody; it is told at the end, and the command then ends with 4.
    """

    folders = [path for path in files if path.is_dir()]
    if not folders:
        only_of_a_folder(out=out, csv=csv, page=page, cores=cores, scheduler=scheduler, again=again or None)
        return of_files(files, told, project or [], seconds, units, json)
    of_one_folder(files, folders, told)
    return of_folder(
        folders[0], told, project or [], seconds=seconds, out=out, sort=sort, csv=csv, page=page, cores=cores,
        scheduler=scheduler, again=again, units=units, json=json,
    )  # fmt: skip


# --- garments by name --------------------------------------------------------------------------------


def of_files(
    files: Sequence[Path], told: Telling, projects: Sequence[Path], seconds: float, units: Units, json: bool
) -> int:
    """Each garment, then the sum."""
    from salvage.cloth.savings import savings
    from salvage.fit.material.holds import holds, holds_to_json
    from salvage.rail.answer.copies import copies_of
    from salvage.report.say.savings import saving_data, saving_lines
    from salvage.report.say.summary import SIZES_WORDS, holds_lines
    from salvage.units import Unit

    from .shared.photographs import load_garments
    from .shared.pile import projects_in

    wanted = projects_in(projects)
    loaded = load_garments(files, told, pictures=False)
    unit = units or Unit.MM
    for note in loaded.notes:
        say(f"note: {note}", aside=True)
    several = len(loaded.garments) > 1
    each = [holds([garment], unit) for garment in loaded.garments] if several else []
    found = holds(loaded.garments, unit)
    made = [[copies_of(garment, one, seconds=seconds) for one in wanted] for garment in loaded.garments]
    if json:
        more: dict[str, Any] = {"unused": list(loaded.unused)} if loaded.unused else {}
        garments = [
            {
                "name": garment.name,
                **_without_format(holds_to_json(own)),
                **_made_data(counts),
                "saved": saving_data([garment]),
            }
            for garment, own, counts in zip(loaded.garments, each or [found], made, strict=True)
        ]
        print_json(holds_to_json(found) | {"garments": garments} | more)
        return UNUSABLE if loaded.unused else DONE
    indent = "  " if several else ""
    for garment, own, counts in zip(loaded.garments, each or [found], made, strict=True):
        lines = holds_lines(own, unit, (garment,))
        for count in counts:
            why = f" ({count.why})" if count.why and not count.least else ""
            lines.append(f"{count.project}: {count.words} times{why}")
        if kept := saving_lines(savings(garment), unit):
            lines += ["to save:", *(f"  {line}" for line in kept)]
        say("\n".join([*([f"{garment.name}:"] if several else []), *(indent + line for line in lines)]))
    if several:
        say(f"In all, {len(loaded.garments)} garments:")
        say("\n".join(f"  {line}" for line in holds_lines(found, unit, loaded.garments)))
    say(SIZES_WORDS)
    return UNUSABLE if loaded.unused else DONE


# --- a folder of them --------------------------------------------------------------------------------


def of_folder(
    folder: Path,
    told: Telling,
    projects: Sequence[Path],
    *,
    seconds: float,
    out: Path | None,
    sort: str,
    csv: Path | None,
    page: Path | None,
    cores: int | None,
    scheduler: str | None,
    again: bool,
    units: Units,
    json: bool,
) -> int:
    """Measure what isn't measured, then tell what hangs there."""
    from salvage.units import Unit

    from .shared.pile import opened, places, projects_in, sorted_cards, tell_cards, watched, write_cards

    sorted_cards((), sort)
    places(csv, page)
    unit = units or Unit.MM
    wanted = [replace(each, unit=unit) for each in projects_in(projects)]
    with opened(folder, out, cores=cores, scheduler=scheduler) as rail:
        with watched() as progress:
            measured = rail.hang(told, again=again, progress=progress)
            cards = rail.cards(unit, projects=wanted, seconds=seconds, progress=progress)
        cards = sorted_cards(cards, sort)
        if measured:
            say(f"measured {measured} photographs; their records are in {rail.home}", aside=True)
        tell_cards(rail, cards, unit, json=json)
        write_cards(rail, cards, unit, csv=csv, page=page, folder=folder)
        return UNUSABLE if rail.bad or not cards else DONE


def of_one_folder(files: Sequence[Path], folders: Sequence[Path], told: Telling) -> None:
    """Raise UsageError for more than one folder, or pixels of a picture told of many."""
    from salvage.errors import UsageError

    if len(files) > 1:
        raise UsageError(f"{folders[0]}: is a folder. Give one folder by itself, or garments by name.")
    if told.known or told.square_at or told.cloth_at or told.floor_at:
        raise UsageError(
            "--known, --square, --cloth and --floor are pixels of one picture: measure that photograph by itself."
        )


def only_of_a_folder(**given: object) -> None:
    """Raise UsageError where an option for folders is given with garments by name."""
    from salvage.errors import UsageError

    names = [name for name, value in given.items() if value is not None]
    if names:
        raise UsageError(
            f"--{names[0]} is for a folder of garments. Give a folder instead of garments by name."
        )


def _without_format(data: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key not in ("format", "units")}


def _made_data(counts: Sequence[Any]) -> dict[str, Any]:
    made = [{"project": c.project, "least": c.least, "most": c.most, "why": c.why} for c in counts]
    return {"made": made} if made else {}

"""`salvage match`: which project from which garment, and what to make of all of them."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from .shared.options import Json, Seed, Units, print_json, say, told_by_options
from .shared.pile import Again, Cores, Csv, Records, Scheduler
from .shared.status import DONE, NO, OPEN, UNUSABLE

if TYPE_CHECKING:
    from salvage.project.project import Project
    from salvage.rail.match import Matched, Wish
    from salvage.telling import Telling

NAME = "match"

T = TypeVar("T")


@told_by_options("side", "kind", "fabric")
def run(
    garments: Annotated[
        Path, typer.Argument(help="A folder of garment records, or photographs with --side.")
    ],
    projects: Annotated[Path, typer.Argument(help="A folder of projects (.toml), or one project.")],
    told: Telling,
    worth: Annotated[
        list[str] | None,
        typer.Option(
            "--worth", help="What one of a project is worth; 1 unless told.", metavar="PROJECT=VALUE"
        ),
    ] = None,
    wanted: Annotated[
        list[str] | None,
        typer.Option(
            "--wanted", help="How many of a project are wanted; any number unless told.", metavar="PROJECT=N"
        ),
    ] = None,
    seconds: Annotated[
        float, typer.Option("--seconds", help="How long to look, for everything.", min=1, max=864000)
    ] = 300.0,
    seed: Seed = 0,
    out: Records = None,
    csv: Csv = None,
    cores: Cores = None,
    scheduler: Scheduler = None,
    again: Again = False,
    units: Units = None,
    json: Json = False,
) -> int:
    """Which project can be cut from which garment, and what to make so that most is made, each garment once.

    Answers: yes, with joins, too close, no, not suited, or unsettled. Photographs that no record is about are measured
    first. What is found out is kept, so Ctrl-C loses nothing and the same command goes on where it was. Ends with 0 if
    something can be made, 1 if nothing can, 3 if nothing can as far as it is known, 4 if a file could not be used and
    nothing can be made without it.
    """
    from salvage.rail.match import match
    from salvage.rail.show.data import match_data
    from salvage.rail.show.table import match_csv, match_lines
    from salvage.units import Unit

    from .shared.pile import opened, places, watched, write_csv

    places(csv, None)
    unit = units or Unit.MM
    found, names, broken = projects_of(projects)
    found = [replace(each, unit=units or each.unit) for each in found]
    wishes = wishes_of(names, [path.stem for path in toml_files(projects)], worth, wanted)
    with opened(garments, out, cores=cores, scheduler=scheduler) as rail:
        with watched() as progress:
            rail.hang(told, again=again, progress=progress)
            cards = rail.cards(unit, progress=progress)
            matched = match(rail, cards, found, wishes=wishes, seconds=seconds, seed=seed, progress=progress)
        bad = [*broken, *((each.file, each.reason) for each in rail.bad)]
        if matched.stopped:
            say("stopped; what was found out by then is kept.", aside=True)
        if csv is not None:
            write_csv(csv, match_csv(matched, names), rail)
        if json:
            print_json(match_data(matched, names, bad))
        else:
            for line in match_lines(matched, names) if matched.cards else ["No garment to match."]:
                say(line)
        for file, reason in () if json else bad:
            say(f"not used: {file}: {reason}", aside=True)
    return status_of(matched, bool(bad))


def status_of(matched: Matched, bad: bool) -> int:
    from salvage.fit.answer import Verdict

    if matched.plan.pairs:
        return DONE
    if bad:
        return UNUSABLE
    close = any(each.verdict == Verdict.TOO_CLOSE for each in matched.answers.values())
    return OPEN if matched.open or close else NO


def toml_files(place: Path) -> list[Path]:
    """The project files of a folder, or the one that is given."""
    from salvage.errors import SalvageError

    if not place.is_dir():
        return [place]
    try:
        files = sorted(p for p in place.iterdir() if p.suffix.lower() == ".toml" and p.is_file())
    except OSError as error:
        raise SalvageError(
            f"{place}: can't be read as a folder ({error.strerror}). Check its name."
        ) from error
    if not files:
        raise SalvageError(f"{place}: there is no project (.toml) in that folder.")
    return files


def projects_of(place: Path) -> tuple[list[Project], list[str], list[tuple[str, str]]]:
    """Projects, what to call each (told apart by their files), and those that can't be read, with the reason."""
    from salvage.errors import SalvageError

    from .shared.pile import projects_in

    read: list[tuple[Path, Project]] = []
    broken = []
    for path in toml_files(place):
        try:
            read.append((path, projects_in([path])[0]))
        except SalvageError as error:
            broken.append((path.name, str(error)))
    if not read:
        raise SalvageError("none of the projects can be used. " + " ".join(reason for _, reason in broken))
    names = [project.name for _, project in read]
    told = [f"{p.name} ({path.stem})" if names.count(p.name) > 1 else p.name for path, p in read]
    return [project for _, project in read], told, broken


def wishes_of(
    names: Sequence[str], stems: Sequence[str], worth: list[str] | None, wanted: list[str] | None
) -> list[Wish]:
    """What is told of each project, by its name or that of its file. Raises UsageError."""
    from salvage.rail.match import Wish

    values = _told(names, stems, worth, "--worth", float, "a number such as 2.5")
    counts = _told(names, stems, wanted, "--wanted", int, "a whole number")
    return [Wish(values.get(index, 1.0), counts.get(index)) for index in range(len(names))]


def _told(
    names: Sequence[str],
    stems: Sequence[str],
    texts: list[str] | None,
    option: str,
    read: Callable[[str], T],
    what: str,
) -> dict[int, T]:
    from salvage.errors import UsageError

    found: dict[int, T] = {}
    for text in texts or ():
        name, equals, value = text.rpartition("=")
        plain = [each.casefold() for each in names]
        files = [each.casefold() for each in stems]
        key = name.strip().casefold().removesuffix(".toml")
        if not equals or key not in (*plain, *files):
            near = difflib.get_close_matches(key, [*plain, *files], n=1)
            meant = f" Did you mean {near[0]!r}?" if near else ""
            raise UsageError(
                f"{option} {text}: write a project's name, an equals sign and {what}. The projects are: {', '.join(names)}.{meant}"
            )
        try:
            number: Any = read(value.strip())
            if not 0 <= number < 1e6:
                raise ValueError
        except ValueError:
            raise UsageError(f"{option} {text}: {value!r} is not {what} from 0 on.") from None
        found[plain.index(key) if key in plain else files.index(key)] = number
    return found

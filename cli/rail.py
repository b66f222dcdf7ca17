"""`salvage rail`: find a garment on the rail, and mark those that are used up."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from .shared.options import Json, Units, say
from .shared.pile import Csv, Page, Records, Sort
from .shared.status import DONE, UNUSABLE

if TYPE_CHECKING:
    from salvage.cloth.garment import Garment
    from salvage.units import Unit

NAME = "rail"


def run(
    folder: Annotated[Path, typer.Argument(help="The folder of garments.")],
    name: Annotated[str, typer.Option("--name", help="Part of the garment's or its file's name.")] = "",
    fabric: Annotated[
        str, typer.Option("--fabric", help="A fabric, such as lining, or a kind of cloth, such as denim.")
    ] = "",
    kind: Annotated[str, typer.Option("--kind", help="A kind of cloth, such as denim or knit.")] = "",
    least: Annotated[
        str | None,
        typer.Option(
            "--least",
            help="A clear rectangle of at least this size, length along the grain.",
            metavar="WxL, 400x600mm",
        ),
    ] = None,
    since: Annotated[
        str, typer.Option("--since", help="Photographed on this day or later.", metavar="YYYY-MM-DD")
    ] = "",
    until: Annotated[
        str, typer.Option("--until", help="Photographed on this day or before.", metavar="YYYY-MM-DD")
    ] = "",
    used: Annotated[
        bool | None, typer.Option("--used/--unused", help="Only those used up, or only those that aren't.")
    ] = None,
    mark_used: Annotated[
        list[Path] | None,
        typer.Option(
            "--mark-used", help="Mark this record's garment as used up. May be repeated.", metavar="G.json"
        ),
    ] = None,
    purpose: Annotated[
        str, typer.Option("--for", help="With --mark-used: what it went into.", metavar="TEXT")
    ] = "",
    mark_free: Annotated[
        list[Path] | None,
        typer.Option("--mark-free", help="Its cloth is there after all. May be repeated.", metavar="G.json"),
    ] = None,
    out: Records = None,
    sort: Sort = "area",
    csv: Csv = None,
    page: Page = None,
    units: Units = None,
    json: Json = False,
) -> int:
    """Find garments on the rail by name, cloth, size or date, and mark those that are used up.

    Nothing is measured here: salvage holds FOLDER does that. The index in FOLDER/.salvage may be deleted at any time;
    it is made again from the records.
    """
    from salvage.report.say.words import plural
    from salvage.units import Unit

    from .shared.pile import opened, places, sorted_cards, tell_cards, watched, write_cards

    unit = units or Unit.MM
    sorted_cards((), sort)
    places(csv, page)
    size = None if least is None else size_of(least, unit)
    days = [day(text, option) for text, option in ((since, "--since"), (until, "--until"))]
    mark(mark_used or (), mark_free or (), purpose)
    with opened(folder, out, cores=1) as rail:
        with watched() as progress:
            cards = rail.cards(unit, progress=progress)
        found = rail.find(
            cards, text=name, fabric=fabric, kind=kind, least=size, since=days[0], until=days[1], used=used
        )
        found = sorted_cards(found, sort)
        tell_cards(rail, found, unit, json=json)
        waiting = len(rail.photographs)
        if waiting:
            say(
                f"{plural(waiting, 'photograph')} not measured yet: salvage holds {folder} measures {'it' if waiting == 1 else 'them'}.",
                aside=True,
            )
        write_cards(rail, found, unit, csv=csv, page=page, folder=folder)
        return UNUSABLE if rail.bad else DONE


def size_of(text: str, unit: Unit) -> tuple[float, float]:
    """Read `400x600mm`. Raises UsageError."""
    from salvage.errors import UsageError
    from salvage.units import parse_length

    parts = re.split(r"\s*[x×*]\s*", text.strip())
    if len(parts) != 2:
        raise UsageError(f"--least {text}: write width x length along the grain, such as 400x600mm.")
    ending = re.search(r"(mm|cm|in|inch|inches|\"|″)\s*$", parts[1])
    if ending and not re.search(r"[a-z\"″]\s*$", parts[0]):
        parts[0] += ending[1]
    width, length = (parse_length(part, unit) for part in parts)
    if min(width, length) <= 0:
        raise UsageError(f"--least {text}: both must be more than 0.")
    return width, length


def day(text: str, option: str) -> str:
    """Raises UsageError for what is no day."""
    from salvage.errors import UsageError

    try:
        return date.fromisoformat(text).isoformat() if text else ""
    except ValueError:
        raise UsageError(f"{option} {text}: write a day as YYYY-MM-DD.") from None


def mark(used: Sequence[Path], free: Sequence[Path], purpose: str) -> None:
    """Note in the records that their garments are used up, or not."""
    from salvage.cloth.record.file import update_garment
    from salvage.errors import SalvageError, UsageError
    from salvage.rail.note import mark_free, mark_used

    if purpose and not used:
        raise UsageError("--for says what a garment went into: name its record with --mark-used.")

    def changed(path: Path, garment: Garment | None, *, gone: bool) -> Garment:
        if garment is None:
            raise SalvageError(f"{path}: no such file. Give the record of a garment.")
        if gone:
            return mark_used(garment, purpose=purpose, date=date.today().isoformat())
        return mark_free(garment)

    for paths, gone in ((used, True), (free, False)):
        for path in paths:
            update_garment(path, lambda garment, path=path, gone=gone: changed(path, garment, gone=gone))  # type: ignore[misc]
            say(f"{path}: {'marked as used up' if gone else 'on the rail again'}", aside=True)

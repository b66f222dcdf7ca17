"""What a worker process does for the rail: the same calls as `salvage rail`, `holds` and `match` make. Plain data."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from salvage.units import Unit, format_area, parse_length

if TYPE_CHECKING:
    from salvage.desk.teller import Teller
    from salvage.project.project import Project
    from salvage.rail.show.cards import Card

Data = dict[str, Any]

PER_PROJECT = 6.0  # s of searching for one project, where the quick look leaves it open


class _Stopped(Exception):
    """The page wants no more of it."""


def cards(teller: Teller, folder: str, unit: str, wanted: Mapping[str, Any]) -> Data:
    """What hangs in a folder, as the page asks for it.

    wanted: text, cloth ("kind:denim" or "fabric:lining"), least (width, length as written), used ("", "yes", "no"),
    sort. All cards are told of in `cards`, those that are wanted in their order by their files in `shown`.
    """
    from salvage.rail.rail import open_rail
    from salvage.rail.show.cards import SORTS, card_data, sorted_by, totals
    from salvage.rail.show.data import unused_data

    of = Unit(unit)
    what, _, cloth = str(wanted.get("cloth") or "").partition(":")
    used = {"yes": True, "no": False}.get(str(wanted.get("used") or ""))
    with open_rail(Path(folder)) as rail:
        hung = rail.cards(of, progress=_progress(teller))
        found = rail.find(
            hung, text=str(wanted.get("text") or ""), least=_least(wanted.get("least"), of), used=used,
            fabric=cloth if what == "fabric" else "", kind=cloth if what == "kind" else "",
        )  # fmt: skip
        by = str(wanted.get("sort"))
        shown = sorted_by(found, by if by in SORTS else "area")
        return {
            "cards": [card_data(each, of) for each in hung],
            "shown": [each.file for each in shown],
            "kinds": sorted({each.kind for each in hung if each.kind}),
            "fabrics": sorted({f.fabric for each in hung for f in each.fabrics}, key=str.casefold),
            "totals": [[fabric, format_area(area, of)] for fabric, area in totals(shown).items()],
            "bad": unused_data((each.file, each.reason) for each in rail.bad),
            "waiting": [path.name for path in rail.photographs],
        }


def picture(teller: Teller, folder: str, content: str) -> Data:
    """Have the small marked picture of a garment drawn, into the index. drawn: whether there is one."""
    from salvage.rail.rail import open_rail

    with open_rail(Path(folder)) as rail:
        return {"drawn": rail.picture(content) is not None}


def hang(teller: Teller, folder: str, side: str) -> Data:
    """Measure every photograph of a folder that no record is about; those that can't be are told of."""
    from salvage.rail.crew.pool import Processes
    from salvage.rail.rail import open_rail
    from salvage.rail.show.data import unused_data
    from salvage.telling import Telling

    told = Telling(side=parse_length(side) if side.strip() else None)
    with open_rail(Path(folder), crew=Processes()) as rail:
        measured = 0
        try:
            measured = rail.hang(told, again=True, progress=_progress(teller))
        except _Stopped:
            rail.look_again()
        return {
            "measured": measured,
            "bad": unused_data((each.file, each.reason) for each in rail.bad),
            "waiting": [path.name for path in rail.photographs],
        }


def made(teller: Teller, folder: str, record: str, projects: Sequence[Sequence[str]], unit: str) -> Data:
    """What can be made of one garment. projects: (name by which the page knows it, path). What is known so far is told
    on the way, as the whole is."""
    from dataclasses import replace

    from salvage.cloth.record.file import read_garment
    from salvage.errors import SalvageError
    from salvage.project.read import read_project
    from salvage.rail.answer.ask import made_of
    from salvage.rail.store import open_store

    read: dict[str, tuple[str, Project]] = {}  # by a name that each has for itself
    for file, path in projects:
        try:
            project = replace(read_project(Path(path)), unit=Unit(unit))
        except SalvageError:
            continue  # the list of projects tells what is wrong with it
        name = f"{project.name} ({file})" if project.name in read else project.name
        read[name] = file, replace(project, name=name)
    told: dict[str, Data] = {}
    store = open_store(Path(folder))
    try:
        answers = made_of(
            read_garment(Path(record)),
            [p for _, p in read.values()],
            seconds=PER_PROJECT,
            stop=teller.stopped,
            store=store,
        )
        for each in answers:
            told[each.project] = {
                "project": read[each.project][0], "name": each.project, "verdict": each.verdict, "reason": each.reason,
                "settled": each.settled,
            }  # fmt: skip
            teller.part({"answers": list(told.values()), "of": len(read)})
    finally:
        store.close()
    return {"answers": list(told.values()), "of": len(read)}


def others(teller: Teller, folder: str, project: str, unit: str, without: Sequence[str]) -> Data:
    """Which other garments of a folder one project can be cut from: those where it can, the best first, as they are
    found. without: records that were asked already."""
    from dataclasses import replace

    from salvage.project.read import read_project
    from salvage.rail.answer.ask import made_of
    from salvage.rail.rail import open_rail

    asked = replace(read_project(Path(project)), unit=Unit(unit))
    with open_rail(Path(folder)) as rail:
        hung = rail.cards(Unit(unit), progress=_progress(teller))
        left = [each for each in hung if not each.used and each.suits and each.file not in without]
        records = {each.content: each for each in rail.records}
        found: list[Data] = []
        for done, card in enumerate(sorted(left, key=_most_cloth)):
            if teller.stopped():
                break
            teller.share(done / len(left))
            garment = records[card.content].garment()
            answers = list(
                made_of(
                    garment,
                    [asked],
                    seconds=PER_PROJECT,
                    stop=teller.stopped,
                    store=rail.store,
                    facts=card.facts,
                )
            )
            if answers and (last := answers[-1]).yes:
                found.append(
                    {"file": card.file, "name": card.name, "verdict": last.verdict, "reason": last.reason}
                )
                teller.part({"found": found, "asked": len(left)})
        return {"found": found, "asked": len(left)}


TASKS: dict[str, Callable[..., Any]] = {
    "rail_cards": cards,
    "rail_picture": picture,
    "rail_hang": hang,
    "rail_made": made,
    "rail_others": others,
}


def _most_cloth(card: Card) -> float:
    return -card.area


def _least(written: Any, unit: Unit) -> tuple[float, float] | None:
    """Width and length of a rectangle, as somebody wrote them in a form; where one is empty any will do."""
    texts = [str(each or "").strip() for each in written or ()]
    if not any(texts):
        return None
    width, length = (parse_length(each, unit) if each else 1.0 for each in texts)
    return max(width, 1.0), max(length, 1.0)


def _progress(teller: Teller) -> Callable[[str, int, int], None]:
    """Tells of each garment that is done, and how long the others will take, from the time that those took."""
    begun = time.monotonic()

    def tell(_what: str, done: int, of: int) -> None:
        if teller.stopped():
            raise _Stopped
        left = (time.monotonic() - begun) / done * (of - done) if done else None
        teller.counted(done, of, left)

    return tell

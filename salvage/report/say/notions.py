"""What a project needs beside cloth, and what of it the garment gives."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.cloth.savings import Saving, savings
from salvage.project.outlines import stitching_line
from salvage.project.project import Project, Strip
from salvage.report.say.table import Table
from salvage.report.say.words import items_of, listed
from salvage.trade.behaviour import thread_for
from salvage.units import MM_PER_INCH, Unit, format_exact, format_length

_LEAST_THREAD = 5_000.0  # mm; less than this nobody measures
_STRAPS = ("strap", "handle", "belt", "tie")


def notions_table(project: Project, garments: Sequence[Garment], unit: Unit) -> Table:
    """What is needed, how much, and what the garment has of it that was surely found."""
    rows = []
    for need in needs(project):
        if need.length is None:
            rows.append((need.what, f"{need.count} ×, for {need.part}", _given(need, garments, unit)))
            continue
        count = f"{need.count} × " if need.count > 1 else ""
        rows.append(
            (
                need.what,
                f"{count}{format_exact(need.length, unit)}, for {need.part}",
                _given(need, garments, unit),
            )
        )
    for strip in project.strips:
        if strip.folds > 1 and any(word in strip.name.casefold() for word in _STRAPS):
            rows.append((f"webbing instead of {strip.name}", _webbing(strip, unit), "–"))
    if (thread := thread_needed(project)) > 0:
        rows.append(("thread", f"about {_long(thread, unit)}, a guess", "–"))
    return Table(("What", "Needed", "The garment has"), (1.6, 2.6, 2.8), tuple(rows))


@dataclass(frozen=True, slots=True)
class Need:
    """What a part of the project takes beside cloth. length: mm each, None where it has none."""

    what: str
    length: float | None
    count: int
    part: str


def needs(project: Project) -> tuple[Need, ...]:
    """All that parts take: zips, cords."""
    return tuple(
        Need(notion.what, notion.length, notion.count, part.name)
        for part in project.parts
        for notion in part.notions
    )


def thread_needed(project: Project) -> float:
    """A guess at the thread, mm; 0 where nothing is sewn."""
    seams = _seams(project)
    return max(thread_for(seams), _LEAST_THREAD) if seams > 0 else 0.0


def notions_data(project: Project, garments: Sequence[Garment]) -> list[dict[str, Any]]:
    """For `--json`: lengths in mm; garment_has: lengths of those that the garments surely have."""
    found: list[dict[str, Any]] = [
        {
            "what": need.what, "length": need.length, "count": need.count, "for": need.part,
            "garment_has": [round(each.length or 0.0, 1) for each in _like(need, garments)],
        }
        for need in needs(project)
    ]  # fmt: skip
    if (thread := thread_needed(project)) > 0:
        found.append({"what": "thread", "length": round(thread), "count": 1, "for": "", "garment_has": []})
    return found


def _webbing(strip: Strip, unit: Unit) -> str:
    count = f"{strip.cut} × " if strip.cut > 1 else ""
    wide = format_exact(strip.finished_width or strip.cut_width, unit)
    return f"{count}{format_exact(strip.length, unit)}, {wide} wide"


def _seams(project: Project) -> float:
    """Length of all seams, mm: each joins two edges; a strip is sewn along both of its own."""
    total = 0.0
    for item in items_of(project):
        if isinstance(item, Strip):
            total += 2 * item.length * item.cut
            continue
        line = stitching_line(item)
        around = (line if line is not None else Polygon(item.outline)).exterior.length
        total += item.cut * around / 2
    return total


def _long(length: float, unit: Unit) -> str:
    """To whole metres or yards, up."""
    if unit is Unit.INCH:
        return f"{math.ceil(length / (36 * MM_PER_INCH))} yd"
    return f"{math.ceil(length / 1000)} m"


def _like(need: Need, garments: Sequence[Garment]) -> list[Saving]:
    """What the garments surely have of that sort, longest first."""
    found = [
        each
        for garment in garments
        for each in savings(garment)
        if each.sure and (str(each.kind) == need.what or need.what in each.name.casefold())
    ]
    return sorted(found, key=lambda each: -(each.length or 0.0))


def _given(need: Need, garments: Sequence[Garment], unit: Unit) -> str:
    """`one of about 560 mm (front), long enough`."""
    found = _like(need, garments)
    if not found:
        return "–"
    told = []
    for each in found:
        if each.length is None:
            told.append(f"one ({each.piece})")
            continue
        fits = need.length is None or each.length >= need.length
        fitting = "" if need.length is None else ", long enough" if fits else ", too short"
        told.append(f"one of about {format_length(each.length, unit)} ({each.piece}){fitting}")
    return listed(told)

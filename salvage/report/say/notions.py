"""What a project needs beside cloth, and what of it the garment gives."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise

from shapely.geometry import Polygon

from salvage.cloth.garment import DOUBTFUL, Blocked, BlockedKind, FoundBy, Garment
from salvage.project.outlines import stitching_line
from salvage.project.project import Project, Strip
from salvage.report.say.table import Table
from salvage.report.say.words import items_of, listed, plural
from salvage.trade.behaviour import thread_for
from salvage.units import MM_PER_INCH, Unit, format_exact, format_length

_LEAST_THREAD = 5_000.0  # mm; less than this nobody measures
_BUTTONS, _ZIPS = ("button", "snap", "toggle"), ("zip",)
_STRAPS = ("strap", "handle", "belt", "tie")


def notions_table(project: Project, garments: Sequence[Garment], unit: Unit) -> Table:
    """What is needed, how much, and what the garment has of it that was surely found."""
    given = _given(garments, unit)
    rows = []
    for part in project.parts:
        for notion in part.notions:
            size = format_exact(notion.length, unit) if notion.length is not None else ""
            count = f"{notion.count} × " if notion.count > 1 else ""
            rows.append((notion.what, f"{count}{size}, for {part.name}".strip(), given.get(notion.what, "–")))
    for strip in project.strips:
        if strip.folds > 1 and any(word in strip.name.casefold() for word in _STRAPS):
            rows.append((f"webbing instead of {strip.name}", _webbing(strip, unit), "–"))
    seams = _seams(project)
    if seams > 0:
        rows.append(("thread", f"about {_long(max(thread_for(seams), _LEAST_THREAD), unit)}, a guess", "–"))
    told = {row[0] for row in rows}
    rows += [(f"{what}s", "not asked for", have) for what, have in given.items() if what not in told]
    return Table(("What", "Needed", "The garment has"), (1.6, 2.6, 2.8), tuple(rows))


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


def _given(garments: Sequence[Garment], unit: Unit) -> dict[str, str]:
    """By notion, what is on the garments: `zip`: `one of about 560 mm (front)`."""
    zips: list[str] = []
    buttons: Counter[str] = Counter()
    for piece, blocked in _closures(garments):
        name = blocked.what.casefold()
        if any(word in name for word in _ZIPS):
            zips.append(f"one of about {format_length(_longer_side(blocked), unit)} ({piece})")
        elif any(word in name for word in _BUTTONS):
            buttons[blocked.what] += 1
    found = {"zip": listed(zips)} if zips else {}
    if buttons:
        found["button"] = listed([plural(count, name) for name, count in buttons.items()])
    return found


def _closures(garments: Sequence[Garment]) -> Iterator[tuple[str, Blocked]]:
    """Each closure once, with a piece that it lies on; only those that a person drew or that are not in doubt."""
    seen = set()
    for garment in garments:
        for piece in garment.pieces:
            for blocked in piece.blocked:
                sure = blocked.found_by is FoundBy.PERSON or blocked.confidence >= DOUBTFUL
                if blocked.kind is not BlockedKind.CLOSURE or not sure or (blocked.id and blocked.id in seen):
                    continue
                seen.add(blocked.id)
                yield piece.name, blocked


def _longer_side(blocked: Blocked) -> float:
    box = blocked.shape.minimum_rotated_rectangle
    if not isinstance(box, Polygon):
        return float(blocked.shape.length)
    return max(math.dist(*pair) for pair in pairwise(list(box.exterior.coords)[:3]))

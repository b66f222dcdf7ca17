"""What of the garments can be saved, in words, as a table and as plain data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from salvage.cloth.garment import Garment
from salvage.cloth.savings import Saving, savings
from salvage.fit.answer import Placement
from salvage.report.say.table import Table
from salvage.report.say.words import listed, plural
from salvage.units import Unit, format_length, format_size

_MOST_PIECES = 3  # names of pieces in one row
_CUT_THROUGH = 0.02  # of its area that a panel may take of a thing, which was measured no better


def saving_lines(found: Sequence[Saving], unit: Unit) -> list[str]:
    """`zip: 410 mm (front)`, `4 buttons (front)`: of one garment, alike ones together."""
    return [_row_words(name, size, "".join(where)) for name, size, where in _rows(found, unit)]


def _row_words(name: str, size: str, where: str) -> str:
    return f"{name}: {size} ({where})" if size else f"{name} ({where})"


def savings_table(garments: Sequence[Garment], unit: Unit, placements: Sequence[Placement] = ()) -> Table:
    """What can be saved of all garments. placements: what is cut from them; nothing is told that these keep or cut through."""
    rows = []
    for index, garment in enumerate(garments):
        taken = [each for each in placements if each.garment == index]
        found = [each for each in savings(garment) if not _is_taken(each, taken)]
        for name, size, where in _rows(found, unit):
            pieces, unsure = where
            of = f"{pieces} of {garment.name}" if len(garments) > 1 else pieces
            rows.append((name, size or "–", of + unsure))
    return Table(("What", "Size", "Where"), (2.0, 2.6, 3.0), tuple(rows))


def saving_data(garments: Sequence[Garment]) -> list[dict[str, Any]]:
    """For `--json`: lengths in mm."""
    return [
        {
            "kind": str(each.kind),
            "name": each.name,
            "garment": index,
            "piece": each.piece,
            "length": None if each.length is None else round(each.length, 1),
            "size": None if each.size is None else [round(side, 1) for side in each.size],
            "sure": each.sure,
        }
        for index, garment in enumerate(garments)
        for each in savings(garment)
    ]


def _rows(found: Sequence[Saving], unit: Unit) -> Iterator[tuple[str, str, tuple[str, str]]]:
    """Name with how many, size, the pieces and what is to be said of them; those without a size of their own together."""
    groups: dict[tuple[str, bool, str], list[Saving]] = {}
    for each in found:
        size = _size_words(each, unit)
        groups.setdefault((each.name, each.sure, size), []).append(each)
    for (name, sure, size), alike in groups.items():
        pieces = list(dict.fromkeys(each.piece for each in alike))
        more = [f"{len(pieces) - _MOST_PIECES} more"] if len(pieces) > _MOST_PIECES + 1 else []
        where = listed([*pieces[: _MOST_PIECES if more else None], *more])
        count = (
            name if len(alike) == 1 else f"{len(alike)} × {name}" if " " in name else plural(len(alike), name)
        )
        yield count, size, (where, "" if sure else "; not sure, look")


def _size_words(each: Saving, unit: Unit) -> str:
    if each.size is not None:
        return format_size(each.size, unit)
    return format_length(each.length, unit) if each.length is not None else ""


def _is_taken(saving: Saving, taken: Sequence[Placement]) -> bool:
    """Whether a panel keeps it, lies on it as on a hem, or is cut from it as from a cuff."""
    for placement in (placement for placement in taken if placement.piece == saving.piece):
        for each in saving.shapes:
            over = placement.shape.intersection(each)
            if each.area > 0 and over.area > _CUT_THROUGH * each.area:
                return True
            if each.area <= 0 and over.length > _CUT_THROUGH * each.length:
                return True
    return False

"""The rail as plain data, for `--json` and for the page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from salvage.rail.folder import Bad
from salvage.rail.match import Matched
from salvage.rail.show.cards import Card, card_data
from salvage.rail.show.table import asked_data
from salvage.units import Unit


def rail_data(cards: Sequence[Card], bad: Sequence[Bad], unit: Unit) -> dict[str, Any]:
    """Garments, and files that can't be used ("salvage rail 1")."""
    return {
        "format": "salvage rail 1",
        "units": "mm",
        "garments": [card_data(each, unit) for each in cards],
        "unused": unused_data((each.file, each.reason) for each in bad),
    }


def match_data(matched: Matched, names: Sequence[str], bad: Sequence[tuple[str, str]]) -> dict[str, Any]:
    """Which project from which garment ("salvage match 1"). names: of the projects; bad: files left out, and why."""

    def file(g: int) -> str:
        return matched.cards[g].file

    return {
        "format": "salvage match 1",
        "make": [{"garment": file(g), "project": names[p]} for g, p in matched.plan.pairs],
        "worth": matched.plan.worth,
        "worth_at_most": matched.could,
        "open": matched.open,
        "stopped": matched.stopped,
        "answers": [
            {"garment": file(g), "name": matched.cards[g].name, "project": names[p], **asked_data(each)}
            for (g, p), each in sorted(matched.answers.items())
        ],
        "unused": unused_data(bad),
    }


def unused_data(bad: Iterable[tuple[str, str]]) -> list[dict[str, str]]:
    """Files that can't be used, and why."""
    return [{"file": file, "reason": reason} for file, reason in bad]

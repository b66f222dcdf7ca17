"""After a cut: what is left of a garment goes into a record of its own, and the garment's own says that it is used up."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from salvage.cloth.garment import Garment
from salvage.cloth.record.file import update_garment
from salvage.errors import SalvageError
from salvage.rail.note import mark_used


def keep_new(place: Path, rest: Garment) -> None:
    """Write the rest into a record that isn't there yet. Raises SalvageError for one that is; it then stays as it is."""

    def only_new(before: Garment | None) -> Garment:
        if before is not None:
            raise SalvageError(f"{place}: is there already, so it stays. Choose another name.")
        return rest

    update_garment(place, only_new)


def cut_today(garment: Garment, purpose: str, rest: str) -> Garment:
    """The garment, used up today. rest: the record of what is left, "" where nothing worth keeping is."""
    return mark_used(garment, purpose=purpose, date=date.today().isoformat(), rest=rest)

"""The file of a garment record: read, changed and written in one step."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from salvage.cloth.garment import Garment, PiecePhoto
from salvage.cloth.record.numbers import numbered
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.errors import SalvageError
from salvage.files import content_hash, inside, read_text, text_of, update

_WHAT = "a garment record (.json)"


def read_garment(path: Path) -> Garment:
    """Read a garment record. Raises SalvageError saying which file, what is wrong and what to do."""
    return garment_from_json(read_text(path, _WHAT), str(path))


def update_garment(path: Path, change: Callable[[Garment | None], Garment]) -> Garment:
    """Write change(the garment in the record, None if there is none yet) into the record, and return it.

    Nobody's saving falls between reading and writing: change is called again with what was saved meanwhile.
    Raises SalvageError for a record that can't be read or written; it then stays as it is.
    """
    written: list[Garment] = []

    def changed(before: bytes | None) -> bytes:
        garment = change(
            None if before is None else garment_from_json(text_of(before, path, _WHAT), str(path))
        )
        garment = numbered(garment)
        written.append(garment)
        return garment_to_json(garment).encode()

    update(path, changed)
    return written[-1]


def with_contents(garment: Garment, folder: Path) -> Garment:
    """The garment with its photographs' content noted where an older record lacks it and the file is there."""

    def known(photo: PiecePhoto | None) -> PiecePhoto | None:
        if photo is None or photo.content:
            return photo
        try:
            path = inside(folder, photo.file)
            return replace(photo, content=content_hash(path)) if path.is_file() else photo
        except (OSError, ValueError, SalvageError):
            return photo

    return replace(
        garment,
        pieces=tuple(replace(each, photo=known(each.photo)) for each in garment.pieces),
        removed=tuple(replace(each, photo=known(each.photo)) for each in garment.removed),
    )

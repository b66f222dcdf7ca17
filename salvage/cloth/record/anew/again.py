"""Putting a new measurement into a garment's record: what every command, and the page, do before writing it."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from salvage.cloth.doubts import carried
from salvage.cloth.garment import Garment
from salvage.cloth.record.anew.merge import Merged, merge_all
from salvage.cloth.record.file import with_contents


def measured_again(
    old: Garment | None, found: Garment, folder: Path, told: Iterable[str] = ()
) -> tuple[Garment, Merged]:
    """The garment for the record, and what the merge says of it: whatever a person drew or answered in the old one stays.

    found: the new measurement, its photographs named relative to folder, the record's own. told: names of the
    garment's fields that the person told beside the photograph.
    """
    if old is None:
        return found, Merged(found)
    old = with_contents(old, folder)
    merged = merge_all(old, found, told=frozenset(told))
    return carried(old, merged.garment), merged


def with_photo_paths(garment: Garment, photos: Sequence[Path], folder: Path) -> Garment:
    """The garment whose pieces and questions name their photograph relative to the record's folder, as the record
    wants it; before, they name it by its bare name."""
    by_name = {
        path.name: os.path.relpath(path.resolve(), folder.resolve()).replace(os.sep, "/") for path in photos
    }
    pieces = tuple(
        replace(piece, photo=replace(piece.photo, file=by_name[piece.photo.file])) if piece.photo else piece
        for piece in garment.pieces
    )
    questions = tuple(replace(each, photo=by_name.get(each.photo, each.photo)) for each in garment.questions)
    return replace(garment, pieces=pieces, questions=questions)

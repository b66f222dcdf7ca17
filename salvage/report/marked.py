"""The marked pictures of a record: where they go, and writing them. One home for measuring, edits and the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from salvage.naming import numbered
from salvage.ours import write_ours
from salvage.units import Unit

if TYPE_CHECKING:
    from salvage.cloth.garment import Garment
    from salvage.photo.photo import Photo
    from salvage.report.drawing.ground import OnPhoto


def marked_beside(record: Path, photos: Sequence[str | Path]) -> list[Path]:
    """Where the marked picture of each photograph of a record goes: beside it, named by the photograph if it has several."""
    names = [record.stem]
    if len(photos) != 1:  # two may differ in their ending or their folder alone
        names = numbered([f"{record.stem}-{Path(photo).stem}" for photo in photos], "{name}-{number}")
    return [record.with_name(f"{name}-marked.jpg") for name in names]


def files_of(garment: Garment) -> list[str]:
    """The photographs that a garment's pieces name, each once."""
    return list(dict.fromkeys(piece.photo.file for piece in garment.pieces if piece.photo is not None))


def write_marked(
    target: Path, garment: Garment, file: str, photo: Photo, plane: OnPhoto, unit: Unit, **found: Any
) -> None:
    """Draw what of a garment lies in one of its photographs. found: squares and the like, of `marked_painting`."""
    from salvage.report.drawing.picture import marked_painting

    here = tuple(piece for piece in garment.pieces if piece.photo is not None and piece.photo.file == file)
    painting = marked_painting(photo, plane, replace(garment, pieces=here), unit=unit, **found)
    write_ours(target, painting.jpeg())

"""Garments for `fit` and `holds`: records, or photographs measured on the spot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.errors import SalvageError

from .look import look_at

if TYPE_CHECKING:
    from salvage.cloth.garment import Garment
    from salvage.job import Telling
    from salvage.photo.photo import Photo
    from salvage.scale.plane import Plane


@dataclass(frozen=True, slots=True)
class Loaded:
    """Garments whose pieces name their photograph by its path, and what is known of those photographs."""

    garments: tuple[Garment, ...]
    photos: dict[str, Photo] = field(default_factory=dict)
    planes: dict[str, Plane] = field(default_factory=dict)
    missing: tuple[str, ...] = ()


def load(paths: Sequence[Path], told: Telling | None) -> Loaded:
    """Read records and measure photographs. told: needed for photographs only."""
    garments: list[Garment] = []
    photos: dict[str, Photo] = {}
    planes: dict[str, Plane] = {}
    missing: list[str] = []
    for path in paths:
        if path.suffix.lower() == ".json":
            garment = _read_record(path, photos, planes, missing)
        else:
            garment = _measure(path, told, photos, planes)
        garments.append(garment)
    return Loaded(tuple(garments), photos, planes, tuple(dict.fromkeys(missing)))


def _read_record(
    path: Path, photos: dict[str, Photo], planes: dict[str, Plane], missing: list[str]
) -> Garment:
    from salvage.cloth.record import read_garment
    from salvage.photo.read import read_photo
    from salvage.scale.plane import Plane

    garment = read_garment(path)
    pieces = []
    for piece in garment.pieces:
        if piece.photo is not None:
            file = path.parent / piece.photo.file
            key = str(file)
            piece = replace(piece, photo=replace(piece.photo, file=key))
            if key not in planes and piece.photo is not None and piece.photo.camera:
                planes[key] = Plane.from_record(dict(piece.photo.camera), dict(piece.photo.mm_to_pixel))
            if key not in photos and key not in missing:
                try:
                    photos[key] = read_photo(file)
                except SalvageError:
                    # A record stands on its own; without its photograph only the picture of it is lacking.
                    missing.append(key)
        pieces.append(piece)
    return replace(garment, pieces=tuple(pieces))


def _measure(path: Path, told: Telling | None, photos: dict[str, Photo], planes: dict[str, Plane]) -> Garment:
    from salvage.errors import UsageError
    from salvage.job import measure

    if told is None or (told.side is None and told.paper is None):
        raise UsageError(f"{path}: a photograph needs --side (or --paper). A garment's record ends in .json.")
    seen = look_at(path, told)
    garment = measure([seen], told, name=path.stem).garment
    key = str(path)
    photos[key] = seen.photo
    assert seen.solution is not None
    planes[key] = seen.solution.plane
    pieces = tuple(
        replace(piece, photo=replace(piece.photo, file=key)) if piece.photo else piece
        for piece in garment.pieces
    )
    return replace(garment, pieces=pieces)

"""A garment's record together with its photographs: where its pieces lie in them, for pictures and for the page."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from salvage.cloth.garment import Garment, Piece
from salvage.errors import SalvageError, shown
from salvage.files import inside
from salvage.photo.photo import Photo
from salvage.report.keys import picture_key
from salvage.scale.plane import Plane

_FARTHEST_PX = 1e6  # from the picture's corner; a piece drawn farther off isn't in it


@dataclass(frozen=True, slots=True)
class Loaded:
    """Garments with their photographs and planes, by `salvage.report.keys.picture_key`.

    missing: a sentence for each photograph that a record names and that can't be shown. unused: what is wrong with
    each garment that was left out. notes: what is odd in a record and was taken as it is.
    """

    garments: tuple[Garment, ...]
    photos: dict[str, Photo] = field(default_factory=dict)
    planes: dict[str, Plane] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    unused: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    files: tuple[Path, ...] = ()

    def to_px(self, piece: Piece, points_mm: NDArray[np.float64]) -> NDArray[np.float64] | None:
        """A piece's mm in the pixels of its photograph; None where it has none."""
        if piece.photo is None:
            return None
        index = next(i for i, garment in enumerate(self.garments) if any(p is piece for p in garment.pieces))
        plane = self.planes.get(picture_key(index, piece.photo.file))
        return None if plane is None else plane.to_px(points_mm)


def with_photographs(
    garments: Sequence[Garment],
    files: Sequence[Path],
    *,
    photos_in: Sequence[Path] = (),
    pictures: bool = True,
    seen: Mapping[int, tuple[Photo, Plane]] | None = None,
) -> Loaded:
    """Garments of records with their planes, and with their photographs if pictures are wanted.

    photos_in: folders that these may lie in, beside the record's own. seen: of those, by place in the row, that were
    just measured from a photograph, it and its plane.
    """
    photos: dict[str, Photo] = {}
    planes: dict[str, Plane] = {}
    missing: list[str] = []
    for index, (path, garment) in enumerate(zip(files, garments, strict=True)):
        if seen and index in seen:
            photo, plane = seen[index]
            key = picture_key(index, photo.name)
            photos[key], planes[key] = photo, plane
            continue
        _read_planes(path, garment, index, planes, missing)
        if pictures:
            _read_photos(path, garment, index, photos_in, photos, missing)
    return Loaded(tuple(garments), photos, planes, tuple(dict.fromkeys(missing)), files=tuple(files))


def _read_planes(
    path: Path, garment: Garment, index: int, planes: dict[str, Plane], missing: list[str]
) -> None:
    """Where the pieces of a record lie in their photographs."""
    for piece in garment.pieces:
        if piece.photo is None or not piece.photo.camera:
            continue
        key = picture_key(index, piece.photo.file)
        if key not in planes:
            try:
                planes[key] = plane_of(piece)
            except SalvageError as error:
                missing.append(f"{path}: piece {shown(piece.name)}: {error}")


def _read_photos(
    path: Path,
    garment: Garment,
    index: int,
    photos_in: Sequence[Path],
    photos: dict[str, Photo],
    missing: list[str],
) -> None:
    """The photographs that a record names, for pictures only: a record stands on its own, so what can't be had of
    them is only told."""
    from salvage.photo.read import read_photo

    for file in dict.fromkeys(piece.photo.file for piece in garment.pieces if piece.photo is not None):
        try:
            photos[picture_key(index, file)] = read_photo(inside(path.parent, file, photos_in))
        except SalvageError as error:
            missing.append(str(error))


def _text(data: Mapping[str, Any]) -> str:
    return json.dumps(dict(data), sort_keys=True)


@lru_cache(maxsize=64)  # all pieces of a photograph have the same, before an edit and after it
def _plane(camera: str, mm_to_pixel: str) -> Plane:
    return Plane.from_record(json.loads(camera), json.loads(mm_to_pixel))


def plane_of(piece: Piece) -> Plane:
    """The plane as the record has it. Raises SalvageError where it leads nowhere."""
    assert piece.photo is not None
    try:
        with np.errstate(all="ignore"):
            plane = _plane(_text(piece.photo.camera), _text(piece.photo.mm_to_pixel))
            places = plane.to_px(np.asarray(piece.outline.exterior.coords, dtype=float))
        if np.isfinite(places).all() and float(np.abs(places).max()) < _FARTHEST_PX:
            return plane
    except (ArithmeticError, AttributeError, IndexError, KeyError, TypeError, ValueError):
        pass
    raise SalvageError('"camera" or "mm_to_pixel" of its photo is damaged. Measure again, or take both out.')

"""Garments for `fit` and `holds`: records, or photographs measured on the spot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.errors import SalvageError, UsageError

from .look import look_at, one_for_pixels

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from salvage.cloth.garment import Garment, Piece
    from salvage.photo.photo import Photo
    from salvage.scale.plane import Plane
    from salvage.telling import Telling


@dataclass(frozen=True, slots=True)
class Loaded:
    """Garments with their photographs and planes, by `salvage.report.drawing.figures.picture_key`.

    missing: photographs that a record names and that are not there.
    """

    garments: tuple[Garment, ...]
    photos: dict[str, Photo] = field(default_factory=dict)
    planes: dict[str, Plane] = field(default_factory=dict)
    missing: tuple[str, ...] = ()

    def to_px(self, piece: Piece, points_mm: NDArray[np.float64]) -> NDArray[np.float64] | None:
        """A piece's mm in the pixels of its photograph; None where it has none."""
        from salvage.report.drawing.figures import picture_key

        if piece.photo is None:
            return None
        index = next(i for i, garment in enumerate(self.garments) if any(p is piece for p in garment.pieces))
        plane = self.planes.get(picture_key(index, piece.photo.file))
        return None if plane is None else plane.to_px(points_mm)


def load(paths: Sequence[Path], told: Telling) -> Loaded:
    """Read records and measure photographs. told: its side is needed for photographs only."""
    garments: list[Garment] = []
    photos: dict[str, Photo] = {}
    planes: dict[str, Plane] = {}
    missing: list[str] = []
    each_once(paths)
    for_photographs([path for path in paths if path.suffix.lower() != ".json"], told)
    for index, path in enumerate(paths):
        if path.suffix.lower() == ".json":
            garments.append(_read_record(path, index, photos, planes, missing))
        else:
            garments.append(_measure(path, told, index, photos, planes))
    return Loaded(told_apart(garments, paths), photos, planes, tuple(dict.fromkeys(missing)))


def each_once(paths: Sequence[Path]) -> None:
    """Raise UsageError where a garment is given twice: the same cloth can't be cut twice."""
    files = [path.resolve() for path in paths]
    for path, file in zip(paths, files, strict=True):
        if files.count(file) > 1:
            raise UsageError(f"{path}: is given more than once, and its cloth is there only once.")
    seen: dict[bytes, Path] = {}
    for path in paths:
        text = path.read_bytes() if path.is_file() else b""
        # Typed in by hand, two garments may well be alike; two photographs never are.
        typed = path.suffix.lower() == ".json" and b'"photo"' not in text
        if text and not typed and text in seen:
            raise UsageError(
                f"{path}: holds the same as {seen[text]}, and that cloth is there only once. Give one of them."
            )
        seen[text] = path


def for_photographs(photos: Sequence[Path], told: Telling) -> None:
    """Raise UsageError where something is told about a photograph and none, or more than one, is given."""
    one_for_pixels(photos, told)
    about = {
        "--square": told.square_at, "--cloth": told.cloth_at, "--floor": told.floor_at, "--kind": told.kind,
        "--height": told.height is not None, "--layers": told.layers > 1, "--fabric": told.fabric != "shell",
    }  # fmt: skip
    given = [option for option, value in about.items() if value]
    if given and not photos:
        raise UsageError(
            f"{given[0]} is about a photograph, and only records are given, which say it themselves. "
            "Measure the photograph with it, or correct the record."
        )


def told_apart(garments: Sequence[Garment], paths: Sequence[Path]) -> tuple[Garment, ...]:
    """The garments; those that share a name get the name of their file behind it."""
    names = [garment.name for garment in garments]
    return tuple(
        replace(garment, name=f"{garment.name} ({path.stem})") if names.count(garment.name) > 1 else garment
        for garment, path in zip(garments, paths, strict=True)
    )


def _read_record(
    path: Path, index: int, photos: dict[str, Photo], planes: dict[str, Plane], missing: list[str]
) -> Garment:
    from salvage.cloth.record.file import read_garment
    from salvage.photo.read import read_photo
    from salvage.report.drawing.figures import picture_key
    from salvage.scale.plane import Plane

    garment = read_garment(path)
    for piece in garment.pieces:
        if piece.photo is None:
            continue
        key = picture_key(index, piece.photo.file)
        if key not in planes and piece.photo.camera:
            planes[key] = Plane.from_record(dict(piece.photo.camera), dict(piece.photo.mm_to_pixel))
        if key not in photos:
            try:
                photos[key] = read_photo(path.parent / piece.photo.file)
            except SalvageError:
                # A record stands on its own; without its photograph only the picture of it is lacking.
                missing.append(str(path.parent / piece.photo.file))
    return garment


def _measure(
    path: Path, told: Telling, index: int, photos: dict[str, Photo], planes: dict[str, Plane]
) -> Garment:
    from salvage.job import measure
    from salvage.report.drawing.figures import picture_key

    if told.side is None and told.paper is None:
        raise UsageError(f"{path}: a photograph needs --side (or --paper). A garment's record ends in .json.")
    seen = look_at(path, told)
    garment = measure([seen], told, name=path.stem).garment
    key = picture_key(index, seen.photo.name)
    photos[key] = seen.photo
    assert seen.solution is not None
    planes[key] = seen.solution.plane
    return garment

"""Garments for `fit` and `holds`: records, or photographs measured on the spot."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.errors import SalvageError, UsageError, shown
from salvage.files import closed, ordinary
from salvage.report.records import Loaded, read_photos, read_planes

from .look import look_at, one_for_pixels
from .options import say

if TYPE_CHECKING:
    from salvage.cloth.garment import Garment
    from salvage.photo.photo import Photo
    from salvage.scale.plane import Plane
    from salvage.telling import Telling


def load(
    paths: Sequence[Path], told: Telling, *, photos_in: Sequence[Path] | None = (), pictures: bool = True
) -> Loaded:
    """Read records and measure photographs. told: its side is needed for photographs only.

    photos_in: folders that the photographs of records may lie in, beside the record's own; None where the
    photographs of records aren't wanted. pictures: False where only the places in them are wanted. Raises SalvageError where no garment can be used; of several, those
    that can are loaded, and the others told of at once.
    """
    garments: list[Garment] = []
    used: list[Path] = []
    unused: list[str] = []
    notes: list[str] = []
    photos: dict[str, Photo] = {}
    planes: dict[str, Plane] = {}
    missing: list[str] = []
    each_once(paths)
    for_photographs([path for path in paths if path.suffix.lower() != ".json"], told)
    for path in paths:
        index = len(garments)
        try:
            there(path)
            if path.suffix.lower() == ".json":
                garments.append(_read_record(path))
                if photos_in is not None:
                    read_planes(path, garments[-1], index, planes, missing)
                    if pictures:
                        read_photos(path, garments[-1], index, photos_in, photos, missing)
                notes += [f"{path}: {note}" for note in oddities(garments[-1])]
            else:
                garments.append(_measure(path, told, index, photos, planes))
            used.append(path)
        except UsageError:
            raise
        except SalvageError as error:
            if len(paths) == 1:
                raise
            say(f"salvage: {error} Left out.", aside=True)
            unused.append(str(error))
    if not garments:
        raise SalvageError("none of the garments can be used. " + " ".join(unused))
    no_cloth_twice(garments, used)
    named = told_apart(garments, used)
    notes += [f"{path}: {note}" for path, g in zip(used, garments, strict=True) for note in gone(g)]
    return Loaded(
        named, photos, planes, tuple(dict.fromkeys(missing)), tuple(unused), tuple(notes), tuple(used)
    )


def there(path: Path) -> None:
    """Raise SalvageError for what is no file that can be read, whatever kind of garment it should hold."""
    ordinary(path, "a garment record (.json) or a photograph")
    try:
        with path.open("rb"):
            pass
    except PermissionError:
        raise closed(path) from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise SalvageError(
            f"{shown(path)}: can't be opened ({why}). Check the name and the folder."
        ) from error


def each_once(paths: Sequence[Path]) -> None:
    """Raise UsageError where a garment is given twice: the same cloth can't be cut twice."""
    files = [os.path.realpath(path) for path in paths]
    for path, file in zip(paths, files, strict=True):
        if files.count(file) > 1:
            raise UsageError(f"{path}: is given more than once, and its cloth is there only once.")
    seen: dict[bytes, Path] = {}
    for path in paths:
        text = _bytes_of(path)
        # Typed in by hand, two garments may well be alike; two photographs never are.
        typed = path.suffix.lower() == ".json" and b'"photo"' not in text
        if text and not typed and text in seen:
            raise UsageError(
                f"{path}: holds the same as {seen[text]}, and that cloth is there only once. Give one of them."
            )
        seen[text] = path


def no_cloth_twice(garments: Sequence[Garment], paths: Sequence[Path]) -> None:
    """Raise UsageError where two records hold the same cloth of one photograph: a garment and its rest, say."""
    from itertools import combinations

    from salvage.rail.folder import shared_cloth

    for (one, path), (other, file) in combinations(zip(garments, paths, strict=True), 2):
        if shared_cloth(one, other):
            raise UsageError(
                f"{file}: holds cloth of the same photograph that {path} holds too, and it is there only once. Give one of them."
            )


def gone(garment: Garment) -> tuple[str, ...]:
    """A word where the garment is marked as used up."""
    from salvage.rail.note import used_of

    used = used_of(garment)
    if used is None:
        return ()
    rest = f"; what was left is in {used.rest}" if used.rest else ""
    return (f"is marked as {used.words}{rest}. It is taken as if its cloth were there.",)


def _bytes_of(path: Path) -> bytes:
    """What the file holds; nothing where it can't be read, which is told of later."""
    try:
        return path.read_bytes() if path.is_file() else b""
    except OSError:
        return b""


def for_photographs(photos: Sequence[Path], told: Telling) -> None:
    """Raise UsageError where something is told about a photograph and none, or more than one, is given."""
    one_for_pixels(photos, told)
    about = {
        "--known": told.known, "--square": told.square_at, "--cloth": told.cloth_at, "--floor": told.floor_at, "--kind": told.kind,
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


def _read_record(path: Path) -> Garment:
    from salvage.cloth.record.file import read_garment

    return read_garment(path)


def oddities(garment: Garment) -> tuple[str, ...]:
    """What of a record is taken as it is, but told."""
    from salvage.cloth.record.odd import odd

    return odd(garment)


def _measure(
    path: Path, told: Telling, index: int, photos: dict[str, Photo], planes: dict[str, Plane]
) -> Garment:
    from salvage.job import measure

    seen = look_at(path, told)
    garment = measure([seen], told, name=path.stem).garment
    from salvage.report.keys import picture_key

    key = picture_key(index, seen.photo.name)
    photos[key] = seen.photo
    assert seen.solution is not None
    planes[key] = seen.solution.plane
    return garment

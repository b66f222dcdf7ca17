"""Garments for an answer: records, or photographs measured on the spot, each known to be there once."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.errors import SalvageError, UsageError, shown
from salvage.files import closed, ordinary
from salvage.naming import numbered
from salvage.report.records import Loaded, with_photographs
from salvage.telling import Telling, of_one_picture, require_photograph

if TYPE_CHECKING:
    from salvage.cloth.garment import Garment
    from salvage.job import Look
    from salvage.photo.photo import Photo
    from salvage.scale.plane import Plane


def load(
    paths: Sequence[Path],
    told: Telling,
    look_at: Callable[[Path, Telling], Look],
    *,
    tell: Callable[[str], None] = lambda _: None,
    photos_in: Sequence[Path] = (),
    pictures: bool = True,
) -> Loaded:
    """Read records and measure photographs. told: its side is needed for photographs only.

    look_at: reads and looks at a photograph. tell: is told at once of a garment that is left out. photos_in: folders
    that the photographs of records may lie in, beside the record's own. pictures: False where only the places in
    them are wanted. Raises SalvageError where no garment can be used; of several, those that can are loaded.
    """
    garments: list[Garment] = []
    used: list[Path] = []
    unused: list[str] = []
    notes: list[str] = []
    seen: dict[int, tuple[Photo, Plane]] = {}
    require_each_once(paths)
    photographs = [path for path in paths if path.suffix.lower() != ".json"]
    of_one_picture(len(photographs), told)
    require_photograph(len(photographs), told)
    for path in paths:
        try:
            there(path)
            if path.suffix.lower() == ".json":
                garments.append(_read_record(path))
                notes += [f"{path}: {note}" for note in oddities(garments[-1])]
            else:
                garment, seen[len(garments)] = _measure(path, told, look_at)
                garments.append(garment)
            used.append(path)
        except UsageError:
            raise
        except SalvageError as error:
            if len(paths) == 1:
                raise
            tell(f"salvage: {error} Left out.")
            unused.append(str(error))
    if not garments:
        raise SalvageError("none of the garments can be used. " + " ".join(unused))
    no_cloth_twice(garments, used)
    notes += [f"{path}: {note}" for path, g in zip(used, garments, strict=True) for note in gone(g)]
    loaded = with_photographs(garments, used, photos_in=photos_in, pictures=pictures, seen=seen)
    named = named_apart(garments, used)
    return replace(loaded, garments=named, unused=tuple(unused), notes=tuple(notes))


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


def require_each_once(paths: Sequence[Path]) -> None:
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
    if len(garments) < 2:
        return
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


def named_apart(garments: Sequence[Garment], paths: Sequence[Path]) -> tuple[Garment, ...]:
    """The garments; those that share a name get the name of their file behind it, and a number where that is shared too."""
    names = [garment.name for garment in garments]
    distinct = numbered(
        f"{name} ({path.stem})" if names.count(name) > 1 else name
        for name, path in zip(names, paths, strict=True)
    )
    return tuple(
        garment if garment.name == name else replace(garment, name=name)
        for garment, name in zip(garments, distinct, strict=True)
    )


def _read_record(path: Path) -> Garment:
    from salvage.cloth.record.file import read_garment

    return read_garment(path)


def oddities(garment: Garment) -> tuple[str, ...]:
    """What of a record is taken as it is, but told."""
    from salvage.cloth.record.odd import odd

    return odd(garment)


def _measure(
    path: Path, told: Telling, look_at: Callable[[Path, Telling], Look]
) -> tuple[Garment, tuple[Photo, Plane]]:
    from salvage.job import measure

    seen = look_at(path, told)
    garment = measure([seen], told, name=path.stem).garment
    assert seen.solution is not None
    return garment, (seen.photo, seen.solution.plane)

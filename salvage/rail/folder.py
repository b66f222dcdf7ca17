"""What lies in a folder of garments: records, photographs that no record is about yet, and what is wrong with the rest.

A photograph is known by its content, whatever it is called. Pictures that this program made (marked photographs, and
those of reports) are not photographs of garments; a JSON file that isn't a garment's record is nobody's business here.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Protocol

from salvage.cloth.garment import Garment, Piece, Reply
from salvage.cloth.record.anew.merge import touched
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import FORMAT
from salvage.cloth.usable import usable
from salvage.errors import SalvageError, shown
from salvage.files import read_text
from salvage.rail.note import rest_named, told_data, told_of, used_of
from salvage.telling import Telling

ENDINGS = (".jpg", ".jpeg", ".jpe", ".png", ".heic", ".heif", ".webp", ".tif", ".tiff")
MOST_BYTES = 200_000_000  # a file larger than this is no photograph
_SAME = 0.05  # of the smaller piece: cloth that two records share by more is there once
_WHAT = "a garment record (.json)"


@dataclass(frozen=True, slots=True)
class Bad:
    """A file that can't be used, and why. file: as the person would look for it."""

    file: str
    reason: str


@dataclass(frozen=True, slots=True)
class Brief:
    """What of a record must be known to hang it up, without reading it. photos: (file, content) of those it is about.

    told: with what the rail measured it; None where a person did. touched: a person has changed it.
    """

    photos: tuple[tuple[str, str], ...]
    told: Telling | None
    used: bool
    rest: bool
    touched: bool


@dataclass(frozen=True, slots=True)
class Record:
    """A garment's record. content: hash of the file."""

    path: Path
    content: str
    brief: Brief

    def text(self) -> str:
        """As it stands there. Raises SalvageError."""
        return read_text(self.path, _WHAT)

    def garment(self) -> Garment:
        """The garment in it, read again. Raises SalvageError."""
        return garment_from_json(self.text(), str(self.path))


def brief_of(garment: Garment) -> Brief:
    """What is in short to be known of a garment."""
    changed = any(touched(piece) for piece in garment.pieces) or bool(garment.by_person or garment.removed)
    answered = any(each.answer is not Reply.OPEN for each in garment.questions)
    return Brief(
        photos=tuple(contents(garment).items()),
        told=told_of(garment),
        used=used_of(garment) is not None,
        rest=rest_named(garment) is not None,
        touched=changed or answered,
    )


def brief_to_data(brief: Brief) -> dict[str, Any]:
    """Plain values, for the index."""
    told = None if brief.told is None else told_data(brief.told)
    return {**asdict(brief), "told": told}


def brief_from_data(data: Mapping[str, Any]) -> Brief:
    """The brief again. Raises KeyError, TypeError or ValueError for data of another shape."""
    told = None if data["told"] is None else Telling(**data["told"])
    return Brief(**{**data, "told": told, "photos": tuple((str(f), str(c)) for f, c in data["photos"])})


@dataclass(frozen=True, slots=True)
class Photograph:
    """A photograph of a garment, or of one that no record is about. content: hash of the file."""

    path: Path
    content: str


@dataclass(frozen=True, slots=True)
class FolderContents:
    """What lies there, in the order of their names: photographs whether a record is about them or not."""

    records: tuple[Record, ...]
    photographs: tuple[Photograph, ...]
    bad: tuple[Bad, ...]

    def unmeasured(self) -> tuple[Photograph, ...]:
        """Photographs that no record is about."""
        known = {content for each in self.records for _, content in each.brief.photos}
        return tuple(each for each in self.photographs if each.content not in known)


class Known(Protocol):
    """What is known of files from before (salvage.rail.store)."""

    def content(self, path: Path) -> str: ...

    def is_picture_of_ours(self, content: str, path: Path) -> bool: ...

    def brief(self, content: str) -> Brief | None: ...

    def keep_brief(self, content: str, brief: Brief) -> None: ...


def look_over(folder: Path, out: Path | None, known: Known) -> FolderContents:
    """Find all records in a folder (and in out, where others are kept) and the photographs.

    Only what isn't known is read. Raises SalvageError for a folder that can't be read.
    """
    places = [folder] if out is None or out.resolve() == folder.resolve() else [folder, out]
    files = [path for place in places for path in _files(place)]
    bad: list[Bad] = []
    records = []
    for path in files:
        if path.suffix.lower() == ".json":
            read = _record(path, folder, known, bad)
            records += [read] if read is not None else []
    records = _each_cloth_once(records, folder, bad)
    photographs = _photographs([p for p in files if p.suffix.lower() in ENDINGS], folder, known, bad)
    return FolderContents(tuple(records), tuple(photographs), tuple(bad))


def contents(garment: Garment) -> dict[str, str]:
    """The photographs that a record is about: the content of each, by its file."""
    pieces = (*garment.pieces, *garment.removed)
    return {each.photo.file: each.photo.content for each in pieces if each.photo is not None}


def named(path: Path, folder: Path) -> str:
    """A file as it is told of: relative to the folder where it lies in it."""
    try:
        return path.relative_to(folder).as_posix()
    except ValueError:
        return str(path)


def _files(folder: Path) -> list[Path]:
    try:
        return sorted(p for p in folder.iterdir() if p.is_file() and not p.name.startswith("."))
    except OSError as error:
        raise SalvageError(
            f"{folder}: can't be read as a folder ({error.strerror or error}). Check its name."
        ) from error


def _record(path: Path, folder: Path, known: Known, bad: list[Bad]) -> Record | None:
    """The record in a file; None for what is none, and for one that is broken, which is told."""
    try:
        content = known.content(path)
        brief = known.brief(content)
        if brief is None:
            text = read_text(path, _WHAT)
            if _of_another_kind(text):
                return None
            brief = brief_of(garment_from_json(text, str(path)))
            known.keep_brief(content, brief)
        return Record(path, content, brief)
    except OSError as error:
        bad.append(Bad(named(path, folder), f"can't be opened ({error.strerror or error})."))
    except SalvageError as error:
        bad.append(Bad(named(path, folder), _why(error, path)))
    return None


def _of_another_kind(text: str) -> bool:
    """Whether a JSON file is something else than a garment's record, and not a broken one either."""
    if FORMAT.rsplit(" ", 1)[0] in text:
        return False
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        return False
    return not (isinstance(data, dict) and "pieces" in data)


def _why(error: SalvageError, path: Path) -> str:
    return str(error).removeprefix(f"{shown(path)}: ").removeprefix(f"{path}: ")


def _photographs(files: Iterable[Path], folder: Path, known: Known, bad: list[Bad]) -> list[Photograph]:
    found: dict[str, Photograph] = {}
    for path in files:
        try:
            if path.stat().st_size > MOST_BYTES:
                bad.append(Bad(named(path, folder), "is larger than a photograph ever is."))
                continue
            content = known.content(path)
            if known.is_picture_of_ours(content, path):
                continue
        except OSError as error:
            bad.append(Bad(named(path, folder), f"can't be opened ({error.strerror or error})."))
            continue
        if content in found:
            same = named(found[content].path, folder)
            bad.append(
                Bad(
                    named(path, folder),
                    f"is the same photograph as {same}, and that cloth is there only once. Take one of them away.",
                )
            )
            continue
        found[content] = Photograph(path, content)
    return list(found.values())


# --- the same cloth in two records -----------------------------------------------------------------


def _each_cloth_once(records: Sequence[Record], folder: Path, bad: list[Bad]) -> list[Record]:
    """The records, without those whose cloth another one holds already.

    What is the rest of another garment takes its place: that one is then used up, whether it says so or not.
    """
    kept: list[Record] = []
    by_photo: dict[str, list[Record]] = {}
    # rests come first, and of two alike the one that comes first in the folder stays
    for record in sorted(records, key=lambda each: not each.brief.rest):
        photos = sorted({content for _, content in record.brief.photos} - {""})
        beside = [one for photo in photos for one in by_photo.get(photo, ())]
        if not record.brief.used and beside:
            mine = record.garment()
            other = next((one for one in beside if shared_cloth(one.garment(), mine)), None)
            if other is not None:
                bad.append(Bad(named(record.path, folder), _there_already(other, folder)))
                continue
        kept.append(record)
        for photo in () if record.brief.used else photos:
            by_photo.setdefault(photo, []).append(record)
    return sorted(kept, key=lambda each: records.index(each))


def _there_already(other: Record, folder: Path) -> str:
    file = named(other.path, folder)
    if other.brief.rest:
        return f"its cloth is in {file}, which is what was left of it. Mark it used up with salvage rail --mark-used."
    return f"holds the same cloth of the same photograph as {file}, and it is there only once. Take one of them away."


def shared_cloth(one: Garment, other: Garment) -> bool:
    """Whether two records hold the same cloth: usable pieces of one photograph that lie over each other."""
    mine = _by_photo(one)
    return any(
        _overlap(piece, each)
        for photo, pieces in _by_photo(other).items()
        for each in pieces
        for piece in mine.get(photo, ())
    )


def _by_photo(garment: Garment) -> dict[str, list[Piece]]:
    found: dict[str, list[Piece]] = {}
    for piece in garment.pieces:
        if piece.photo is not None and piece.photo.content:
            found.setdefault(piece.photo.content, []).append(piece)
    return found


def _overlap(one: Piece, other: Piece) -> bool:
    if not one.outline.intersects(other.outline):
        return False
    mine, theirs = usable(one), usable(other)
    least = min(mine.area, theirs.area)
    return least > 0 and mine.intersection(theirs).area > _SAME * least

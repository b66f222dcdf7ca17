"""The folder that the page works in: what lies in it, and where a name leads.

A name that comes from a browser is the bare name of a file in the folder itself: no path, nothing hidden, never
through a link that leads out. What the page alone needs to remember lies in the folder's `.salvage`.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from salvage.errors import SalvageError, UsageError, shown
from salvage.files import inside, update

T = TypeVar("T")

PHOTOS = (".jpg", ".jpeg", ".png", ".heic", ".heif", ".webp", ".tif", ".tiff", ".bmp", ".avif")
OURS = ".salvage"
_MOST_FILES = 500
_LONGEST = 100  # letters of a file's name
_RESULT = re.compile(r"-marked\.jpe?g$", re.IGNORECASE)
# What no file may be called on one of the systems that a folder may be carried to.
_FORBIDDEN = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]')


class _Taken(Exception):
    """Somebody laid a file where there was none a moment ago."""


def new_only(content: T) -> Callable[[object], T]:
    """A change to a file, as `files.update` asks for it: this content where nothing is; else `Shelf.lay` goes on."""

    def change(before: object) -> T:
        if before is not None:
            raise _Taken
        return content

    return change


@dataclass(frozen=True, slots=True)
class Shelf:
    """A folder of garments and projects."""

    folder: Path

    def file(self, name: str, endings: tuple[str, ...]) -> Path:
        """The file of that name. Raises UsageError for what is no bare name with one of these endings."""
        if not name or name != bare_name(name) or not name.lower().endswith(endings):
            raise UsageError(f"{shown(name)}: is not the name of a file in this folder.")
        return inside(self.folder, name)

    def record(self, name: str) -> Path:
        return self.file(name, (".json",))

    def photo(self, name: str) -> Path:
        return self.file(name, PHOTOS)

    def project(self, name: str) -> Path:
        """A project's file; of one that is tried only the file that it has until it is kept."""
        path = self.file(name, (".toml",))
        trial = self.trial(name)
        return trial if trial.exists() and not path.exists() else path

    def trial(self, name: str) -> Path:
        """Where a project lies that is tried only: beside the others, for its drawings, and hidden."""
        return self.folder / f".{self.file(name, ('.toml',)).name}"

    def trials(self) -> list[Path]:
        """The files of all projects that are tried only, the latest first."""
        found = [each for each in self.folder.glob(".*.toml") if each.is_file()]
        return sorted(found, key=lambda each: -each.stat().st_mtime)

    def names(self, endings: tuple[str, ...]) -> list[str]:
        """Names of the files with these endings, sorted; what is hidden, and marked pictures, left out."""
        found = (
            each.name
            for each in self.folder.iterdir()
            if each.suffix.lower() in endings
            and not each.name.startswith(".")
            and not _RESULT.search(each.name)
        )
        return sorted(found, key=str.casefold)[:_MOST_FILES]

    def free(self, name: str) -> Path:
        """A file of that name, or of one like it, where nothing is yet."""
        path = self.folder / bare_name(name)
        number = 2
        while path.exists():
            path = self.folder / f"{Path(bare_name(name)).stem}-{number}{Path(name).suffix}"
            number += 1
        return path

    def lay(self, name: str, write: Callable[[Path], object]) -> Path:
        """Have a new file written under that name, or one like it: what another thread lays there meanwhile stays.

        write: writes the file of a path, by a change that is `new_only`.
        """
        while True:
            path = self.free(name)
            with contextlib.suppress(_Taken):
                write(path)
                return path

    def plainly(self, sentence: str) -> str:
        """A sentence with the files of this folder called by their bare names: nobody before the page knows its path."""
        for place in {str(self.folder), str(self.folder.resolve())} - {"."}:
            sentence = sentence.replace(f"{place}{os.sep}", "")
        return sentence

    # --- what the page remembers ------------------------------------------------------------------

    def settings(self) -> dict[str, Any]:
        """What was remembered: the square's side as written, the units. Nothing where it can't be read."""
        try:
            return _settings_in((self.folder / OURS / "page.json").read_bytes())
        except OSError:
            return {}

    def remember(self, **settings: Any) -> dict[str, Any]:
        """Remember these too. Returns all that is remembered then, what another thread told meanwhile included."""
        place = self.folder / OURS
        try:
            place.mkdir(exist_ok=True)
        except OSError as error:
            raise SalvageError(
                f"{place}: can't be made ({error.strerror}). Free or open the folder."
            ) from error
        after: dict[str, Any] = {}

        def with_these(before: bytes | None) -> bytes:
            nonlocal after
            after = _settings_in(before or b"") | settings
            return (json.dumps(after, indent=1) + "\n").encode()

        update(place / "page.json", with_these)
        return after


def _settings_in(data: bytes) -> dict[str, Any]:
    """What a file of settings says; nothing where it was spoilt."""
    try:
        told = json.loads(data)
    except ValueError:
        return {}
    return told if isinstance(told, dict) else {}


def bare_name(name: str) -> str:
    """A file's name that is safe on every system: no path, nothing hidden, not too long; `file` where nothing is left."""
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", name))[-1]
    plain = "".join(c for c in _FORBIDDEN.sub("", last) if unicodedata.category(c)[0] != "C")
    plain = plain.strip(" .") or "file"
    if len(plain) > _LONGEST:
        ending = Path(plain).suffix[:10]
        plain = plain[: _LONGEST - len(ending)] + ending
    return plain


def open_folder(folder: Path) -> Shelf:
    """The folder, made if it isn't there. Raises SalvageError where it can't be, or can't be written to."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        raise UsageError(f"{folder}: is a file. Give a folder for garments and projects.") from None
    except OSError as error:
        raise SalvageError(f"{folder}: can't be made ({error.strerror}). Choose another folder.") from error
    if not os.access(folder, os.R_OK | os.W_OK | os.X_OK):
        raise SalvageError(f"{folder}: can't be written to. Open it for writing, or choose another folder.")
    return Shelf(folder)

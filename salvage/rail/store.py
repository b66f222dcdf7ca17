"""The index: what was worked out of records and photographs, so that it is there at once the next time.

A SQLite file beside the records. It is never the truth: everything in it follows from the records, is found by hashes
of what it follows from, and is made again where it is missing. So it may be deleted at any time, and one that can't be
read, was written by a later version, or lies where nothing can be written is done without: then all is kept in memory
for as long as the command runs, and the person is told.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from salvage import __version__
from salvage.files import content_hash
from salvage.ours import is_ours
from salvage.rail.answer.copies import Copies
from salvage.rail.answer.settle import Settled
from salvage.rail.folder import Brief, brief_from_data, brief_to_data
from salvage.rail.known.facts import Facts, facts_from_data, facts_to_data
from salvage.units import Unit

FOLDER, FILE = ".salvage", "rail.sqlite"
_OURS = 0x53564C47  # in the file's header (SQLite's application_id), so that no other program's file is written to
_PATIENCE = 20.0  # seconds to wait for another command that writes into it

# Each takes the index from the version that is its place in the list to the next one. Never change one that was
# released: add another.
MIGRATIONS = (
    """
    CREATE TABLE seen (file TEXT PRIMARY KEY, size INTEGER NOT NULL, changed_ns INTEGER NOT NULL, content TEXT NOT NULL);
    CREATE TABLE garment (
        content TEXT NOT NULL, ruler TEXT NOT NULL, program TEXT NOT NULL, cloth TEXT NOT NULL, facts TEXT NOT NULL,
        PRIMARY KEY (content, ruler));
    CREATE TABLE brief (content TEXT PRIMARY KEY, data TEXT NOT NULL);
    CREATE TABLE ours (content TEXT PRIMARY KEY, picture INTEGER NOT NULL);
    CREATE TABLE picture (content TEXT PRIMARY KEY, jpeg BLOB NOT NULL);
    CREATE TABLE refused (content TEXT NOT NULL, told TEXT NOT NULL, reason TEXT NOT NULL, PRIMARY KEY (content, told));
    CREATE TABLE answer (
        cloth TEXT NOT NULL, project TEXT NOT NULL, program TEXT NOT NULL, verdict TEXT NOT NULL, reason TEXT NOT NULL,
        seconds REAL NOT NULL, proof TEXT NOT NULL, spare REAL, PRIMARY KEY (cloth, project, program));
    CREATE TABLE copies (
        cloth TEXT NOT NULL, project TEXT NOT NULL, program TEXT NOT NULL, least INTEGER NOT NULL, most INTEGER NOT NULL,
        why TEXT NOT NULL, seconds REAL NOT NULL, PRIMARY KEY (cloth, project, program));
    """,
    # Tables (CSV) carry no mark by which they are known as ours, so they are remembered here.
    """
    CREATE TABLE written (file TEXT PRIMARY KEY, content TEXT NOT NULL);
    """,
)


@dataclass(frozen=True, slots=True)
class Kept:
    """A garment in the index. cloth: see keys.cloth_key."""

    facts: Facts
    cloth: str


class Store:
    """The index, opened. note: what the person should know about it, "" if all is well."""

    def __init__(self, base: sqlite3.Connection, note: str = "") -> None:
        self._base = base
        self.note = note

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Nothing is lost by it: each thing is written when it is told."""
        self._base.close()

    # --- what lies in a folder --------------------------------------------------------------------

    def content(self, path: Path) -> str:
        """The content of a file, by hash; worked out anew only where size or time of the file have changed."""
        status = path.stat()
        key = str(path.resolve())
        row = self._one("SELECT size, changed_ns, content FROM seen WHERE file = ?", key)
        if row is not None and row[:2] == (status.st_size, status.st_mtime_ns):
            return str(row[2])
        content = content_hash(path)
        self._keep("seen", (key, status.st_size, status.st_mtime_ns, content))
        return content

    def brief(self, content: str) -> Brief | None:
        """In short what a record with this content is about."""
        row = self._one("SELECT data FROM brief WHERE content = ?", content)
        try:
            return None if row is None else brief_from_data(json.loads(row[0]))
        except (KeyError, TypeError, ValueError):
            return None

    def keep_brief(self, content: str, brief: Brief) -> None:
        self._keep("brief", (content, json.dumps(brief_to_data(brief))))

    def is_picture_of_ours(self, content: str, path: Path) -> bool:
        """Whether a picture was made by this program; read only if it isn't known."""
        row = self._one("SELECT picture FROM ours WHERE content = ?", content)
        if row is None:
            row = (int(is_ours(path.read_bytes())),)
            self._keep("ours", (content, row[0]))
        return bool(row[0])

    # --- garments ---------------------------------------------------------------------------------

    def garment(self, content: str, unit: Unit) -> Kept | None:
        """What is known of the garment in a record with this content."""
        row = self._one(
            "SELECT facts, cloth FROM garment WHERE content = ? AND ruler = ? AND program = ?",
            content, _ruler(unit), __version__,
        )  # fmt: skip
        if row is None:
            return None
        try:
            return Kept(facts_from_data(json.loads(row[0])), str(row[1]))
        except (KeyError, TypeError, ValueError):  # somebody wrote into it: worked out anew
            return None

    def cloth(self, content: str) -> str | None:
        """By what the cloth of the record with this content is known (see keys.cloth_key)."""
        row = self._one("SELECT cloth FROM garment WHERE content = ? AND program = ?", content, __version__)
        return None if row is None else str(row[0])

    def keep_garment(self, content: str, unit: Unit, kept: Kept) -> None:
        """Keep what a garment's record holds."""
        facts = json.dumps(facts_to_data(kept.facts))
        self._keep("garment", (content, _ruler(unit), __version__, kept.cloth, facts))

    def picture(self, content: str) -> bytes | None:
        """The small marked picture of the garment in a record with this content."""
        row = self._one("SELECT jpeg FROM picture WHERE content = ?", content)
        return None if row is None else bytes(row[0])

    def keep_picture(self, content: str, jpeg: bytes) -> None:
        self._keep("picture", (content, jpeg))

    def refused(self, content: str, told: str | None) -> str | None:
        """Why a photograph with this content could not be measured with this telling (None: with whatever was told
        the last time); None if it wasn't tried."""
        row = self._one(
            "SELECT reason FROM refused WHERE content = ? AND (told = ? OR ? IS NULL) ORDER BY rowid DESC",
            content, told, told,
        )  # fmt: skip
        return None if row is None else str(row[0])

    def keep_refused(self, content: str, told: str, reason: str) -> None:
        self._keep("refused", (content, told, reason))

    def forget_refused(self) -> None:
        """So that they are tried again."""
        try:
            with self._base:
                self._base.execute("DELETE FROM refused")
        except sqlite3.Error as error:
            self._failed(error)

    # --- projects ---------------------------------------------------------------------------------

    def answer(self, cloth: str, project: str, name: str) -> Settled | None:
        """What was answered before. name: what the project is called now."""
        row = self._one(
            "SELECT verdict, reason, seconds, proof, spare FROM answer WHERE cloth = ? AND project = ? AND program = ?",
            cloth, project, __version__,
        )  # fmt: skip
        return None if row is None else Settled(name, *row)

    def keep_answer(self, cloth: str, project: str, asked: Settled) -> None:
        """Keep an answer, unless a better one is there."""
        before = self.answer(cloth, project, asked.project)
        if before is not None and (before.settled or before.seconds >= asked.seconds) and not asked.settled:
            return
        self._keep(
            "answer",
            (
                cloth,
                project,
                __version__,
                asked.verdict,
                asked.reason,
                asked.seconds,
                asked.proof,
                asked.spare,
            ),
        )

    def copies(self, cloth: str, project: str, name: str) -> Copies | None:
        """How many were counted before."""
        row = self._one(
            "SELECT least, most, why, seconds FROM copies WHERE cloth = ? AND project = ? AND program = ?",
            cloth, project, __version__,
        )  # fmt: skip
        return None if row is None else Copies(name, *row)

    def keep_copies(self, cloth: str, project: str, found: Copies) -> None:
        self._keep("copies", (cloth, project, __version__, found.least, found.most, found.why, found.seconds))

    # --- tables written ---------------------------------------------------------------------------

    def is_written(self, path: Path, content: str) -> bool:
        """Whether a file was written by this program, and nobody changed it since."""
        row = self._one("SELECT content FROM written WHERE file = ?", str(path.resolve()))
        return row is not None and row[0] == content

    def keep_written(self, path: Path, content: str) -> None:
        self._keep("written", (str(path.resolve()), content))

    # --- small help -------------------------------------------------------------------------------

    def tidy(self, contents: Iterable[str]) -> None:
        """Let go of garments and pictures of records that are no more, so that the file doesn't only grow."""
        there = set(contents)
        with contextlib.suppress(sqlite3.Error):
            self._tidy(there)

    def _tidy(self, there: set[str]) -> None:
        gone = [(c,) for (c,) in self._base.execute("SELECT DISTINCT content FROM garment") if c not in there]
        with self._base:
            for table in ("garment", "picture", "brief"):
                self._base.executemany(f"DELETE FROM {table} WHERE content = ?", gone)

    def _one(self, query: str, *values: object) -> tuple | None:
        try:
            return self._base.execute(query, values).fetchone()
        except sqlite3.Error as error:
            self._failed(error)
            return None

    def _keep(self, table: str, row: Sequence[object]) -> None:
        marks = ", ".join("?" * len(row))
        try:
            with self._base:
                self._base.execute(f"INSERT OR REPLACE INTO {table} VALUES ({marks})", tuple(row))
        except sqlite3.Error as error:
            self._failed(error)

    def _failed(self, error: sqlite3.Error) -> None:
        """The disk is full, or the file was damaged meanwhile: what is worked out is told all the same."""
        self.note = (
            f"the index can't be used ({error}), so not all is kept for the next time. Make room on the disk, or delete "
            f"the folder {FOLDER}: it is made again from the records."
        )


def open_store(folder: Path) -> Store:
    """The index of a folder of records; one in memory where there can be none on the disk."""
    place = folder / FOLDER / FILE
    try:
        place.parent.mkdir(exist_ok=True)
        base = sqlite3.connect(place, timeout=_PATIENCE)
        try:
            why_not = _migrate(base)
            if not why_not:
                return Store(base)
            note = f"{place}: {why_not}"
        except sqlite3.Error:
            base.close()
            raise
        base.close()
    except sqlite3.OperationalError as error:
        note = f"{place}: can't be used ({error}), so nothing is kept for the next time."
    except sqlite3.DatabaseError:
        note = f"{place}: is damaged, so it isn't used. Delete it: it is made again from the records."
    except OSError as error:
        note = f"{place}: can't be made ({error.strerror or error}), so nothing is kept for the next time."
    return in_memory(note)


def in_memory(note: str = "") -> Store:
    """An index that is gone when it is closed."""
    base = sqlite3.connect(":memory:")
    _migrate(base)
    return Store(base, note)


def _migrate(base: sqlite3.Connection) -> str:
    """Bring the index to the version of this program. Returns why it can't be used, after its name, "" if it can."""
    version = int(base.execute("PRAGMA user_version").fetchone()[0])
    ours = int(base.execute("PRAGMA application_id").fetchone()[0])
    tables = int(base.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
    if (tables and ours != _OURS) or (not tables and version):
        return "is another program's, so it is left alone and nothing is kept for the next time."
    if version > len(MIGRATIONS):
        return "was written by a later version of salvage, so it is left alone. Nothing is kept for the next time."
    for number in range(version, len(MIGRATIONS)):
        with base:
            base.execute("BEGIN IMMEDIATE")
            if int(base.execute("PRAGMA user_version").fetchone()[0]) > number:
                continue  # another command was quicker
            for statement in MIGRATIONS[number].split(";"):
                base.execute(statement)
            base.execute(f"PRAGMA user_version = {number + 1}")
            base.execute(f"PRAGMA application_id = {_OURS}")
    return ""


def _ruler(unit: Unit) -> str:
    """Strips are told in widths of one ruler or the other."""
    return "inch" if unit is Unit.INCH else "metric"

"""Undo and redo without end: what was done to a record, kept beside it, whatever happens to the program.

A record's journal is a file of its own, `.salvage/NAME.journal` in the record's folder: one line of JSON for each
thing that was done, with what it changed in the record's text, line by line, so that the text before and after can
be had of each other exactly. A line is on the disk before the record is written; a line whose record was never
written, or that was cut off by a kill, counts as nothing. What others did to the record meanwhile (a text editor,
measuring again) is noted as a step of its own, so it too can be undone.

A revision is what two windows compare: a short hash of the record's text.
"""

from __future__ import annotations

import base64
import contextlib
import difflib
import hashlib
import json
import os
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from salvage.cloth.garment import Garment
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.desk.edit.actions import apply
from salvage.desk.edit.told import Action
from salvage.errors import SalvageError, UsageError
from salvage.files import read_text, text_of, update

FOLDER = ".salvage"
_WHAT = "a garment record (.json)"
_ELSEWHERE = {"do": "elsewhere"}  # what others changed, as it stands in the journal

_DAMAGED = (IndexError, KeyError, TypeError, ValueError, zlib.error)  # what opening such a journal raises

Change = tuple[int, int, tuple[str, ...]]  # of lines [first, end) what stands there instead


class Stale(SalvageError):
    """The record is another one by now than the one that was looked at. revision: of the one that is there."""

    def __init__(self, message: str, revision: str) -> None:
        super().__init__(message)
        self.revision = revision


@dataclass(frozen=True, slots=True)
class State:
    """A record after something was done. undo, redo: what would be undone or done again, None if nothing."""

    garment: Garment
    revision: str
    undo: Action | None
    redo: Action | None


@dataclass(frozen=True, slots=True)
class _Step:
    """before, after: revisions. lines: what it changed, packed as in the journal: few steps are ever opened again."""

    action: Mapping[str, Any]
    before: str
    after: str
    lines: str

    def back(self) -> Sequence[Change]:
        """The changes from the text after to that before. Raises ValueError or zlib.error where they are damaged."""
        return self._changes(0)

    def forth(self) -> Sequence[Change]:
        """Likewise the other way."""
        return self._changes(1)

    def _changes(self, way: int) -> Sequence[Change]:
        return [(int(a), int(b), tuple(map(str, lines))) for a, b, lines in _opened(self.lines)[way]]


@dataclass(frozen=True, slots=True)
class _Turn:
    """An undo or a redo."""

    do: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class _Base:
    """The whole text where a journal begins, packed."""

    packed: str
    before: str
    after: str


@dataclass(slots=True)
class _Told:
    """A journal as far as it led to the record as it is. done: what can be undone, the last one last; undone: what
    can be done again, the next one last. now: the revision they lead to, "" if the journal tells nothing."""

    base: _Base | None = None
    done: list[_Step] = field(default_factory=list)
    undone: list[_Step] = field(default_factory=list)
    now: str = ""

    def add(self, entry: _Entry) -> None:
        if isinstance(entry, _Base):
            self.base, self.done, self.undone = entry, [], []
        elif isinstance(entry, _Step):
            self.done.append(entry)
            self.undone.clear()
        elif entry.do == "undo" and self.done:
            self.undone.append(self.done.pop())
        elif entry.do == "redo" and self.undone:
            self.done.append(self.undone.pop())
        self.now = entry.after

    def text(self) -> str | None:
        """The record's text as the journal has it last; None if it can't be had."""
        if self.base is None:
            return None
        try:
            lines = str(_opened(self.base.packed))
            for step in self.done:
                lines = _laid(lines, step.forth())
        except _DAMAGED:
            return None
        return lines if revision_of(lines) == self.now else None


_Entry = _Step | _Turn | _Base


def revision_of(text: str) -> str:
    """What tells a record from the same one changed."""
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def state_of(path: Path) -> State:
    """The record as it is, with what could be undone. Raises SalvageError where it can't be read."""
    text = read_text(path, _WHAT)
    now = revision_of(text)
    told, _ = _up_to(_read(journal_of(path), now), text, now)
    return _state(_garment(text, path), text, told)


def edit(path: Path, action: Action, *, expects: str | None = None) -> State:
    """Do an action to the record at path, at once and for good. expects: the revision that was looked at; where the
    record is another one by now, Stale is raised and nothing done. Raises UsageError where it can't be done."""
    return change(path, lambda garment: apply(garment, action), dict(action), expects=expects)


def change(
    path: Path, work: Callable[[Garment], Garment], called: Mapping[str, Any], *, expects: str | None = None
) -> State:
    """As `edit`, with any function of a garment. called: what the journal says of it, an object with "do"."""

    def changed(text: str, told: _Told) -> tuple[str, _Entry]:
        after = garment_to_json(work(_garment(text, path)))
        return after, _step(called, text, after)

    return _do(path, changed, expects)


def undo(path: Path, *, expects: str | None = None) -> State:
    """Take back what was done last. Raises UsageError where nothing is left to take back."""

    def changed(text: str, told: _Told) -> tuple[str, _Entry]:
        if not told.done:
            raise UsageError("there is nothing to undo.")
        step = told.done[-1]
        return _patched(text, step.back, step.before, path), _Turn("undo", step.after, step.before)

    return _do(path, changed, expects)


def redo(path: Path, *, expects: str | None = None) -> State:
    """Do again what was taken back last. Raises UsageError where nothing was."""

    def changed(text: str, told: _Told) -> tuple[str, _Entry]:
        if not told.undone:
            raise UsageError("there is nothing to do again.")
        step = told.undone[-1]
        return _patched(text, step.forth, step.after, path), _Turn("redo", step.before, step.after)

    return _do(path, changed, expects)


def journal_of(record: Path) -> Path:
    """Where the journal of a record lies."""
    real = Path(os.path.realpath(record))
    return real.parent / FOLDER / f"{real.name}.journal"


# --- the record and its journal together -----------------------------------------------------------


def _do(path: Path, changed: Callable[[str, _Told], tuple[str, _Entry]], expects: str | None) -> State:
    """Work out a change of the record's text and write it: its line in the journal first, then the record."""
    result: list[State] = []
    journal = journal_of(path)

    def both(before: bytes | None) -> bytes:
        if before is None:
            raise SalvageError(f"{path}: no such file. Measure a photograph into it first.")
        text = text_of(before, path, _WHAT)
        now = revision_of(text)
        if expects is not None and expects != now:
            raise Stale(
                f"{path.name}: was changed elsewhere since it was looked at. Look at it as it is now, then do it again.",
                now,
            )
        told, new = _up_to(_read(journal, now), text, now)
        after, entry = changed(text, told)
        garment = _garment(after, path)  # as whoever looks at it next will read it
        if after != text:
            told.add(entry)
            _append(journal, [*new, entry])
        result.append(_state(garment, after, told))
        return before if after == text else after.encode()

    update(path, both)
    return result[-1]


def _up_to(told: _Told, text: str, now: str) -> tuple[_Told, list[_Entry]]:
    """The journal brought to the record as it is, and the entries for that: what others changed is a step of its
    own if the text before it can be had; else the journal begins anew."""
    if told.now == now:
        return told, []
    before = told.text()
    entry: _Entry = _Base(_closed(text), now, now) if before is None else _step(_ELSEWHERE, before, text)
    told.add(entry)
    return told, [entry]


@lru_cache(maxsize=16)  # what was written last is what is read next
def _garment(text: str, path: Path) -> Garment:
    return garment_from_json(text, str(path))


def _state(garment: Garment, text: str, told: _Told) -> State:
    return State(
        garment,
        revision_of(text),
        dict(told.done[-1].action) if told.done else None,
        dict(told.undone[-1].action) if told.undone else None,
    )


# --- changes of a text -----------------------------------------------------------------------------


def _step(action: Mapping[str, Any], before: str, after: str) -> _Step:
    old, new = before.splitlines(keepends=True), after.splitlines(keepends=True)
    first = _alike(old, new)
    end = _alike(old[:first:-1], new[:first:-1])
    # Lines that stand everywhere, such as a brace, are no hold; with them the comparison takes five times as long.
    matcher = difflib.SequenceMatcher(None, old[first : len(old) - end], new[first : len(new) - end])
    changes = [
        (first + i1, first + i2, first + j1, first + j2)
        for what, i1, i2, j1, j2 in matcher.get_opcodes()
        if what != "equal"
    ]
    back = tuple((j1, j2, tuple(old[i1:i2])) for i1, i2, j1, j2 in changes)
    forth = tuple((i1, i2, tuple(new[j1:j2])) for i1, i2, j1, j2 in changes)
    return _Step(dict(action), revision_of(before), revision_of(after), _closed([back, forth]))


def _alike(one: Sequence[str], other: Sequence[str]) -> int:
    """How many lines are the same at the beginning of both."""
    return next(
        (n for n, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other))
    )


def _laid(text: str, changes: Sequence[Change]) -> str:
    lines = text.splitlines(keepends=True)
    for first, end, instead in reversed(changes):
        lines[first:end] = instead
    return "".join(lines)


def _patched(text: str, changes: Callable[[], Sequence[Change]], wanted: str, path: Path) -> str:
    with contextlib.suppress(*_DAMAGED):
        made = _laid(text, changes())
        if revision_of(made) == wanted:
            return made
    raise SalvageError(
        f"{journal_of(path)}: is damaged, so this can't be undone or done again. The record stays as it is."
    )


# --- the journal's file ----------------------------------------------------------------------------


def _read(journal: Path, now: str) -> _Told:
    """The journal of a record whose revision is now. A line counts once the next one goes on from it, or the record
    does: one that was written just before a kill, and whose record wasn't, leads nowhere."""
    told = _Told()
    last: _Entry | None = None
    for entry in _entries(journal):
        if last is not None and (entry.before == last.after or entry.before != told.now):
            told.add(last)
        last = entry
    if last is not None and (last.after == now or last.before != now):
        told.add(last)
    return told


def _entries(journal: Path) -> Iterator[_Entry]:
    try:
        with journal.open("rb") as stream:
            for line in stream:
                with contextlib.suppress(*_DAMAGED):
                    yield _entry(json.loads(line))
    except FileNotFoundError:
        return
    except OSError as error:
        raise SalvageError(
            f"{journal}: can't be read ({error.strerror}). Mend that, or move it away."
        ) from error


def _entry(data: Any) -> _Entry:
    before, after = str(data["before"]), str(data["after"])
    if "base" in data:
        return _Base(str(data["base"]), before, after)
    if "lines" not in data:
        return _Turn(str(data["do"]), before, after)
    return _Step(dict(data["action"]), before, after, str(data["lines"]))


def _line(entry: _Entry) -> str:
    data: dict[str, Any] = {"before": entry.before, "after": entry.after}
    if isinstance(entry, _Base):
        data["base"] = entry.packed
    elif isinstance(entry, _Turn):
        data["do"] = entry.do
    else:
        data |= {"action": dict(entry.action), "lines": entry.lines}
    return json.dumps(data, ensure_ascii=False)


def _closed(value: Any) -> str:
    return base64.b64encode(zlib.compress(json.dumps(value).encode(), 6)).decode()


def _opened(text: str) -> Any:
    return json.loads(zlib.decompress(base64.b64decode(text)))


def _append(journal: Path, entries: Sequence[_Entry]) -> None:
    """Write entries behind the others, onto the disk itself. A line that a kill cut off is ended first."""
    text = "".join(f"{_line(each)}\n" for each in entries)
    try:
        journal.parent.mkdir(exist_ok=True)
        with journal.open("ab+") as stream:
            if stream.tell() > 0:
                stream.seek(-1, os.SEEK_END)
                text = text if stream.read(1) == b"\n" else f"\n{text}"
            stream.write(text.encode())
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as error:
        raise SalvageError(
            f"{journal}: can't write there ({error.strerror}), and without it nothing could be undone. The record "
            "stays as it is. Make room, or open the folder to writing."
        ) from error

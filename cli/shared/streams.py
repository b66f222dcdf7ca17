"""Standard output and error that can't fail halfway: a closed pipe, a terminal without the letters, a full disk."""

from __future__ import annotations

import codecs
import io
import os
import sys
import unicodedata
from typing import Any, TextIO

from .status import DONE, UNUSABLE

_PLAIN = {
    "×": "x", "″": '"', "′": "'", "°": " deg", "±": "+-", "–": "-", "—": "-", "−": "-", "‘": "'", "’": "'",
    "“": '"', "”": '"', "„": '"', "•": "*", "·": "*", "→": "->", "←": "<-", "≤": "<=", "≥": ">=", "≈": "about ",
    "⁄": "/", "µ": "u", "μ": "u", "ß": "ss", "æ": "ae", "ø": "o", "€": "EUR",
}  # fmt: skip


class _Pipe(io.FileIO):
    """A file whose reader may go: what is written then goes nowhere, and the command ends as it would have."""

    def write(self, data: Any) -> int:
        try:
            return super().write(data)
        except BrokenPipeError:
            return len(data)


def plain(text: str) -> str:
    """The text in letters of ASCII: `cm2`, `3 x 4`, names without their accents, ? for what has no such letter."""
    found = []
    for letter in text:
        for part in _PLAIN.get(letter) or unicodedata.normalize("NFKD", letter):
            if unicodedata.combining(part):
                continue
            found.append(part if part.isascii() else _PLAIN.get(part, "?"))
    return "".join(found)


def _plain_for(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return plain(error.object[error.start : error.end]), error.end


codecs.register_error("salvage.plain", _plain_for)


def prepare() -> None:
    """Put streams in the place of sys.stdout and sys.stderr that write what can be written and raise for no reader."""
    sys.stdout, sys.stderr = _sturdy(sys.stdout, 1), _sturdy(sys.stderr, 2)


def finish() -> int:
    """Write out what is still held back. Returns DONE, or UNUSABLE where it can't be written (the disk is full)."""
    try:
        sys.stdout.flush()
    except OSError as error:
        print(
            f"salvage: the answer can't be written ({error.strerror}). Make room, then try again.",
            file=sys.stderr,
        )
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # so that Python's own flush at the end is quiet
        return UNUSABLE
    return DONE


def _sturdy(stream: TextIO | None, number: int) -> TextIO:
    if stream is None:  # started with the stream closed
        return open(os.devnull, "w", encoding="utf-8")
    stream.flush()
    raw = _Pipe(number, "w", closefd=False)
    return io.TextIOWrapper(
        io.BufferedWriter(raw), encoding=stream.encoding, errors="salvage.plain",
        line_buffering=number == 2 or raw.isatty(),
    )  # fmt: skip

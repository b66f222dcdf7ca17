"""Which files are ours to write again: those that this program wrote and nobody has changed since.

A picture, page, drawing, table or PDF carries a mark inside it, a hash of the rest of the file, where its format keeps
comments: it travels with every copy, nobody sees it, and whatever is changed in the file no longer agrees
with it. One rule then holds for every result: its place is free, or holds a file of ours that is
unchanged; else it stays as it is, and another place is named. (A garment's record is not a result: people
edit it, and what they wrote is merged, see salvage.cloth.record.)
"""

from __future__ import annotations

import hashlib
import re
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from salvage.errors import SalvageError
from salvage.files import check_place, ordinary, update

_NAME = b"salvage"
_HASH = b"([0-9a-f]{64})"


@dataclass(frozen=True, slots=True)
class _Carrier:
    """How a format carries the mark. begins: its files' first bytes; mark: the mark's bytes for a hash;
    pattern: finds what may be one; at: where it goes."""

    begins: tuple[bytes, ...]
    mark: Callable[[bytes], bytes]
    pattern: re.Pattern[bytes]
    at: Callable[[bytes], int]


def _after_first_segment(jpeg: bytes) -> int:
    """JFIF (ECMA TR/98) wants its own segment first, so the comment goes behind it."""
    return 4 + int.from_bytes(jpeg[4:6], "big")


def _png_chunk(digest: bytes) -> bytes:
    """A tEXt chunk (ISO/IEC 15948:2004, 11.3.4.3): length, type, keyword, zero, text, CRC."""
    body = b"tEXt" + _NAME + b"\0" + digest
    return (len(body) - 4).to_bytes(4, "big") + body + zlib.crc32(body).to_bytes(4, "big")


_CARRIERS = (
    _Carrier(
        (b"\xff\xd8",),
        lambda digest: b"\xff\xfe" + (len(_NAME) + 67).to_bytes(2, "big") + _NAME + b" " + digest,
        re.compile(rb"\xff\xfe\x00." + _NAME + b" " + _HASH, re.DOTALL),
        _after_first_segment,
    ),
    _Carrier(
        (b"\x89PNG\r\n\x1a\n",),
        _png_chunk,
        re.compile(rb"\x00\x00\x00.tEXt" + _NAME + rb"\x00" + _HASH + b"....", re.DOTALL),
        lambda png: len(png) - 12,  # before IEND
    ),
    _Carrier(
        (b"%PDF",),
        lambda digest: b"%" + _NAME + b" " + digest + b"\n",
        re.compile(b"%" + _NAME + b" " + _HASH + b"\n"),
        len,
    ),
    _Carrier(
        (b"999\n", b"  0\n", b"0\n"),  # DXF: group code 999 is a comment, wherever it stands (DXF reference)
        lambda digest: b"999\n" + _NAME + b" " + digest + b"\n",
        re.compile(b"999\n" + _NAME + b" " + _HASH + b"\n"),
        lambda _dxf: 0,
    ),
    _Carrier(
        (b"\xef\xbb\xbf",),  # CSV with the byte-order mark by which spreadsheets know UTF-8
        lambda digest: b"# " + _NAME + b" " + digest + b"\r\n",
        re.compile(b"# " + _NAME + b" " + _HASH + b"\r\n"),
        len,
    ),
    _Carrier(
        (b"<",),  # HTML and SVG
        lambda digest: b"<!-- " + _NAME + b" " + digest + b" -->\n",
        re.compile(b"<!-- " + _NAME + b" " + _HASH + b" -->\n"),
        len,
    ),
)


def marked(content: bytes) -> bytes:
    """The file's bytes with our mark in them. Raises ValueError for a format that has no place for it."""
    carrier = _carrier(content)
    if carrier is None:
        raise ValueError(f"a file that begins with {content[:8]!r} can't carry a mark")
    at = carrier.at(content)
    return content[:at] + carrier.mark(_digest(content)) + content[at:]


def is_ours(content: bytes) -> bool:
    """Whether we wrote a file with these bytes and nobody has changed it since."""
    carrier = _carrier(content)
    if carrier is None:
        return False
    return any(
        found[0] == carrier.mark(_digest(content[: found.start()] + content[found.end() :]))
        for found in carrier.pattern.finditer(content)
    )


def check_ours(path: Path) -> None:
    """Raise SalvageError where a result may not go to path: before the work, so that nobody waits for nothing."""
    check_place(path)
    try:
        _refuse_foreign(path, path.read_bytes())
    except FileNotFoundError:
        return
    except OSError as error:
        raise SalvageError(
            f"{path}: is there already and can't be read ({error.strerror}), so it stays as it is. "
            f"Choose another place with --out."
        ) from error


def write_ours(path: Path, content: bytes | str) -> None:
    """Write a result, marked as ours. Raises SalvageError where the place holds what isn't."""
    data = marked(content.encode() if isinstance(content, str) else content)

    def change(before: bytes | None) -> bytes:
        if before is not None:
            _refuse_foreign(path, before)
        return data

    update(path, change)


def copy_as_it_is(source: Path, path: Path) -> None:
    """Copy a file byte by byte. Raises SalvageError where the place holds anything else."""
    data = source.read_bytes()

    def change(before: bytes | None) -> bytes:
        if before not in (None, data):
            raise SalvageError(_stays(path))
        return data

    update(path, change)


def check_copy(source: Path, path: Path) -> None:
    """Raise SalvageError where copy_as_it_is would."""
    if path.exists():
        ordinary(path)
        if path.read_bytes() != source.read_bytes():
            raise SalvageError(_stays(path))


def free_name(path: Path) -> Path:
    """A name like path's where nothing is yet: `coat-2.jpg` for `coat.jpg`."""
    number = 2
    while (free := path.with_name(f"{path.stem}-{number}{path.suffix}")).exists():
        number += 1
    return free


def _refuse_foreign(path: Path, content: bytes) -> None:
    if not is_ours(content):
        raise SalvageError(_stays(path))


def _stays(path: Path) -> str:
    return (
        f"{path}: is there already and was not written by this program, or was changed since, so it stays as it is. "
        f"Move it away, or choose another place with --out: {free_name(path).name} is free."
    )


def _carrier(content: bytes) -> _Carrier | None:
    return next((each for each in _CARRIERS if content.startswith(each.begins)), None)


def _digest(content: bytes) -> bytes:
    return hashlib.sha256(content).hexdigest().encode()

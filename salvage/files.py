"""Files at the rim: what is read is an ordinary file, what is written is whole and loses nothing of anybody's.

Everything is written beside its place first and put there in one step, so that a reader, or whoever comes
after a kill, sees the old file or the new one and never a part. What is there is looked at once more just
before; if somebody saved meanwhile, the change is worked out again from what they saved. A link stays a
link, a private file stays private, and a read-only file, a pipe or a device is left alone.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import secrets
import stat
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from salvage.errors import SalvageError, shown

try:
    import fcntl
except ImportError:  # pragma: no cover - a system without it writes without a lock, but still whole files
    fcntl = None  # type: ignore[assignment]

_TRIES = 50  # times that somebody else may save while one change is being written
_PATIENCE = 30.0  # seconds to wait for another command that writes into the same folder
_ELSEWHERE = "Choose another place with --out."


@dataclass(frozen=True, slots=True)
class Seen:
    """A file as it was found: enough to know whether it has been written since."""

    number: int
    size: int
    changed_ns: int
    mode: int
    owner: tuple[int, int]


class _Changed(Exception):
    """Somebody else wrote the file since it was looked at."""


class _NoName(Exception):
    """The system can write a file without a name, but not give it one here."""


def ordinary(path: Path, what: str = "a file") -> None:
    """Raise SalvageError at once for a folder, a pipe or a device, which can't be read (or would never end).

    what: `a garment record (.json)`. A path where nothing is passes: whoever opens it says so better.
    """
    try:
        mode = path.stat().st_mode
    except (OSError, ValueError):
        return
    if stat.S_ISDIR(mode):
        raise SalvageError(f"{path}: is a folder. Give {what}.")
    if not stat.S_ISREG(mode):
        raise SalvageError(f"{path}: is a pipe or a device, not an ordinary file. Give {what}.")


def closed(path: Path | str) -> SalvageError:
    """The error for a file that is there and may not be read."""
    return SalvageError(
        f"{shown(path)}: you aren't allowed to read it. Give yourself the right to (chmod u+r on Linux and macOS, "
        "Properties, Security on Windows), or copy it to a folder of your own as somebody who may read it."
    )


def allowed(path: Path, what: str = "a file") -> None:
    """Raise SalvageError as `ordinary` does, and for a file that may not be read.

    A path where nothing is, or that fails in another way, passes: whoever opens it says so better.
    """
    ordinary(path, what)
    try:
        with path.open("rb"):
            pass
    except PermissionError:
        raise closed(path) from None
    except (OSError, ValueError):
        return


def read_text(path: Path, what: str, *, most_bytes: int = 50_000_000) -> str:
    """The text of a file saved as UTF-8, with or without a mark at its beginning.

    what: `a garment record (.json)`. Raises SalvageError for a file that is missing, closed, no ordinary
    file, no such text, or of more than most_bytes.
    """
    ordinary(path, what)
    try:
        with path.open("rb") as stream:
            data = stream.read(most_bytes + 1)
    except FileNotFoundError:
        raise SalvageError(f"{path}: no such file. Check the name; give {what}.") from None
    except PermissionError:
        raise closed(path) from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise SalvageError(f"{shown(path)}: can't be opened ({why}). Give {what}.") from error
    return text_of(data, path, what, most_bytes=most_bytes)


def text_of(data: bytes, path: Path, what: str, *, most_bytes: int = 50_000_000) -> str:
    """The text in the bytes of a file. Raises SalvageError as `read_text` does."""
    if len(data) > most_bytes:
        raise SalvageError(f"{path}: is larger than {most_bytes // 1_000_000} MB. Give {what}.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise SalvageError(f"{path}: can't be read as text. Give {what}, saved as UTF-8.") from error


def inside(folder: Path, file: str, also: Iterable[Path] = ()) -> Path:
    """Where the photograph lies that a record in folder names. Raises SalvageError where that is neither in the
    folder's tree nor in one the person allows (also), links followed: a record may come from anybody."""
    place = folder / file
    try:
        real = Path(os.path.realpath(place))
        allowed = [Path(os.path.realpath(each)) for each in (folder, *also)]
    except (OSError, ValueError) as error:
        raise SalvageError(
            f"{shown(place)}: no file can have that name. Correct 'file' in the record."
        ) from error
    if not any(real.is_relative_to(each) for each in allowed):
        raise SalvageError(
            f"{shown(place)}: lies outside the record's folder, so it was not opened. Allow its folder with --photos."
        )
    return place


def check_place(path: Path) -> None:
    """Find out before the work whether a file can be written there. Raises SalvageError saying why not."""
    if path.is_dir():
        raise SalvageError(f"{path}: is a folder. Name a file in it with --out.")
    ordinary(path, "the name of a file to write")
    real = _real(path)
    if not real.parent.is_dir():
        raise SalvageError(f"{path}: there is no such folder. Make it, or choose another place with --out.")
    if not os.access(real.parent, os.W_OK):
        raise SalvageError(f"{path}: the folder can't be written to. {_ELSEWHERE}")
    with contextlib.suppress(FileNotFoundError):
        _not_closed(path, real.stat().st_mode)


def content_hash(path: Path) -> str:
    """By what a file is known wherever it lies and whatever it is called: SHA-256 of its bytes, in hex."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def update(path: Path, change: Callable[[bytes | None], bytes]) -> None:
    """Write change(what is there now, None if nothing is) to path, as one step that nobody's saving falls into.

    change: may be called more than once, whenever somebody else saved meanwhile; it may raise, and then
    nothing is written. Raises SalvageError where path can't be written.
    """
    check_place(path)
    real = _real(path)
    try:
        with _locked(real.parent, path):
            for _ in range(_TRIES):
                before, seen = _read_now(path, real)
                after = change(before)
                if after == before:
                    return
                with contextlib.suppress(_Changed):
                    _replace(real, after, seen)
                    return
    except OSError as error:
        raise SalvageError(f"{path}: can't write there ({error.strerror or error}). {_ELSEWHERE}") from error
    raise SalvageError(f"{path}: another program keeps writing it. End that one, then try again.")


# --- looking and putting ---------------------------------------------------------------------------


def _real(path: Path) -> Path:
    """Where a link leads: what it leads to is written, and the link stays."""
    try:
        return Path(os.path.realpath(path))
    except (OSError, ValueError) as error:
        raise SalvageError(f"{path}: no file can have that name. {_ELSEWHERE}") from error


def _not_closed(path: Path, mode: int) -> None:
    # The bits are asked, not the system: to its administrator the system says that all is open.
    if not mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH):
        raise SalvageError(f"{path}: is read-only, so it stays as it is. {_ELSEWHERE}")


def _read_now(path: Path, real: Path) -> tuple[bytes | None, Seen | None]:
    try:
        with real.open("rb") as stream:
            status = os.fstat(stream.fileno())
            _not_closed(path, status.st_mode)
            return stream.read(), _seen(status)
    except FileNotFoundError:
        return None, None


def _seen(status: os.stat_result) -> Seen:
    owner = status.st_uid, status.st_gid
    return Seen(status.st_ino, status.st_size, status.st_mtime_ns, stat.S_IMODE(status.st_mode), owner)


def _replace(real: Path, data: bytes, seen: Seen | None) -> None:
    """Put data at real in one step. Raises _Changed if what is there isn't what was seen (None: nothing)."""
    try:
        _replace_by(real, data, seen, unnamed=True)
    except _NoName:
        _replace_by(real, data, seen, unnamed=False)


def _replace_by(real: Path, data: bytes, seen: Seen | None, *, unnamed: bool) -> None:
    handle, named = _beside(real, 0o666 if seen is None else 0o600, unnamed=unnamed)
    try:
        with open(handle, "wb", closefd=False) as stream:
            stream.write(data)
        if seen is not None:
            _like_before(handle, real, seen)
        os.fsync(handle)
        if named is None and seen is None:
            _name(handle, real)
            return
        if named is None:
            named = _free(real)
            _name(handle, named)
        if seen is None:
            _named_newly(named, real)
        elif not real.exists() or _seen(real.stat()) != seen:
            raise _Changed
        else:
            os.replace(named, real)
            named = None
    except FileExistsError as error:
        raise _Changed from error
    finally:
        os.close(handle)
        if named is not None:
            named.unlink(missing_ok=True)


def _beside(real: Path, mode: int, *, unnamed: bool) -> tuple[int, Path | None]:
    """An open file in the folder of real and its name; without a name, where the system can do that, so
    that nothing half-written is left behind by a kill."""
    flag = getattr(os, "O_TMPFILE", 0)
    if unnamed and flag and Path("/proc/self/fd").is_dir():
        try:
            return os.open(real.parent, flag | os.O_WRONLY, mode), None
        except OSError as error:
            if error.errno not in (errno.EOPNOTSUPP, errno.EISDIR, errno.EINVAL, errno.ENOENT):
                raise
    name = _free(real)
    return os.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), name


def _free(real: Path) -> Path:
    return real.with_name(f".salvage-{secrets.token_hex(6)}")


def _name(handle: int, name: Path) -> None:
    try:
        # With a folder told, Python asks the system to follow the link in /proc to the open file.
        os.link(f"/proc/self/fd/{handle}", name, src_dir_fd=handle, follow_symlinks=True)
    except FileExistsError:
        raise
    except OSError as error:
        raise _NoName from error


def _named_newly(named: Path, real: Path) -> None:
    """Give a file its right name if that is free. Raises FileExistsError."""
    try:
        os.link(named, real)
    except FileExistsError:
        raise
    except OSError:  # a disk without links (FAT)
        if real.exists():
            raise FileExistsError from None
        os.rename(named, real)


def _like_before(handle: int, real: Path, seen: Seen) -> None:
    """Who may read and write the old file, and whose it is, as far as the system lets us."""
    here = os.fstat(handle)
    if (here.st_uid, here.st_gid) != seen.owner:
        with contextlib.suppress(OSError):
            os.fchown(handle, *seen.owner)
    os.fchmod(handle, seen.mode)
    with contextlib.suppress(OSError, AttributeError):
        for name in os.listxattr(real):
            os.setxattr(handle, name, os.getxattr(real, name))


@contextlib.contextmanager
def _locked(folder: Path, path: Path) -> Iterator[None]:
    """Hold off other commands of ours that write into the folder. The folder itself is locked, so that no
    lock file lies about; where a disk can't do that, looking once more before each write has to do."""
    if fcntl is None:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        until = time.monotonic() + _PATIENCE
        while True:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if time.monotonic() > until:
                    raise SalvageError(
                        f"{path}: another salvage is writing into that folder and doesn't end. End it, then try again."
                    ) from None
                time.sleep(0.02)
            except OSError:
                break
        yield
    finally:
        os.close(handle)

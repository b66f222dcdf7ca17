"""Writing files without ever leaving a half-written one behind."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from salvage.errors import SalvageError


def write_atomically(path: Path, content: bytes | str) -> None:
    """Write content to path so that a reader sees the old file or the new one, never a part.

    Raises SalvageError if the folder is missing or can't be written to.
    """
    data = content.encode() if isinstance(content, str) else content
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as error:
        raise SalvageError(
            f"{path}: can't write there ({error.strerror}). Choose another place with --out."
        ) from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
        os.chmod(temporary, 0o666 & ~_umask())
        os.replace(temporary, path)
    except OSError as error:
        Path(temporary).unlink(missing_ok=True)
        raise SalvageError(
            f"{path}: can't write there ({error.strerror}). Choose another place with --out."
        ) from error


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask

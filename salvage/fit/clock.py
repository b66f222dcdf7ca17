"""The clock that limits in seconds go by: it stands still while the search is being compiled."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager

_stood = 0.0  # seconds so far


def now() -> float:
    """Seconds since some moment, without those spent in compiling."""
    return time.monotonic() - _stood


@contextmanager
def stopped() -> Iterator[None]:
    """The clock stands still within. One thread at a time may stop it."""
    global _stood
    begun = time.monotonic()
    try:
        yield
    finally:
        _stood += time.monotonic() - begun

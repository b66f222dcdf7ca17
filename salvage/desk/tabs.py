"""Which tab works on which record: one at a time; another is told, and may take over."""

from __future__ import annotations

import threading
import time

from salvage.errors import SalvageError

QUIET = 12.0  # s without a word from a tab until its place is free: the page speaks every few seconds


class Elsewhere(SalvageError):
    """The record is being worked on in another tab."""


class Tabs:
    """The tab that may change each record. May be asked by several threads."""

    def __init__(self) -> None:
        self._at: dict[str, tuple[str, float]] = {}
        self._lock = threading.Lock()

    def holds(self, record: str, tab: str, *, take: bool = False) -> bool:
        """Whether that tab may change the record; it gets the place if it is free, or is taken."""
        now = time.monotonic()
        with self._lock:
            holder, spoke = self._at.get(record, ("", 0.0))
            if take or holder in ("", tab) or now - spoke > QUIET:
                self._at[record] = (tab, now)
                return True
            return False

    def require(self, record: str, tab: str) -> None:
        """Raise Elsewhere where another tab has the place."""
        if not self.holds(record, tab):
            raise Elsewhere(
                "this garment is open in another tab or on another device. Take over to change it here."
            )

    def leave(self, record: str, tab: str) -> None:
        """The tab is closed, or shows another record."""
        with self._lock:
            if self._at.get(record, ("", 0.0))[0] == tab:
                del self._at[record]

"""Modules loaded on the other core while this one works."""

from __future__ import annotations

from contextlib import suppress
from importlib import import_module
from threading import Thread

_loading: list[Thread] = []


def ahead(*modules: str) -> None:
    """Begin to load modules that are needed later; whoever imports one meanwhile waits for it as usual.

    Where something else is imported that needs the same library, call `settled` before: two threads that
    enter one library by two doors can meet in it half loaded, where its modules import each other.
    """

    def load() -> None:
        with suppress(Exception):  # whoever needs it imports it again, and is told then
            for module in modules:
                import_module(module)

    thread = Thread(target=load, daemon=True)
    _loading.append(thread)
    thread.start()


def settled() -> None:
    """Wait until everything that was begun is loaded."""
    while _loading:
        _loading.pop().join()

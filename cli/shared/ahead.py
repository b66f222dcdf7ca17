"""Modules loaded on the other core while this one works."""

from __future__ import annotations

from contextlib import suppress
from importlib import import_module
from threading import Thread


def ahead(*modules: str) -> None:
    """Begin to load modules that are needed later; whoever imports one meanwhile waits for it as usual.

    Nothing else may be imported meanwhile that needs a library of theirs: two threads that enter one library by two
    doors can meet in it half loaded, where its modules import each other.
    """

    def load() -> None:
        with suppress(Exception):  # whoever needs it imports it again, and is told then
            for module in modules:
                import_module(module)

    Thread(target=load, daemon=True).start()

"""Modules loaded on the other core while this one works."""

from __future__ import annotations

from importlib import import_module
from threading import Thread


def ahead(*modules: str) -> None:
    """Begin to load modules that are needed later; whoever imports one meanwhile waits for it as usual."""

    def load() -> None:
        for module in modules:
            import_module(module)

    Thread(target=load, daemon=True).start()

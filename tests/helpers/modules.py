"""Modules that lie outside the package, by their file."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType


def module_at(file: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(file.stem, file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module

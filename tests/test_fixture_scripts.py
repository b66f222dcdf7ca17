"""Scripts in fixtures/ run seldom: what they take from the package must still be there, whatever moved."""

from __future__ import annotations

import ast
import importlib
import importlib.util
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SCRIPTS = [
    path
    for path in sorted((ROOT / "fixtures").rglob("*.py"))
    if "salvage" in path.read_text(encoding="utf-8")
]


def taken(path: Path) -> list[tuple[str, str]]:
    """(module, name) of all that a script imports from the package, at its top or inside functions."""
    return [
        (node.module, each.name)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "salvage"
        for each in node.names
    ]


def test_there_are_scripts() -> None:
    assert sum(bool(taken(path)) for path in SCRIPTS) >= 3


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_what_a_script_imports_is_there(path: Path) -> None:
    for module, name in taken(path):
        assert hasattr(importlib.import_module(module), name) or importlib.util.find_spec(
            f"{module}.{name}"
        ), f"{path.name} imports {name} from {module}"


def test_the_figures_that_are_tried_are_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(ROOT))
    groups = importlib.import_module("fixtures.train.fit_figures").groups()
    tried = [figure for group in groups.values() for figure in group.figures]
    assert len(tried) > 80
    for module, name, place in tried:
        value = getattr(importlib.import_module(module), name)
        assert (value if place is None else value[place]) is not None

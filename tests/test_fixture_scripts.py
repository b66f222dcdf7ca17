"""Scripts in fixtures/ run seldom: what they take from the package must still be there, whatever moved."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import importlib.util
import tomllib
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
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


@pytest.fixture
def fitting(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(ROOT))
    return importlib.import_module("fixtures.train.fit_figures")


def test_the_figures_that_are_tried_are_there(fitting: ModuleType) -> None:
    tried = [figure for group in fitting.groups().values() for figure in group.figures]
    assert len(tried) > 150
    for figure in tried:
        assert isinstance(fitting.value_of(figure), int | float)


@pytest.mark.parametrize(
    ("name", "place"), [("_SLIM", None), ("_SPREADS", 1), ("_COLOUR", "clear"), ("_ALL", ("like", 0))]
)
def test_a_figure_is_put_and_put_back(fitting: ModuleType, name: str, place: Any) -> None:
    figure = (fitting.ODD, name, place)
    before, whole = fitting.value_of(figure), getattr(importlib.import_module(fitting.ODD), name)
    fitting.put(figure, before * 2)
    assert fitting.value_of(figure) == before * 2
    fitting.put(figure, before)
    assert getattr(importlib.import_module(fitting.ODD), name) == whole


def is_figure(value: Any) -> bool:
    """A number, or what holds nothing but numbers, and some."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        value = [getattr(value, field.name) for field in dataclasses.fields(value)]
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list | tuple | np.ndarray):
        return len(value) > 0 and all(is_figure(each) for each in value)
    return isinstance(value, int | float | np.number) and not isinstance(value, bool)


def written_out(path: Path) -> set[tuple[str, str]]:
    """(module, name) of the figures that stand in a module's text, not those that it reads or works out."""
    module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    found = set()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            inside = ast.walk(node.value)
            if not any(isinstance(n, ast.Constant) and isinstance(n.value, int | float) for n in inside):
                continue
            for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
                found |= {(module, n.id) for n in ast.walk(target) if isinstance(n, ast.Name)}
    return {
        (module, name) for module, name in found if is_figure(getattr(importlib.import_module(module), name))
    }


def test_every_figure_has_a_way_back(fitting: ModuleType) -> None:
    tried = {(module, name) for group in fitting.groups().values() for module, name, _ in group.figures}
    kinds = tomllib.loads((ROOT / "fixtures" / "train" / "origins.toml").read_text(encoding="utf-8"))
    listed = [(module, name) for kind in kinds.values() for module, names in kind.items() for name in names]
    assert len(listed) == len(set(listed)), "listed twice"
    figures = set().union(*(written_out(path) for path in (ROOT / "salvage" / "cloth").rglob("*.py")))
    assert len(figures) > 400
    assert sorted(figures - tried - set(listed)) == [], (
        "put it into a group of fixtures/train/fit_figures.py, or into fixtures/train/origins.toml where it belongs"
    )
    assert sorted(set(listed) - figures) == [], "listed in origins.toml, but gone"
    assert not tried & set(listed), "tried, so no longer to be listed"

"""README's table of figures says what the benchmarks assert: each row by the tables that it cites."""

from __future__ import annotations

import importlib.util
import re
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest
from told import Told

ROOT = Path(__file__).resolve().parents[1]
ROWS = [
    line
    for line in (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    if line.startswith("| ") and re.search(r"`test_\w+\.py`", line)
]


def cited(row: str) -> list[str]:
    return re.findall(r"`(test_\w+\.py)`", row)


BENCHES = sorted({name for row in ROWS for name in cited(row)})


@cache
def bench(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"told_by_{name[:-3]}", ROOT / "tests" / "bench" / name)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look themselves up there
    spec.loader.exec_module(module)
    return module


def told_in(value: object) -> Iterator[Told]:
    if isinstance(value, Told):
        yield value
    elif isinstance(value, dict | tuple):
        for each in value.values() if isinstance(value, dict) else value:
            yield from told_in(each)


def test_the_table_is_found() -> None:
    assert len(ROWS) >= 15


@pytest.mark.parametrize("name", BENCHES)
def test_what_a_bench_asserts_stands_in_its_row(name: str) -> None:
    """Whoever changes a figure here or there changes it in both."""
    told = [each for value in vars(bench(name)).values() for each in told_in(value)]
    assert told, f"{name} asserts no figure of README"
    rows = [row for row in ROWS if name in cited(row)]
    for each in told:
        assert any(each.words in row for row in rows), f"README has no {each.words!r} in a row of {name}"


@pytest.mark.parametrize("row", ROWS, ids=[" ".join(row.split()[1:6]) for row in ROWS])
def test_each_row_has_a_figure_that_is_asserted(row: str) -> None:
    told = [each for name in cited(row) for value in vars(bench(name)).values() for each in told_in(value)]
    assert any(each.words in row for each in told), row


def test_a_figure_worse_than_told_fails() -> None:
    figure = Told("0.95", 0.95, 0.01)
    figure.at_least(0.945)
    figure.at_most(0.955)
    with pytest.raises(AssertionError, match="README tells"):
        figure.at_least(0.93)
    with pytest.raises(AssertionError, match="README tells"):
        figure.at_most(0.97)

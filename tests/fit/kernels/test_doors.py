"""The list of ways into the compiled code and the code itself tell of the same functions; each is called in these folders."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from salvage.fit.kernels import packed
from salvage.fit.kernels.calls import DOORS

KERNELS = Path(packed.__file__).parent
TESTS = Path(__file__).parent


def functions(name: str) -> dict[str, ast.FunctionDef]:
    tree = ast.parse((KERNELS / f"{name}.py").read_text(encoding="utf-8"))
    return {each.name: each for each in tree.body if isinstance(each, ast.FunctionDef)}


def test_each_door_takes_as_much_as_is_listed() -> None:
    """What isn't listed is not compiled; what is listed and isn't there fails with an address of 0."""
    doors = {
        name: len(each.args.args)
        for name, each in functions("doors").items()
        if any(isinstance(mark, ast.Name) and mark.id == "_door" for mark in each.decorator_list)
    }
    assert doors == {name: len(takes) for name, (_, takes) in DOORS.items()}


@pytest.mark.parametrize(
    ("name", "before", "fields"),
    [
        ("_tables", 3, packed.TABLES_FIELDS),
        ("_state", 3, packed.STATE_FIELDS),
        ("_rings", 3, packed.RINGS_FIELDS),
        ("_spots", 3, packed.SPOTS_FIELDS),
    ],
)
def test_each_list_of_numbers_is_read_to_its_end_in_its_order(
    name: str, before: int, fields: tuple[str, ...]
) -> None:
    """Three addresses, then a word for each field: none left out, none read twice."""
    read = [
        node.slice.value
        for node in ast.walk(functions("doors")[name])
        if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name) and node.value.id == "w"
        if isinstance(node.slice, ast.Constant) and isinstance(node.slice.value, int)
    ]
    assert [word for word in sorted(read) if word >= before] == list(range(before, before + len(fields)))


def test_every_door_is_called_by_a_test_of_its_kernel() -> None:
    here = "".join(each.read_text(encoding="utf-8") for each in TESTS.glob("test_*.py"))
    assert [name for name in DOORS if f"{name}(" not in here] == []

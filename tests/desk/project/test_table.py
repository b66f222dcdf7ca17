"""A project typed in as a table, to its file and back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.desk.project.table import part_kinds, project_of, project_text, table_of
from salvage.errors import SalvageError, UsageError
from salvage.project.project import Grain, Join, Project
from salvage.project.read import read_project
from salvage.units import Unit

SAMPLES = Path(__file__).parents[3] / "fixtures" / "projects"
TYPED: dict[str, Any] = {
    "name": 'Bag "small"', "units": "in", "sizes": "finished", "seam_allowance": "3/8", "cutting_gap": "0",
    "panels": [
        {"name": "wall", "fabric": "shell", "cut": "2", "width": "14", "length": "9 3/4", "grain": "either", "mirrored": True, "joins": "1"},
        {"name": "lid", "fabric": "lining", "cut": "many", "width": "4.5", "length": "6", "grain": "along", "mirrored": False, "joins": ""},
    ],
    "strips": [{"name": "strap", "fabric": "shell", "cut": 1, "width": "1", "length": "28", "folds": "4", "join": "straight"}],
    "parts": [{"kind": "flat pocket", "name": "pocket", "fabric": "lining", "measures": {"width": "6", "height": "5 1/2", "hem": ""}}],
}  # fmt: skip


def test_what_is_typed_in_is_the_project_meant() -> None:
    project = project_of(TYPED, SAMPLES)
    wall, lid, pocket = project.panels
    assert (project.name, project.unit) == ('Bag "small"', Unit.INCH)
    assert (wall.cut, wall.grain, wall.mirrored, wall.joins) == (2, Grain.EITHER, True, 1)
    assert wall.finished == pytest.approx((14 * 25.4, 9.75 * 25.4))
    assert wall.outline[2] == pytest.approx(((14 + 0.75) * 25.4, (9.75 + 0.75) * 25.4))
    assert (lid.many, lid.fabric) == (True, "lining")
    assert project.strips[0].cut_width == pytest.approx(4 * 25.4)
    assert project.strips[0].length == pytest.approx((28 + 0.75) * 25.4)
    assert project.strips[0].join is Join.STRAIGHT
    assert pocket.fabric == "lining"


def test_as_cut_nothing_is_added() -> None:
    project = project_of(TYPED | {"sizes": "cut", "parts": []}, SAMPLES)
    assert project.panels[0].outline[2] == pytest.approx((14 * 25.4, 9.75 * 25.4))
    assert project.strips[0].cut_width == pytest.approx(25.4)
    assert project.strips[0].length == pytest.approx(28 * 25.4)


@pytest.mark.parametrize("sample", sorted(SAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_a_file_is_a_table_and_the_table_that_file_again(sample: Path, tmp_path: Path) -> None:
    table = table_of(sample)
    again = project_of(table, SAMPLES)
    before = read_project(sample)
    assert replace(again, notes=()) == replace(before, notes=())
    path = tmp_path / sample.name
    path.write_text(project_text(table), encoding="utf-8")
    if "drawing" not in path.read_text():
        assert table_of(path) | {"name": table["name"]} == table
    words = [line.split("#", 1)[1].strip() for line in sample.read_text().splitlines() if "#" in line and ".svg#" not in line and ".dxf#" not in line]  # fmt: skip
    assert [word for word in words if word and word not in path.read_text()] == []


def test_the_common_parts_are_listed_with_what_they_need() -> None:
    kinds = {each["kind"]: each for each in part_kinds()}
    assert kinds["bag"]["needs"] == ["width", "height", "depth"]


@given(st.text(max_size=40), st.text(max_size=20), st.text(max_size=20))
@settings(max_examples=60)
def test_no_text_breaks_the_file(name: str, fabric: str, comment: str) -> None:
    table = {
        "name": name, "comments": [comment],
        "panels": [{"name": name, "fabric": fabric, "width": 100, "length": 50, "comments": [comment]}],
    }  # fmt: skip
    try:
        project = project_of(table, SAMPLES)
    except SalvageError:
        return  # a text that the file's reader doesn't take
    assert isinstance(project, Project)
    assert project.panels[0].name == name.strip()


@pytest.mark.parametrize(
    ("says", "table"),
    [
        ("nothing to cut", {"name": "x", "panels": [], "strips": []}),
        ("flap", {"panels": [{"name": "flap", "width": "", "length": ""}]}),
        ("wide", {"panels": [{"name": "flap", "width": "wide", "length": "5"}]}),
        ("cut", {"panels": [{"name": "flap", "width": "5", "length": "5", "cut": "two"}]}),
        ("list", {"panels": "flap"}),
        ("row", {"panels": ["flap"]}),
        ("table", []),
        ("half a letter", {"panels": [{"name": "\ud800", "width": 1, "length": 1}]}),
        ("further keys", {"more": {"panel": []}, "panels": [{"name": "a", "width": 9, "length": 9}]}),
    ],
)
def test_what_is_wrong_in_a_table_is_said(says: str, table: Any) -> None:
    with pytest.raises((SalvageError, UsageError), match=says):
        project_of(table, SAMPLES)

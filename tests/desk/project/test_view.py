"""A project as it is drawn: each panel as large as it is cut, each row by itself while it is typed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from shapely.geometry import Polygon, box

from salvage.desk.project.view import drawn_rows, project_data
from salvage.project.project import Grain, Panel, Project, Strip
from salvage.units import Unit, parse_length

FLAG = ((10.0, -20.0), (110.004, -20.0), (60.0, 40.0))
ROW = {"name": "body", "cut": 2, "width": 200, "length": 300}
PANEL = Panel("flag", FLAG, "lining", 4, Grain.ACROSS, mirrored=True, seam_allowance=12.7)
STRIP = Strip("tie", 40.0, 640.0, cut=3, seam_allowance=6.0)
TOP = {"name": "Bag", "units": "mm", "seam_allowance": "10"}


def test_shapes_begin_at_nothing_and_are_as_large_as_they_are_cut() -> None:
    flag, tie = project_data(Project("p", (PANEL,), (STRIP,), notes=("mind the nap",)))["parts"]
    assert Polygon(flag["outline"]).bounds == (0.0, 0.0, 100.0, 60.0)
    assert Polygon(flag["outline"]).area == pytest.approx(Polygon(FLAG).area, rel=1e-3)
    assert Polygon(tie["outline"]).equals(box(0, 0, 40, 640))


def test_each_part_is_told_as_it_is() -> None:
    told = project_data(Project("p", (PANEL,), (STRIP,), unit=Unit.INCH, notes=("mind the nap",)))
    assert (told["name"], told["units"], told["notes"]) == ("p", "in", ["mind the nap"])
    flag, tie = told["parts"]
    assert [flag[key] for key in ("name", "strip", "fabric", "cut", "mirrored")] == [
        "flag",
        False,
        "lining",
        4,
        True,
    ]
    assert [tie[key] for key in ("name", "strip", "fabric", "cut", "mirrored")] == [
        "tie",
        True,
        "shell",
        3,
        False,
    ]
    assert parse_length(flag["allowance_said"]) == pytest.approx(flag["allowance"]) == 12.7
    assert parse_length(tie["size"].split(" × ")[1]) == pytest.approx(640, abs=0.05 * 25.4)
    assert "across" in flag["grain"]


@pytest.mark.parametrize("item", [Panel("a", FLAG, many=True), Strip("a", 40, 640, many=True)])
def test_as_many_as_there_is_cloth_for_is_no_number(item: Panel | Strip) -> None:
    project = Project("p", (item,)) if isinstance(item, Panel) else Project("p", (), (item,))
    assert project_data(project)["parts"][0]["cut"] == "many"


def drawn(**rows: list[Any]) -> dict[str, Any]:
    return drawn_rows(TOP | rows, Path())


def test_one_row_that_is_wrong_keeps_no_other_from_being_seen() -> None:
    wrong = ROW | {"name": "flap", "length": "wide"}
    rows = drawn(panels=[ROW, wrong, {"name": "new"}, ROW | {"name": "side", "width": 50}])["rows"]["panels"]
    assert [len(each["parts"]) for each in rows] == [1, 0, 0, 1]
    assert ["error" in each for each in rows] == [False, True, False, False]
    assert "wide" in rows[1]["error"]
    assert Polygon(rows[0]["parts"][0]["outline"]).bounds == (0, 0, 220, 320)
    assert Polygon(rows[3]["parts"][0]["outline"]).bounds == (0, 0, 70, 320)


@pytest.mark.parametrize(
    ("row", "begun"),
    [
        ({"name": "a", "width": "200", "length": " "}, False),
        ({"name": "a", "length": "200"}, False),
        ({"name": "a", "width": "200", "length": "1"}, True),
        ({"name": "a", "more": {"size": [50, 60]}}, True),  # came with the file
        ("nothing", False),
    ],
)
def test_a_row_is_drawn_as_soon_as_it_has_its_sizes(row: Any, begun: bool) -> None:
    (told,) = drawn(panels=[row])["rows"]["panels"]
    assert bool(told["parts"]) is begun
    assert "error" not in told


def test_a_part_may_be_of_another_before_it_and_shows_its_own_panels_only() -> None:
    bag = {"kind": "bag", "name": "tote", "measures": {"width": "300", "height": "250", "depth": "100"}}
    lining = {"kind": "lining", "name": "inner", "measures": {"of": "tote"}}
    rows = drawn(parts=[bag, lining, {"kind": "lining", "measures": {"of": " "}}])["rows"]["parts"]
    assert not any("error" in each for each in rows), rows
    first, second, empty = ([part["name"] for part in each["parts"]] for each in rows)
    assert first
    assert second
    assert empty == []
    assert not set(first) & set(second)


def test_notes_come_once_the_whole_can_be_read() -> None:
    other = {"name": "tie", "cut": 1, "width": 20, "length": 300, "folds": 4}
    whole = drawn(panels=[ROW], strips=[other])
    assert [len(each["parts"]) for each in whole["rows"]["strips"]] == [1]
    assert isinstance(whole["notes"], list)
    assert drawn(panels=[ROW, ROW])["notes"] == []  # two of one name can't be

"""A change that would help, done to a project's file: read again it is the project that the change was found for."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from salvage.desk.project.helped import can_be_done, helped
from salvage.desk.project.table import project_text
from salvage.errors import UsageError
from salvage.project.project import Grain, Project
from salvage.project.read import read_project

BAG = """name = "Bag"
units = "in"
seam_allowance = "1/2"
[[panel]]
name = "body"
finished = [14, 9]
from = ["back"]
[[panel]]
name = "flap"
size = [8, 6]
[[panel]]
name = "side"
outline = [[0, 0], [5, 0], [4, 6]]
[[strip]]
name = "tie"
cut_width = 2
finished_length = 28
join = "none"
"""
INCH = 25.4


@pytest.fixture
def bag(tmp_path: Path) -> Path:
    path = tmp_path / "bag.toml"
    path.write_text(BAG)
    return path


def done(path: Path, *edits: dict[str, Any], percent: float | None = None) -> Project:
    changed = path.with_name("changed.toml")
    changed.write_text(project_text(helped(path, edits, percent)))
    return read_project(changed)


def size(project: Project, name: str) -> tuple[float, float]:
    xs, ys = zip(*next(each for each in project.panels if each.name == name).outline, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


@pytest.mark.parametrize(
    ("item", "key", "after", "cut_inch"),
    [
        ("body", "finished", [12.5 * INCH, 9 * INCH], (13.5, 10)),
        ("flap", "size", [7 * INCH, 6 * INCH], (7, 6)),
        ("flap", "finished", [6.125 * INCH, 5 * INCH], (7.125, 6)),  # its file says the cut size
    ],
)
def test_a_smaller_size_is_written_as_the_file_writes_it(
    bag: Path, item: str, key: str, after: list[float], cut_inch: tuple[float, float]
) -> None:
    project = done(bag, {"item": item, "key": key, "after": after})
    assert size(project, item) == pytest.approx([each * INCH for each in cut_inch], abs=0.01)
    assert project.name == "Bag, changed"


def test_turned_pieced_from_elsewhere_and_of_another_fabric(bag: Path) -> None:
    project = done(
        bag, {"item": "body", "key": "grain", "after": "either"}, {"item": "body", "key": "joins", "after": 1},
        {"item": "body", "key": "from", "after": []}, {"item": "flap", "key": "fabric", "after": "lining"},
        {"item": "tie", "key": "join", "after": "straight"},
    )  # fmt: skip
    body, flap = project.panels[:2]
    assert (body.grain, body.joins, body.pieces, flap.fabric) == (Grain.EITHER, 1, (), "lining")
    assert project.strips[0].join == "straight"


def test_a_shorter_strip_keeps_its_allowance(bag: Path) -> None:
    assert done(bag, {"item": "tie", "key": "length", "after": 21 * INCH}).strips[0].length == pytest.approx(
        21 * INCH
    )


def test_what_is_cut_elsewhere_is_left_out(bag: Path) -> None:
    assert [each.name for each in done(bag, {"item": "body", "key": "cut", "after": 0}).panels] == [
        "flap",
        "side",
    ]


def test_all_of_it_smaller_keeps_its_allowances(bag: Path) -> None:
    bag.write_text(BAG.replace("outline = [[0, 0], [5, 0], [4, 6]]", "size = [5, 6]"))
    project = done(bag, percent=50)
    assert size(project, "body") == pytest.approx((8 * INCH, 5.5 * INCH), abs=0.01)
    assert size(project, "flap") == pytest.approx((4.5 * INCH, 3.5 * INCH), abs=0.01)
    assert project.strips[0].length == pytest.approx(15 * INCH, abs=0.01)


def test_what_is_drawn_or_follows_from_a_part_is_told(bag: Path) -> None:
    drawn = [{"item": "side", "key": "size", "after": [100, 100]}]
    with pytest.raises(UsageError, match="side is drawn"):
        helped(bag, drawn)
    assert not can_be_done(bag, drawn)
    bag.write_text(
        'name = "t"\n[[part]]\nkind = "bag"\nname = "tote"\nwidth = 300\nheight = 300\ndepth = 80\n'
    )
    with pytest.raises(UsageError, match="follows from a part"):
        helped(bag, [{"item": "tote wall", "key": "finished", "after": [100, 100]}])
    assert not can_be_done(bag, [])

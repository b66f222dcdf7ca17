"""What a project file most likely doesn't mean is told, and what it does mean isn't."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from salvage.project.read import project_from

PANEL = {"name": "body", "size": [200, 300]}


def notes(**data: Any) -> list[str]:
    return list(project_from({"panel": [PANEL], **data}, folder=Path()).notes)


def test_a_plain_project_has_no_note() -> None:
    assert notes() == []
    assert notes(seam_allowance=10) == []
    assert notes(units="in", panel=[{"name": "body", "size": ["7 1/2", 12]}], seam_allowance="3/8") == []


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"panel": [{"name": "body", "size": [10, 15]}]}, "only 15.0 mm"),
        ({"units": "in", "panel": [{"name": "body", "size": [20, 150]}]}, "body is 3.8 m long"),
        ({"seam_allowance": "3/8"}, '"3/8in"'),
        ({"seam_allowance": 1}, "very little"),
        ({"units": "cm", "panel": [{"name": "body", "size": [20, 30]}], "seam_allowance": 10}, "very much"),
        ({"panel": [{"name": "body", "finished": [200, 300]}]}, "body would be cut at the finished size"),
        ({"strip": [{"name": "tie", "finished_width": 20, "length": 300}]}, "tie would be cut"),
    ],
)
def test_each_trap_is_told_once(data: dict[str, Any], says: str) -> None:
    (note,) = notes(**data)
    assert says in note


def test_what_is_said_outright_is_meant() -> None:
    assert notes(panel=[{"name": "body", "finished": [200, 300]}], seam_allowance=0) == []
    assert notes(panel=[{"name": "body", "finished": [200, 300], "seam_allowance": 0}]) == []
    assert notes(strip=[{"name": "tie", "finished_width": 20, "folds": 4, "length": 300}]) == []
    assert notes(seam_allowance=3) == []
    assert notes(seam_allowance=40) == []

"""`salvage template` and `salvage fit --sheet`, as a person runs them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from folder_with import folder_with
from typed import salvage

from salvage.ours import is_ours

BAG = 'seam_allowance = 10\n[[part]]\nname = "tote"\nkind = "bag"\nwidth = 120\nheight = 100\ndepth = 40\n'


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return folder_with(tmp_path, BAG, 500, 400)


def test_all_three_kinds_of_file_are_written_and_again(here: Path) -> None:
    for _ in range(2):
        result = salvage(
            "template", "bag.toml", "--out", "b.pdf", "--out", "b.svg", "--out", "b.dxf", "--json"
        )
        assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    assert told["format"] == "salvage template 1"
    assert (told["paper"], told["sheets"], told["panels"]) == ("A4", 1, ["tote wall"])
    assert all(is_ours((here / f"b.{kind}").read_bytes()) for kind in ("pdf", "svg", "dxf"))


def test_a_drawing_that_a_person_changed_stays(here: Path) -> None:
    salvage("template", "bag.toml", "--out", "b.svg")
    mine = (here / "b.svg").read_text().replace("cut", "CUT")
    (here / "b.svg").write_text(mine)
    result = salvage("template", "bag.toml", "--out", "b.svg")
    assert result.exit_code == 4
    assert "stays as it is" in result.output
    assert (here / "b.svg").read_text() == mine


@pytest.mark.parametrize(
    ("options", "status", "said"),
    [
        (["--paper", "A7"], 2, "choose one of A4, A3, Letter"),
        (["--out", "b.png"], 2, ".pdf or .svg or .dxf"),
        (["--roll", "120mm"], 2, "Give a wider one"),
        (["--roll", "1mm"], 2, "width of the roll"),
        (["--roll", "wide"], 2, "not a length"),
    ],
)
def test_what_can_not_be_asked_for(here: Path, options: list[str], status: int, said: str) -> None:
    result = salvage("template", "bag.toml", *options)
    assert result.exit_code == status
    assert said in result.output
    assert "Traceback" not in result.output


def test_a_fit_draws_its_layout_at_full_size(here: Path) -> None:
    result = salvage(
        "fit",
        "coat.json",
        "bag.toml",
        "--no-report",
        "--seconds",
        "1",
        "--sheet",
        "l.svg",
        "--sheet",
        "l.dxf",
    )
    assert result.exit_code == 0, result.output
    text = (here / "l.svg").read_text()
    assert 'id="cloth"' in text
    assert "coat: back" in text
    assert (here / "l.dxf").stat().st_size > 1000

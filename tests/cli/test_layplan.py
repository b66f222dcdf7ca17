"""`salvage layplan`, and the lay plan in the report of `salvage fit`, as a person runs them."""

from __future__ import annotations

import json
from pathlib import Path

import pypdfium2
import pytest
from folder_with import folder_with
from typed import salvage

BAG = """name = "Tote"
cutting_gap = 3
[[panel]]
name = "wall"
size = [340, 300]
cut = 2
[[panel]]
name = "inner"
fabric = "lining"
size = [340, 300]
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return folder_with(tmp_path, BAG, 200, 150)


def words_of(file: Path) -> str:
    return " ".join(" ".join(p.get_textpage().get_text_range() for p in pypdfium2.PdfDocument(file)).split())


def test_each_fabric_and_width_is_told_and_drawn(here: Path) -> None:
    result = salvage("layplan", "bag.toml", "--width", "1400mm", "--width", "36cm", "--out", "lay.pdf")
    assert result.exit_code == 0, result.output
    assert "shell: 0.30 m of cloth 140 cm wide." in result.output
    assert "shell: 0.65 m of cloth 36 cm wide." in result.output  # one above the other
    text = words_of(here / "lay.pdf")
    assert "0.65 m of cloth 36 cm wide" in text
    assert "340 × 300 mm" in text
    assert "single layer" in text


def test_the_answer_for_machines_has_the_layout(here: Path) -> None:
    result = salvage("layplan", "bag.toml", "--fabric", "Shell", "--folded", "--one-way", "--json")
    told = json.loads(result.stdout)
    assert told["format"] == "salvage layplan 1"
    (plan,) = told["plans"]
    assert (plan["length"], plan["folded"], plan["one_way"], plan["used"]) == (300.0, True, True, 300.0)
    assert [each["copy"] for each in plan["placements"]] == [1, 2]


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--width", "1mm"], "width of the cloth"),
        (["--fabric", "silk"], "asks for none of it"),
        (["--out", "lay.svg"], ".pdf"),
    ],
)
def test_what_can_not_be_asked_for(here: Path, options: list[str], said: str) -> None:
    result = salvage("layplan", "bag.toml", *options)
    assert result.exit_code == 2
    assert said in result.output
    assert "Traceback" not in result.output


def test_a_fits_report_lays_the_project_on_other_cloth(here: Path) -> None:
    result = salvage(
        "fit", "coat.json", "bag.toml", "--seconds", "1", "--other-cloth", "90cm", "--out", "r.html"
    )
    assert result.exit_code == 1, result.output
    text = words_of(here / "r.pdf")
    assert "Laid on other cloth" in text
    assert "shell: 0.30 m of cloth 90 cm wide" in text
    page = (here / "r.html").read_text()
    assert "lining: 0.30 m of cloth 90 cm wide" in page
    assert "Lay plan to scale" in page

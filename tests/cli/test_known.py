"""`--known`: a length that the person knows, instead of a square or beside one, as it is typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typed import salvage

pytestmark = pytest.mark.usefixtures("looked_once")


@pytest.fixture
def photo(demo_images: Path) -> Path:
    return demo_images / "cut-piece.jpg"


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ("100,100,900,100,0", "no length of a garment"),
        ("100,100,900,100,-5mm", "not a length"),
        ("a,100,900,100,560mm", "both ends"),
        ("nan,100,900,100,560mm", "both ends"),
        ("100,100,900,560mm", "both ends"),
        ("100,100,100,100,560mm", "0 pixels apart"),
        ("100,100,99999,100,560mm", "lies outside"),
        ("100,100,900,100,9", "Write its unit"),
        ("100,100,900,100,560m", "not a length"),
    ],
)
def test_slips_are_told(photo: Path, known: str, said: str) -> None:
    result = salvage("tape", photo, "--known", known, "--from", "100,100", "--to", "400,400")
    assert result.exit_code == 2
    assert said in result.stderr
    assert "--known" in result.stderr


def test_the_length_measured_again_is_the_one_told(photo: Path) -> None:
    told = ("--known", "600,500,1500,520,22 1/2in")
    result = salvage("tape", photo, *told, "--from", "600,500", "--to", "1500,520", "--json")
    (distance,) = json.loads(result.stdout)["distances"]
    assert distance["length"] == pytest.approx(22.5 * 25.4, rel=0.01)
    assert distance["plus_minus"] > 0.01 * distance["length"]


def test_it_is_warned_to_be_weaker(photo: Path) -> None:
    result = salvage("check", photo, "--known", "600,500,1500,520,560mm")
    assert result.exit_code == 0
    assert "one known length, not on a square" in result.stdout
    assert "tilt not known" in result.stdout


def test_inches_for_millimetres_are_told(photo: Path) -> None:
    result = salvage("check", photo, "--known", "600,500,1500,520,22")
    assert result.exit_code == 4
    assert "Check the length and its unit" in result.stdout


def test_a_square_that_contradicts_it_is_told(photo: Path) -> None:
    result = salvage("check", photo, "--side", "150mm", "--known", "600,500,1500,520,3000mm")
    assert result.exit_code == 4
    assert "by the reference square it is" in result.stdout


def test_records_keep_it(photo: Path, tmp_path: Path) -> None:
    record = tmp_path / "piece.json"
    result = salvage(
        "measure", photo, "--known", "600,500,1500,520,560mm", "--cloth", "1000,900", "--out", record
    )
    assert result.exit_code == 0, result.stderr
    shot = json.loads(record.read_text())["pieces"][0]["photo"]
    assert shot["camera"]["told"] == {
        "known": [[600.0, 500.0, 1500.0, 520.0, 560.0]],
        "cloth": [[1000.0, 900.0]],
    }
    assert salvage("holds", record, "--json").exit_code == 0
    again = salvage("measure", photo, "--out", record)
    assert again.exit_code == 0, again.stderr
    assert "--known, --cloth as told before" in again.stderr
    assert json.loads(record.read_text())["pieces"][0]["photo"]["camera"]["told"] == shot["camera"]["told"]


def test_a_record_takes_no_known_length(photo: Path, tmp_path: Path) -> None:
    (tmp_path / "a.json").write_text(
        '{"format": "salvage garment 1", "units": "mm", "name": "a", "pieces": []}'
    )
    result = salvage("holds", tmp_path / "a.json", "--known", "600,500,1500,520,560mm")
    assert result.exit_code == 2
    assert "--known is about a photograph" in result.stderr

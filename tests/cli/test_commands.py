"""The commands as a person types them: answers, exit statuses, and what happens to bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typed import salvage

COAT = {
    "format": "salvage garment 1",
    "units": "mm",
    "name": "work coat",
    "pieces": [
        {
            "name": "back",
            "fabric": "shell",
            "grain": 90.0,
            "outline": {"type": "Polygon", "coordinates": [[[0, 0], [620, 0], [620, 700], [0, 700], [0, 0]]]},
            "blocked": [
                {
                    "kind": "pocket",
                    "margin": 3.0,
                    "found_by": "person",
                    "shape": {
                        "type": "Polygon",
                        "coordinates": [[[60, 60], [160, 60], [160, 120], [60, 120], [60, 60]]],
                    },
                }
            ],
        }
    ],
}


@pytest.fixture
def coat(tmp_path: Path) -> Path:
    path = tmp_path / "coat.json"
    path.write_text(json.dumps(COAT))
    return path


@pytest.fixture
def inside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Commands write beside where they are called: call them in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_help_lists_every_command() -> None:
    shown = salvage("--help").output
    for name in ("square", "check", "tape", "measure", "fit", "holds", "demo"):
        assert name in shown


def test_a_small_project_fits_a_coat_back(coat: Path, projects: Path, inside: Path) -> None:
    result = salvage(
        "fit", coat, projects / "tool_roll.toml", "--json", "--steps", "600", "--out", inside / "r.html"
    )
    assert result.exit_code == 0, result.output
    answer = json.loads(result.stdout)
    assert answer["format"] == "salvage fit 1"
    assert answer["verdict"] == "yes"
    assert {p["panel"] for p in answer["placements"]} == {"back", "tool pocket", "flap"}
    assert answer["spare"] > 0
    assert (inside / "r.html").stat().st_size > 5_000
    assert (inside / "r.pdf").read_bytes().startswith(b"%PDF")


def test_too_big_a_project_is_a_proved_no(coat: Path, projects: Path, inside: Path) -> None:
    result = salvage("fit", coat, projects / "bench_cover.toml", "--json", "--seconds", "4")
    assert result.exit_code == 1, result.output
    answer = json.loads(result.stdout)
    assert answer["verdict"] == "no"
    assert answer["proof"]["kind"] == "no-place"  # the top is wider than any stretch of the coat
    assert any("top" in reason for reason in answer["reasons"])


def test_the_reason_is_said_in_the_units_asked_for(coat: Path, projects: Path, inside: Path) -> None:
    result = salvage(
        "fit", coat, projects / "bench_cover.toml", "--units", "in", "--seconds", "4", "--no-report"
    )
    assert " in" in result.stdout
    assert not list(inside.glob("*.html"))


def test_a_report_never_replaces_a_file_that_is_no_report(coat: Path, projects: Path, inside: Path) -> None:
    mine = inside / "mine.html"
    mine.write_text("<p>my notes</p>")
    result = salvage("fit", coat, projects / "tool_roll.toml", "--out", mine)
    assert result.exit_code == 4
    assert "stays as it is" in result.stderr
    assert mine.read_text() == "<p>my notes</p>"


def test_holds_tells_area_by_fabric(coat: Path) -> None:
    result = salvage("holds", coat, "--json")
    assert result.exit_code == 0, result.output
    assert "shell" in result.stdout
    json.loads(result.stdout)
    assert "shell" in salvage("holds", coat, "--units", "in").stdout


@pytest.mark.parametrize("side", ["150mm", "6in"])
def test_square_writes_a_pdf(inside: Path, side: str) -> None:
    result = salvage("square", "--side", side, "--out", inside / "s.pdf")
    assert result.exit_code == 0, result.output
    assert (inside / "s.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (("fit", "coat.json"), 2, "exactly one project"),
        (("fit", "PROJECT"), 2, "at least one garment"),
        (("fit", "none.json", "PROJECT"), 4, "none.json"),
        (("fit", "empty.jpg", "PROJECT"), 4, "empty.jpg"),
        (("fit", "empty.jpg", "PROJECT", "--side", "150mm"), 4, "empty.jpg"),
        (("holds", "text.json"), 4, "text.json"),
        (("check", "empty.jpg"), 4, "empty.jpg"),
        (("check", "text.png"), 4, "text.png"),
        (("check", "none.jpg"), 4, "none.jpg"),
        (("check", "empty.jpg", "--side", "6"), 2, "6in"),
        (("check", "empty.jpg", "--side", "six"), 2, "not a length"),
        (("check", "empty.jpg", "--paper", "B7"), 2, "A4"),
        (("tape", "empty.jpg", "--side", "150mm"), 2, "--from"),
        (("tape", "empty.jpg", "--side", "150mm", "--from", "1,2", "--to", "x"), 2, "X,Y"),
        (("tape", "empty.jpg", "--side", "150mm", "--pairs", "none.csv"), 4, "none.csv"),
        (("measure", "empty.jpg", "--side", "150mm", "--out", "o.txt"), 2, ".json"),
        (("measure", "empty.jpg", "--out", "o.json"), 4, "empty.jpg"),
        (("measure", "empty.jpg", "--side", "150mm", "--kind", "felted", "--out", "o.json"), 2, "felted"),
        (("square", "--side", "900mm"), 2, "900"),
    ],
)
def test_bad_input_gets_a_clear_word_and_a_status(
    inside: Path, coat: Path, projects: Path, arguments: tuple[str, ...], status: int, said: str
) -> None:
    (inside / "empty.jpg").touch()
    (inside / "text.json").write_text("hello")
    (inside / "text.png").write_text("hello")
    project = str(projects / "tool_roll.toml")
    result = salvage(*(project if a == "PROJECT" else a for a in arguments))
    assert result.exit_code == status, result.output
    assert said in result.stderr
    assert "Traceback" not in result.output
    assert "something went wrong" not in result.output


def test_measuring_never_replaces_a_file_that_is_no_record(inside: Path, demo_images: Path) -> None:
    (inside / "notes.json").write_text('{"my": "notes"}')
    result = salvage(
        "measure", demo_images / "coat-back.jpg", "--side", "150mm", "--out", inside / "notes.json"
    )
    assert result.exit_code == 4
    assert (inside / "notes.json").read_text() == '{"my": "notes"}'


def test_the_whole_way_on_the_demo_photograph(inside: Path, demo_images: Path, projects: Path) -> None:
    photo = demo_images / "coat-back.jpg"
    checked = salvage("check", photo, "--side", "150mm", "--json", "--out", inside / "check.jpg")
    assert checked.exit_code == 0, checked.output
    check = json.loads(checked.stdout)
    assert check["format"] == "salvage check 1"
    assert check["ok"] is True
    assert len(check["squares"]) == 2
    assert 0 < check["scale"]["plus_minus_percent"] < 2
    record = inside / "coat.json"
    measured = salvage("measure", photo, "--side", "150mm", "--out", record)
    assert measured.exit_code == 0, measured.output
    assert (inside / "coat-marked.jpg").stat().st_size > 50_000
    fitted = salvage(
        "fit", record, projects / "tool_roll.toml", "--steps", "600", "--json", "--out", "fit.html",
        "--photos", demo_images,
    )  # fmt: skip
    assert fitted.exit_code == 0, fitted.output
    placed = json.loads(fitted.stdout)["placements"]
    assert placed
    assert min(len(p["shape_px"]) for p in placed) >= 4
    assert "data:image/jpeg" in (inside / "fit.html").read_text()

"""What goes wrong at a first try: slips in names, results that would land on one's own files."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from typing import Any

import pytest
from typed import salvage

pytestmark = pytest.mark.usefixtures("looked_once")
SMALL = '[[panel]]\nname = "patch"\nsize = [100, 100]\n'


def ring(*corners: tuple[float, float]) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": [[list(c) for c in (*corners, corners[0])]]}


def cloth(name: str = "coat") -> dict[str, Any]:
    pocket = {"kind": "pocket", "margin": 3.0, "shape": ring((60, 60), (160, 60), (160, 120), (60, 120))}
    piece = {
        "name": "back", "fabric": "shell", "outline": ring((0, 0), (300, 0), (300, 300), (0, 300)),
        "blocked": [pocket],
    }  # fmt: skip
    return {"format": "salvage garment 1", "units": "mm", "name": name, "pieces": [piece]}


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "coat.json").write_text(json.dumps(cloth()))
    (tmp_path / "small.toml").write_text(SMALL)
    return tmp_path


@pytest.mark.parametrize(
    ("right", "slip"),
    [("blocked", "blockd"), ("fabric", "fabrik"), ("margin", "margins"), ("pieces", "peices")],
)
def test_a_misspelt_field_of_a_record_is_not_dropped_quietly(here: Path, right: str, slip: str) -> None:
    (here / "coat.json").write_text(json.dumps(cloth()).replace(f'"{right}"', f'"{slip}"'))
    result = salvage("fit", "coat.json", "small.toml", "--no-report")
    assert result.exit_code == 4
    assert f"Did you mean '{right}'?" in result.stderr


def test_fields_of_other_programs_are_still_kept(here: Path) -> None:
    data = cloth() | {"colour": "navy"}
    data["pieces"][0]["weight_g"] = 310
    (here / "coat.json").write_text(json.dumps(data))
    assert salvage("holds", "coat.json", "--json").exit_code == 0


@pytest.mark.parametrize(
    "command", [("fit", "coat.json", "./coat.json", "small.toml"), ("holds",) + ("coat.json",) * 2]
)
def test_the_same_cloth_is_not_counted_twice(here: Path, command: tuple[str, ...]) -> None:
    result = salvage(*command)
    assert result.exit_code == 2
    assert "more than once" in result.stderr


def test_two_garments_of_one_name_are_told_apart(here: Path) -> None:
    shutil.copyfile("coat.json", "other.json")
    result = salvage("fit", "coat.json", "other.json", "small.toml", "--no-report", "--steps", "300")
    assert result.exit_code == 0, result.output
    assert "coat (coat)" in result.stdout
    assert "coat (other)" in result.stdout


@pytest.mark.parametrize(
    ("out", "status", "said"),
    [
        ("taken.html", 4, "is a folder"),
        ("nowhere/r.html", 4, "no such folder"),
        ("r.txt", 2, "ends in .html"),
        ("mine.html", 4, "mine.pdf: is there already and was not written by this program"),
    ],
)
def test_a_report_with_nowhere_to_go_is_said_before_the_search(
    here: Path, out: str, status: int, said: str
) -> None:
    (here / "taken.html").mkdir()
    (here / "mine.pdf").write_bytes(b"%PDF-1.4 a pattern I bought")
    result = salvage("fit", "coat.json", "small.toml", "--out", out)
    assert result.exit_code == status
    assert said in result.stderr
    assert result.stdout == ""
    assert (here / "mine.pdf").read_bytes() == b"%PDF-1.4 a pattern I bought"


def test_a_report_of_ours_is_written_again(here: Path) -> None:
    for _ in range(2):
        assert salvage("fit", "coat.json", "small.toml", "--steps", "300").exit_code == 0
    (here / "fit-small.html").unlink()
    assert salvage("fit", "coat.json", "small.toml", "--steps", "300").exit_code == 0


def test_a_marked_picture_never_replaces_the_photograph(here: Path) -> None:
    for name in ("coat.jpg", "coat-marked.jpg"):
        (here / name).write_bytes(b"my photograph")
    checked = salvage("check", "coat.jpg", "--side", "150mm", "--out", "./coat.jpg")
    measured = salvage("measure", "coat-marked.jpg", "--side", "150mm", "--out", "coat.json")
    for result, name in ((checked, "coat.jpg"), (measured, "coat-marked.jpg")):
        assert result.exit_code == 2
        assert "stays as it is" in result.stderr
        assert (here / name).read_bytes() == b"my photograph"
    assert salvage("check", "coat.jpg", "--out", "marks.txt").exit_code == 2


def test_two_photographs_of_one_name_are_not_mixed_up(here: Path) -> None:
    result = salvage("measure", "front/a.jpg", "back/a.jpg", "--side", "150mm", "--out", "coat.json")
    assert result.exit_code == 2
    assert "same name" in result.stderr


def test_square_takes_a_sheet_in_small_letters_and_writes_a_pdf_only(here: Path) -> None:
    assert salvage("square", "--paper", "letter", "--out", "s.pdf").exit_code == 0
    result = salvage("square", "--out", "s.txt")
    assert result.exit_code == 2
    assert "ends in .pdf" in result.stderr


def test_a_pixel_that_is_no_number_is_named_by_its_line(here: Path) -> None:
    (here / "pairs.csv").write_text("x1,y1,x2,y2\n1,2,3,4\n1,2,3,nan\n")
    (here / "photo.jpg").touch()
    result = salvage("tape", "photo.jpg", "--side", "150mm", "--pairs", "pairs.csv")
    assert result.exit_code == 4
    assert "line 3" in result.stderr


def test_without_a_side_no_size_of_the_squares_is_made_up(here: Path, demo_images: Path) -> None:
    photo = demo_images / "cut-piece.jpg"
    plain = salvage("check", photo)
    assert plain.exit_code == 0, plain.output
    assert "2 × plain square\n" in plain.stdout
    answer = json.loads(salvage("check", photo, "--json").stdout)
    assert answer["scale"] is None
    assert [square["side"] for square in answer["squares"]] == [None, None]


def test_inches_are_said_all_through_and_a_new_name_is_taken(here: Path, demo_images: Path) -> None:
    photo = demo_images / "cut-piece.jpg"
    checked = salvage("check", photo, "--side", "6in", "--units", "in").stdout
    assert "a length of 12 in" in checked
    assert " mm" not in checked
    again = salvage("measure", photo, "--side", "150mm", "--out", "coat.json", "--name", "apron")
    assert again.exit_code == 0, again.output
    assert again.stdout.startswith("apron: ")
    assert json.loads((here / "coat.json").read_text())["name"] == "apron"


@pytest.mark.parametrize("option", [("--kind", "knit"), ("--cloth", "10,10"), ("--layers", "2")])
def test_what_is_told_of_a_photograph_is_not_dropped_where_there_is_none(
    here: Path, option: tuple[str, str]
) -> None:
    said = salvage("holds", "coat.json", *option)
    assert said.exit_code == 2
    assert option[0] in said.stderr


def test_holds_takes_hints_and_layers_with_a_photograph(here: Path, demo_images: Path) -> None:
    photo = demo_images / "cut-piece.jpg"

    def area(*more: str) -> float:
        said = salvage("holds", photo, "--side", "150mm", "--fabric", "canvas", "--json", *more)
        assert said.exit_code == 0
        return json.loads(said.stdout)["fabrics"]["canvas"]["area"]

    assert area("--layers", "2", "--cloth", "1350,900") == pytest.approx(2 * area(), rel=0.03)


@pytest.mark.parametrize("hint", ["--cloth", "--floor", "--square"])
def test_a_hint_beside_the_picture_is_refused(here: Path, demo_images: Path, hint: str) -> None:
    said = salvage("check", demo_images / "cut-piece.jpg", "--side", "150mm", hint, "9999,1")
    assert said.exit_code == 2
    assert "lies outside cut-piece.jpg" in said.stderr


def test_a_height_no_cloth_has_is_refused(here: Path, demo_images: Path) -> None:
    said = salvage("holds", demo_images / "cut-piece.jpg", "--side", "150mm", "--height", "800mm")
    assert said.exit_code == 2
    assert "800 mm" in said.stderr


def test_cloth_as_flat_as_the_floor_is_taken(here: Path, demo_images: Path) -> None:
    ends = ("--from", "900,800", "--to", "1500,900", "--json")
    told = ("tape", demo_images / "cut-piece.jpg", "--side", "150mm", *ends)
    flat, thick = (salvage(*told, "--height", height) for height in ("0mm", "20mm"))
    lengths = [json.loads(each.stdout)["distances"][0]["length"] for each in (flat, thick)]
    assert lengths[0] > lengths[1]


def test_a_copy_of_a_photographed_record_is_the_same_cloth(here: Path) -> None:
    data = cloth()
    data["pieces"][0]["photo"] = {"file": "a.jpg", "side": 150.0, "camera": {}, "mm_to_pixel": {}}
    (here / "coat.json").write_text(json.dumps(data))
    shutil.copy("coat.json", "copy.json")
    said = salvage("holds", "coat.json", "copy.json")
    assert said.exit_code == 2
    assert "holds the same as coat.json" in said.stderr


def test_a_misspelt_field_beside_the_right_one_is_a_slip_too(here: Path) -> None:
    data = cloth()
    data["pieces"][0] |= {"grain": 90.0, "grian": 0.0}
    (here / "coat.json").write_text(json.dumps(data))
    said = salvage("holds", "coat.json")
    assert said.exit_code == 4
    assert "Did you mean 'grain'?" in said.stderr


def test_a_no_for_want_of_a_fabric_names_the_one_there_is_enough_of(here: Path) -> None:
    data = cloth()
    small = {"name": "facing", "fabric": "lining", "outline": ring((0, 0), (120, 0), (120, 120), (0, 120))}
    data["pieces"].append(small)
    (here / "coat.json").write_text(json.dumps(data))
    (here / "lined.toml").write_text(
        '[[panel]]\nname = "wall"\nfabric = "lining"\nsize = [200, 200]\ncut = 2\n'
    )
    said = salvage("fit", "coat.json", "lined.toml", "--no-report")
    assert said.exit_code == 1
    assert "if that is the lining, the names are the wrong way round" in said.stdout


def test_measuring_into_another_record_says_what_it_keeps(here: Path, demo_images: Path) -> None:
    said = salvage("measure", demo_images / "cut-piece.jpg", "--side", "150mm", "--out", "coat.json")
    assert said.exit_code == 0
    assert "held 'coat' already: kept of it back" in said.stderr


def test_the_wrong_side_is_doubted_by_the_size_of_the_garment(here: Path, demo_images: Path) -> None:
    photo = demo_images / "cut-piece.jpg"
    for side, doubted in (("150mm", False), ("20mm", True)):  # a piece too long is in tests/test_job.py
        said = salvage("measure", photo, "--side", side, "--out", f"{side}.json")
        assert said.exit_code == 0
        assert ("few garments have" in said.stdout) == doubted


@pytest.mark.parametrize(
    ("command", "result"),
    [
        (("square", "--out", "s.pdf"), "s.pdf"),
        (("fit", "coat.json", "small.toml", "--steps", "300", "--out", "r.html"), "r.html"),
        (("fit", "coat.json", "small.toml", "--steps", "300", "--out", "r.html"), "r.pdf"),
        (("check", "PHOTO", "--out", "c.jpg"), "c.jpg"),
        (("measure", "PHOTO", "--side", "150mm", "--out", "cut.json"), "cut-marked.jpg"),
    ],
)
def test_a_result_that_a_person_changed_stays_as_it_is(
    here: Path, demo_images: Path, command: tuple[str, ...], result: str
) -> None:
    command = tuple(str(demo_images / "cut-piece.jpg") if word == "PHOTO" else word for word in command)
    assert salvage(*command).exit_code == 0
    assert salvage(*command).exit_code == 0  # ours and unchanged: written again
    (here / result).write_bytes((here / result).read_bytes() + b"<!-- a person's note -->")
    changed = (here / result).read_bytes()
    refused = salvage(*command)
    assert refused.exit_code == 4
    assert "changed since" in refused.stderr
    assert (here / result).read_bytes() == changed


def test_the_demonstration_replaces_nothing_of_a_persons(here: Path) -> None:
    folder = here / "salvage-demo"
    folder.mkdir()
    (folder / "coat-back.jpg").write_bytes(b"my own photograph")
    refused = salvage("demo")
    assert refused.exit_code == 4
    assert [each.name for each in folder.iterdir()] == ["coat-back.jpg"]
    assert (folder / "coat-back.jpg").read_bytes() == b"my own photograph"
    (here / "file").touch()
    assert salvage("demo", "--out", "file").exit_code == 4


def test_a_pipe_is_refused_at_once(here: Path) -> None:
    os.mkfifo(here / "pipe.json")
    os.mkfifo(here / "pipe.toml")
    for command in (
        ("holds", "pipe.json"),
        ("fit", "coat.json", "pipe.toml"),
        ("measure", "x.jpg", "--side", "150mm", "--out", "pipe.json"),
    ):
        refused = salvage(*command)
        assert refused.exit_code == 4
        assert "pipe" in refused.stderr

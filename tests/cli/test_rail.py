"""`holds` of several garments and of a folder, `match` and `rail` as a person types them, and what can go wrong."""

from __future__ import annotations

import json
import os
import shutil
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest
from rail_garments import cloth
from shapely.geometry import box
from typed import salvage

from salvage.cloth.record.file import read_garment
from salvage.cloth.record.write import garment_to_json
from salvage.rail.note import used_of

POUCH = 'name = "Pouch"\n[[panel]]\nname = "body"\nsize = [200, 200]\n'
BAG = 'name = "Bag"\n[[panel]]\nname = "body"\nsize = [400, 400]\n'


@pytest.fixture
def pile(tmp_path: Path) -> Path:
    folder = tmp_path / "pile"
    folder.mkdir()
    for name, size in (("coat", 500), ("shirt", 210)):
        (folder / f"{name}.json").write_text(garment_to_json(cloth(name, box(0, 0, size, size))))
    return folder


@pytest.fixture
def wanted(tmp_path: Path) -> Path:
    folder = tmp_path / "projects"
    folder.mkdir()
    (folder / "pouch.toml").write_text(POUCH)
    (folder / "bag.toml").write_text(BAG)
    return folder


# --- holds -------------------------------------------------------------------------------------------


def test_several_garments_are_told_one_by_one_and_then_the_sum(pile: Path) -> None:
    done = salvage("holds", pile / "coat.json", pile / "shirt.json")
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    assert [line for line in lines if not line.startswith(" ")][:3] == [
        "coat:",
        "shirt:",
        "In all, 2 garments:",
    ]
    assert "shell: 2,500 cm² usable" in done.stdout
    assert "shell: 441 cm² usable" in done.stdout
    assert "shell: 2,941 cm² usable" in done.stdout
    assert "500 × 500 mm, on back of coat" in done.stdout  # a piece's name belongs to a garment


def test_several_garments_as_json(pile: Path) -> None:
    data = json.loads(salvage("holds", pile / "coat.json", pile / "shirt.json", "--json").stdout)
    assert data["format"] == "salvage holds 1"
    assert data["fabrics"]["shell"]["area"] == pytest.approx(294_100)
    assert [each["name"] for each in data["garments"]] == ["coat", "shirt"]
    assert data["garments"][1]["fabrics"]["shell"]["area"] == pytest.approx(44_100)


def test_how_many_of_a_project(pile: Path, wanted: Path) -> None:
    done = salvage("holds", pile / "coat.json", "--project", wanted / "bag.toml")
    assert "Bag: 1 times" in done.stdout
    assert not done.stdout.startswith("coat:")


def test_a_folder_as_a_table_a_csv_and_a_page(pile: Path, wanted: Path, tmp_path: Path) -> None:
    table, page = tmp_path / "rail.csv", tmp_path / "rail.html"
    given: list[str | Path] = [
        "holds",
        pile,
        "--project",
        wanted / "pouch.toml",
        "--csv",
        table,
        "--page",
        page,
        "--cores",
        "1",
    ]
    done = salvage(*given)
    assert done.exit_code == 0
    rows = [line.split() for line in done.stdout.splitlines()[:3]]
    assert rows[0][0] == "garment"
    assert (rows[1][0], rows[2][0]) == ("coat", "shirt")  # the most cloth first
    assert table.read_bytes().startswith(b"\xef\xbb\xbfgarment,file")
    assert page.read_text().count("<article") == 2
    assert salvage(*given, "--sort", "name").exit_code == 0  # both are ours to write again
    page.write_text("mine")
    assert salvage(*given).exit_code == 4
    assert page.read_text() == "mine"


def test_a_table_that_is_not_ours_stays(pile: Path, tmp_path: Path) -> None:
    table = tmp_path / "rail.csv"
    table.write_text("mine")
    done = salvage("holds", pile, "--csv", table, "--cores", "1")
    assert done.exit_code == 4
    assert "rail-2.csv is free" in done.stderr
    assert table.read_text() == "mine"


def test_a_folder_as_json(pile: Path) -> None:
    data = json.loads(salvage("holds", pile, "--json", "--cores", "1", "--sort", "name").stdout)
    assert data["format"] == "salvage rail 1"
    assert [each["file"] for each in data["garments"]] == ["coat.json", "shirt.json"]
    assert data["unused"] == []


@pytest.mark.parametrize(
    ("options", "status", "says"),
    [
        (["--sort", "colour"], 2, "choose one of name, area"),
        (["--known", "1,1,900,1,500mm"], 2, "pixels of one picture"),
        (["--csv", "table.txt"], 2, "ends in .csv"),
        (["--out", "no/such/folder"], 4, "no such folder"),
        (["--project", "no.toml"], 4, "no such file"),
        (["--cores", "1", "--scheduler", "tcp://127.0.0.1:9"], 2, "Give one of them"),
    ],
)
def test_what_makes_no_sense(pile: Path, options: list[str], status: int, says: str) -> None:
    done = salvage("holds", pile, *options)
    assert done.exit_code == status
    assert says in done.stderr


def test_options_of_a_folder_with_garments_by_name(pile: Path) -> None:
    assert salvage("holds", pile / "coat.json", "--csv", "t.csv").exit_code == 2
    assert salvage("holds", pile, pile / "coat.json").exit_code == 2


def test_an_empty_folder(tmp_path: Path) -> None:
    done = salvage("holds", tmp_path, "--cores", "1")
    assert done.exit_code == 4
    assert "No garment" in done.stdout


def test_a_folder_of_what_is_no_photograph(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_text("no picture")
    (tmp_path / "b.json").write_text("{")
    (tmp_path / "c.txt").write_text("hello")
    done = salvage("holds", tmp_path, "--side", "150mm", "--cores", "1")
    assert done.exit_code == 4
    assert "a.jpg: not a picture" in done.stdout
    assert "b.json: not valid JSON" in done.stdout
    assert "c.txt" not in done.stdout


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere, so that nothing is closed to it")
def test_a_closed_folder(pile: Path) -> None:
    pile.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        done = salvage("holds", pile, "--cores", "1")
    finally:
        pile.chmod(stat.S_IRWXU)
    assert done.exit_code == 0
    assert "nothing is kept" in done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="a signal of Unix")
def test_ctrl_c_leaves_what_was_measured(tmp_path: Path, demo_images: Path) -> None:
    """The real command on real photographs, stopped once the first record is there."""
    for name in ("a", "b", "c"):
        (tmp_path / f"{name}.jpg").write_bytes(
            (demo_images / "cut-piece.jpg").read_bytes()
            + name.encode()  # the same picture to the eye, another file
        )
    # Whoever started the tests in the background had them ignore this signal, and so would the command.
    heeding = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)"
    command = [sys.executable, "-P", "-c", f"{heeding}; from salvage.commands.main import main; main()"]
    running = subprocess.Popen(
        [*command, "holds", str(tmp_path), "--side", "150mm", "--cores", "1"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    until = time.monotonic() + 300
    while not (tmp_path / "a.json").exists() and time.monotonic() < until and running.poll() is None:
        time.sleep(0.1)
    os.killpg(running.pid, signal.SIGINT)  # as a terminal does it: everybody gets it
    _, told = running.communicate(timeout=60)
    assert running.returncode == 130, told
    assert "Traceback" not in told
    assert "stopped" in told
    assert read_garment(tmp_path / "a.json").pieces
    assert not (tmp_path / "c.json").exists()


# --- match -------------------------------------------------------------------------------------------


def test_match(pile: Path, wanted: Path, tmp_path: Path) -> None:
    table = tmp_path / "match.csv"
    done = salvage("match", pile, wanted, "--cores", "1", "--csv", table)
    assert done.exit_code == 0, done.output
    lines = [" ".join(line.split()) for line in done.stdout.splitlines()]
    assert "Bag from coat yes" in lines
    assert "Pouch from shirt yes" in lines
    assert "shirt no yes" in lines
    assert any("no other choice makes more" in line for line in lines)
    assert "Pouch,yes,yes" in table.read_text()


def test_match_as_json_with_worth_and_wanted(pile: Path, wanted: Path) -> None:
    done = salvage(
        "match", pile, wanted, "--cores", "1", "--json", "--worth", "Pouch=3.5", "--wanted", "bag=0"
    )
    data = json.loads(done.stdout)
    assert data["format"] == "salvage match 1"
    assert data["worth"] == 7.0
    assert {each["project"] for each in data["make"]} == {"Pouch"}
    assert {e["verdict"] for e in data["answers"] if e["project"] == "Bag"} == {"yes", "no"}


@pytest.mark.parametrize(
    ("option", "says"),
    [
        ("--worth=Poch=2", "Pouch"), ("--worth=Pouch", "Pouch"), ("--worth=Pouch=dear", "dear"),
        ("--wanted=Bag=-1", "Bag"), ("--wanted=Bag=1.5", "Bag"),
    ],
)  # fmt: skip
def test_wishes_that_make_no_sense(pile: Path, wanted: Path, option: str, says: str) -> None:
    done = salvage("match", pile, wanted, option)
    assert done.exit_code == 2
    assert says in done.stderr


def test_match_without_projects_or_garments(pile: Path, wanted: Path, tmp_path: Path) -> None:
    empty = tmp_path / "empty"
    empty.mkdir()
    done = salvage("match", pile, empty)
    assert done.exit_code == 4
    assert "no project" in done.stderr
    done = salvage("match", empty, wanted, "--cores", "1")
    assert done.exit_code == 1
    assert "No garment to match" in done.stdout
    (wanted / "broken.toml").write_text("name = ")
    done = salvage("match", pile, wanted, "--cores", "1")
    assert done.exit_code == 0  # the others are matched all the same
    assert "broken.toml" in done.stderr


def test_projects_of_one_name_are_told_apart(pile: Path, wanted: Path) -> None:
    shutil.copyfile(wanted / "bag.toml", wanted / "bag2.toml")
    done = salvage("match", pile, wanted, "--cores", "1")
    assert "Bag (bag2)" in done.stdout


# --- rail --------------------------------------------------------------------------------------------


def test_find_on_the_rail(pile: Path) -> None:
    def found(*options: str) -> list[str]:
        data = json.loads(salvage("rail", pile, "--json", *options).stdout)
        return [each["name"] for each in data["garments"]]

    assert found() == ["coat", "shirt"]
    assert found("--least", "400x400mm") == ["coat"]
    assert found("--least", "15 x 15 in") == ["coat"]
    assert found("--least", "20x20", "--units", "cm", "--fabric", "shell") == ["coat", "shirt"]
    assert found("--name", "SHI") == ["shirt"]
    assert found("--kind", "denim") == []
    for wrong in ("400", "0x5", "axb"):
        assert salvage("rail", pile, "--least", wrong).exit_code == 2
    assert salvage("rail", pile, "--since", "yesterday").exit_code == 2


def test_mark_used_and_free(pile: Path) -> None:
    coat = pile / "coat.json"
    assert salvage("rail", pile, "--mark-used", coat, "--for", "Bag").exit_code == 0
    used = used_of(read_garment(coat))
    assert used is not None
    assert used.purpose == "Bag"
    assert "cut for Bag" in salvage("rail", pile).stdout
    assert "coat" not in salvage("rail", pile, "--unused").stdout
    assert salvage("rail", pile, "--mark-free", coat).exit_code == 0
    assert used_of(read_garment(coat)) is None
    assert salvage("rail", pile, "--mark-used", pile / "no.json").exit_code == 4
    assert not (pile / "no.json").exists()


# --- what is left over -------------------------------------------------------------------------------


def test_keep_the_rest(pile: Path, wanted: Path) -> None:
    coat, rest = pile / "coat.json", pile / "rest.json"
    fit: list[str | Path] = [
        "fit",
        coat,
        wanted / "pouch.toml",
        "--no-report",
        "--keep-rest",
        rest,
        "--steps",
        "300",
    ]
    assert salvage(*fit).exit_code == 0
    assert "marked as" in salvage("fit", coat, wanted / "pouch.toml", "--no-report", "--steps", "300").stderr
    assert used_of(read_garment(coat)).rest == "rest.json"  # type: ignore[union-attr]
    names = salvage("rail", pile, "--unused").stdout
    assert "coat, rest" in names
    assert salvage(*fit).exit_code == 2  # a rest is never written over
    again = salvage("fit", rest, wanted / "bag.toml", "--no-report", "--steps", "300")
    assert (
        again.exit_code != 0
    )  # 400 x 400 of the 500 x 500 went with the pouch's corner, or is gone in the middle


def test_no_rest_without_a_layout(pile: Path, wanted: Path) -> None:
    rest = pile / "rest.json"
    done = salvage(
        "fit", pile / "shirt.json", wanted / "bag.toml", "--no-report", "--keep-rest", rest, "--seconds", "2"
    )
    assert done.exit_code == 1
    assert "no rest is kept" in done.stderr
    assert not rest.exists()
    assert used_of(read_garment(pile / "shirt.json")) is None


def test_a_photograph_has_no_record_to_mark(wanted: Path, tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"x")
    done = salvage(
        "fit", tmp_path / "a.jpg", wanted / "bag.toml", "--side", "150mm", "--keep-rest", tmp_path / "r.json"
    )
    assert done.exit_code == 2
    assert "Measure it first" in done.stderr

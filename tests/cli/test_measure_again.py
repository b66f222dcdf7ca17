"""Measuring into a record that is there: edits made meanwhile, two at once, and files that stay what they are."""

from __future__ import annotations

import json
import re
import shutil
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from typed import salvage
from typer.testing import Result

from salvage.commands.shared import photographs

Record = dict[str, Any]
pytestmark = pytest.mark.usefixtures("looked_once")


def measure(*arguments: str | Path) -> Result:
    return salvage("measure", *arguments, "--side", "150mm")


@pytest.fixture(scope="module")
def measured(looked_once: None, tmp_path_factory: pytest.TempPathFactory, demo_images: Path) -> Path:
    folder = tmp_path_factory.mktemp("measured")
    shutil.copyfile(demo_images / "cut-piece.jpg", folder / "apron.jpg")
    assert measure(folder / "apron.jpg", "--out", folder / "apron.json").exit_code == 0
    return folder


@pytest.fixture
def here(measured: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a photograph that was measured once."""
    monkeypatch.chdir(tmp_path)
    for file in measured.iterdir():
        shutil.copyfile(file, tmp_path / file.name)
    return tmp_path


def record(name: str = "apron.json") -> Record:
    return json.loads(Path(name).read_text())


def meanwhile(monkeypatch: pytest.MonkeyPatch, happens: Callable[[], None]) -> None:
    """Let something happen once, while a photograph is looked at."""
    real = photographs.look_at
    done: list[bool] = []

    def looked(*arguments: Any, **more: Any) -> Any:
        if not done:
            done.append(True)
            happens()
        return real(*arguments, **more)

    monkeypatch.setattr(photographs, "look_at", looked)


def test_an_edit_saved_while_a_photograph_is_measured_is_not_lost(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def edit() -> None:
        data = record()
        data["pieces"][0] |= {"grain": 12.0, "my_note": "saved in the editor"}
        Path("apron.json").write_text(json.dumps(data))

    meanwhile(monkeypatch, edit)
    assert measure("apron.jpg", "--out", "apron.json").exit_code == 0
    assert record()["pieces"][0]["grain"] == 12.0
    assert record()["pieces"][0]["my_note"] == "saved in the editor"


def test_two_photographs_measured_into_one_record_at_once_are_both_in_it(
    here: Path, monkeypatch: pytest.MonkeyPatch, demo_images: Path
) -> None:
    one = len(record()["pieces"])
    Path("apron.json").unlink()
    shutil.copyfile(demo_images / "trousers-stain.jpg", "other.jpg")

    def other() -> None:
        assert measure("other.jpg", "--out", "apron.json").exit_code == 0

    meanwhile(monkeypatch, other)
    assert measure("apron.jpg", "--out", "apron.json").exit_code == 0
    pieces = record()["pieces"]
    assert {each["photo"]["file"] for each in pieces} == {"apron.jpg", "other.jpg"}
    assert sum(each["photo"]["file"] == "apron.jpg" for each in pieces) == one


def test_a_photograph_moved_and_renamed_is_known_and_the_record_stays_what_it_is(here: Path) -> None:
    data = record()
    data["pieces"][0]["fabric"] = "ticking"
    (here / "far").mkdir()
    real = here / "far" / "apron.json"
    real.write_text(json.dumps(data))
    real.chmod(0o600)
    Path("apron.json").unlink()
    Path("apron.json").symlink_to(real)
    (here / "photos").mkdir()
    Path("apron.jpg").rename("photos/IMG_0007.jpg")
    assert measure("photos/IMG_0007.jpg", "--out", "apron.json").exit_code == 0
    after = record()
    assert len(after["pieces"]) == len(data["pieces"])
    assert after["pieces"][0]["fabric"] == "ticking"
    assert {each["photo"]["file"] for each in after["pieces"]} == {"photos/IMG_0007.jpg"}
    assert Path("apron.json").is_symlink()
    assert stat.S_IMODE(real.stat().st_mode) == 0o600
    lines = Path("apron.json").read_text().splitlines()  # a ring a line: a person finds their way
    assert not [each for each in lines if re.fullmatch(r"[\s\[\]]*-?[\d.e-]+[\s\],]*", each)]


def test_what_can_not_be_written_is_said_before_the_work(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def never() -> None:
        raise AssertionError("the photograph was looked at")

    meanwhile(monkeypatch, never)
    before = Path("apron.json").read_bytes()
    Path("apron.json").chmod(0o444)
    refused = measure("apron.jpg", "--out", "apron.json")
    assert refused.exit_code == 4
    assert "read-only" in refused.stderr
    assert Path("apron.json").read_bytes() == before
    shutil.copyfile("apron.jpg", "copy.jpg")
    twice = measure("apron.jpg", "copy.jpg", "--out", "new.json")
    assert twice.exit_code == 2
    assert "same photograph" in twice.stderr


def test_a_piece_taken_out_stays_out_and_is_named(here: Path) -> None:
    data = record()
    gone = data["pieces"].pop(0)["name"]
    data["pieces"].append(
        {"name": "scrap", "outline": {"type": "Polygon", "coordinates": [[[0, 0], [90, 0], [90, 90]]]}}
    )
    Path("apron.json").write_text(json.dumps(data))
    done = measure("apron.jpg", "--out", "apron.json")
    assert done.exit_code == 0
    assert f"left out, as apron.json has been without it: {gone}" in done.stderr
    assert gone not in [each["name"] for each in record()["pieces"]]


def test_one_bad_photograph_is_named_and_the_good_ones_are_measured(here: Path) -> None:
    """Whichever place it has among them, and whether it is no picture or shows nothing to measure by."""
    (here / "broken.jpg").write_bytes((here / "apron.jpg").read_bytes()[:5000])
    blank = Image.new("RGB", (800, 600), (120, 110, 100))
    blank.save(here / "blank.png")
    (here / "second.jpg").write_bytes((here / "apron.jpg").read_bytes() + b"\0")  # another file of the same
    bad = ("broken.jpg", "blank.png")
    done = measure("broken.jpg", "second.jpg", "blank.png", "--out", "new.json", "--json")
    assert done.exit_code == 4
    record = json.loads(done.stdout)
    assert {piece["photo"]["file"] for piece in record["pieces"]} == {"second.jpg"}
    assert len(record["unused"]) == 2
    for name, said in zip(bad, record["unused"], strict=True):
        assert name in said
        assert f"{name}:" in done.stderr
        assert not list(here.glob(f"*{Path(name).stem}-marked*"))
    assert "not used: broken.jpg, blank.png" in done.stderr
    kept = json.loads((here / "new.json").read_text())
    assert [piece["name"] for piece in kept["pieces"]] == [piece["name"] for piece in record["pieces"]]
    assert (here / "new-second-marked.jpg").exists()

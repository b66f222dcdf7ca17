"""`salvage chalk RECORD.json ...`: edits in pixels, told and drawn, without a browser."""

from __future__ import annotations

import io
import json
from pathlib import Path

import numpy as np
import pytest
from desk_garments import COAT, PHOTO, SIZE_PX, px
from PIL import Image
from typed import salvage

from salvage.cloth.record.file import read_garment
from salvage.cloth.record.write import garment_to_json
from salvage.desk.edit.help import HELP
from salvage.desk.edit.options import _OPTIONS, steps_of
from salvage.errors import UsageError


@pytest.fixture
def record(tmp_path: Path) -> Path:
    path = tmp_path / "coat.json"
    path.write_text(garment_to_json(COAT), encoding="utf-8")
    pixels = np.full((SIZE_PX[1], SIZE_PX[0], 3), 120, np.uint8)
    Image.fromarray(pixels).save(tmp_path / PHOTO)
    return path


def chalk(record: Path, *words: str) -> tuple[int, str, str]:
    done = salvage("chalk", record, *words)
    return done.exit_code, done.stdout, done.stderr


def at(*points_mm: tuple[float, float]) -> list[str]:
    return [f"{x:.1f},{y:.1f}" for x, y in px(*points_mm)]


def test_without_edits_it_lists_every_mark(record: Path) -> None:
    status, out, _ = chalk(record)
    assert status == 0
    for piece in COAT.pieces:
        assert f"{piece.number}  {piece.name} (shell" in out
    assert "stain (worn), on back" in out
    assert not record.with_name("coat-marked.jpg").exists()


def test_edits_are_done_in_order_told_and_drawn(record: Path) -> None:
    words = [
        "--pocket",
        *at((30, 50), (80, 120)),
        "--seam",
        *at((5, 250), (295, 250)),
        "--name",
        "back 2=yoke",
    ]
    words += ["--grain", "yoke", *at((50, 300), (60, 380)), "--not", "6"]
    status, out, err = chalk(record, *words)
    assert status == 0, err
    garment = read_garment(record)
    assert [each.name for each in garment.pieces] == ["back", "yoke", "side", "cuff"]
    assert garment.pieces[1].grain == pytest.approx(np.degrees(np.arctan2(80, 10)), abs=0.5)
    for said in (
        "pocket on back: new",
        "piece yoke: parted from back",
        "stain (worn) on back: taken out",
        "usable now",
    ):
        assert said in out
    picture = Image.open(io.BytesIO(record.with_name("coat-marked.jpg").read_bytes()))
    assert picture.width == SIZE_PX[0]
    assert picture.height > SIZE_PX[1]  # the strip with its words lies below


def test_the_drawn_pocket_stands_in_the_picture_where_it_was_told(record: Path) -> None:
    chalk(record, "--no-picture")
    chalk(record, "--layers", "cuff=2")
    before = np.asarray(Image.open(record.with_name("coat-marked.jpg")), int)
    chalk(record, "--pocket", *at((30, 50), (80, 120)))
    after = np.asarray(Image.open(record.with_name("coat-marked.jpg")), int)
    tall = SIZE_PX[1]
    changed = np.abs(after[:tall] - before[:tall]).max(axis=2) > 60
    (x0, y1), (x1, y0) = px((30, 50), (80, 120))
    inside = changed[round(y0) : round(y1), round(x0) : round(x1)]
    assert inside.mean() > 0.1
    assert changed[: round(y0) - 60, : round(x0) - 60].sum() == 0


def test_undo_and_redo_over_many_commands(record: Path) -> None:
    before = record.read_text()
    chalk(record, "--name", "side=gore", "--no-picture")
    chalk(record, "--not", "6", "--no-picture")
    after = record.read_text()
    status, out, _ = chalk(record, "--undo", "2", "--no-picture")
    assert (status, record.read_text()) == (0, before)
    assert "is now called side" in out
    assert chalk(record, "--redo", "--redo", "--no-picture")[0] == 0
    assert record.read_text() == after
    status, _, err = chalk(record, "--redo", "--no-picture")
    assert status == 2
    assert "nothing to do again" in err


def test_where_one_edit_can_not_be_done_none_is(record: Path) -> None:
    before = record.read_text()
    status, _, err = chalk(record, "--not", "6", "--not", "99")
    assert (status, record.read_text()) == (2, before)
    assert "no mark 99" in err
    assert "none was done" in err


def test_a_missing_photograph_is_told_and_the_edit_stands(record: Path) -> None:
    record.with_name(PHOTO).unlink()
    status, _, err = chalk(record, "--not", "6")
    assert status == 0
    assert "no picture of coat.jpg" in err
    assert not any(each.kind == "worn" for each in read_garment(record).pieces[0].blocked)


def test_machines_get_the_record_and_what_changed(record: Path) -> None:
    status, out, _ = chalk(record, "--fabric", "cuff=lining", "--json", "--no-picture")
    data = json.loads(out)
    assert status == 0
    assert data["changes"] == ["3 cuff: is of lining"]
    assert data["pieces"][2]["fabric"] == "lining"


@pytest.mark.parametrize(
    ("says", "words"),
    [
        ("no edit", ["--fly"]),
        ("is missing", ["--not"]),
        ("no number", ["--not", "seven"]),
        ("is no point", ["--seam", "10,20", "here"]),
        ("needs 2 points", ["--seam", "10,20"]),
        ("opposite corners", ["--pocket", "10,20"]),
        ("OLD=NEW", ["--name", "yoke"]),
        ("NAME=2", ["--layers", "back=two"]),
        ("yes", ["--one-way", "back=maybe"]),
        ("DEGREES", ["--grain", "back"]),
        ("in quotes", ["--fabric", "back=lining", "grey"]),
        ("no number of pixels", ["--stain", "9,9", "brush=wide"]),
        ("number from 1", ["--undo", "0"]),
        ("second piece", ["--join", "back"]),
        ("garment's record", ["--not", "7"]),
    ],
)
def test_what_can_not_be_read_is_said(record: Path, says: str, words: list[str]) -> None:
    if says == "garment's record":
        done = salvage("chalk", "coat.png", *words)
        status, err = done.exit_code, done.stderr
    else:
        status, _, err = chalk(record, *words)
    assert status == 2
    assert says in err
    assert "Traceback" not in err


def test_every_edit_stands_in_the_help() -> None:
    assert [name for name in _OPTIONS if name not in HELP] == []


def test_words_are_read_as_actions() -> None:
    assert steps_of(["--stain", "10,20", "brush=8", "what=ink", "--photo", "b.jpg", "--hem=1,2", "3,4"]) == [
        {"do": "stain", "px": [[10.0, 20.0]], "what": "ink", "brush": 8.0},
        {"do": "hem", "px": [[1.0, 2.0], [3.0, 4.0]], "photo": "b.jpg"},
    ]
    assert steps_of(["--not", "7", "8", "--undo", "2"])[2:] == [{"do": "undo"}, {"do": "undo"}]
    assert steps_of(["--answer", "Q3=n"]) == [{"do": "answer", "question": 3, "reply": "no"}]
    assert steps_of(["--usable", "back"]) == [{"do": "usable", "piece": "back", "px": None}]
    with pytest.raises(UsageError):
        steps_of(["stray"])

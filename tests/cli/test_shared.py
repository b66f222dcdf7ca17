"""What the commands share: words that any terminal can print, a pipe that closes, bars only where a person watches."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.cloth.record.file import read_garment
from salvage.cloth.record.write import garment_to_json
from salvage.commands.shared.ahead import ahead
from salvage.commands.shared.keep_rest import can_keep, keep, rest_files
from salvage.commands.shared.progress import share, steps
from salvage.commands.shared.streams import plain
from salvage.errors import SalvageError, UsageError
from salvage.fit.answer import Answer, Placement, Verdict
from salvage.project.project import Panel, Project
from salvage.rail.note import used_of
from salvage.report.records import Loaded


@pytest.mark.parametrize(
    ("text", "said"),
    [("3 × 4″", '3 x 4"'), ("cm²", "cm2"), ("Zoë – ½", "Zoe - 1/2"), ("30° ± 2", "30 deg +- 2"), ("布", "?")],
)
def test_words_are_plain_where_letters_are_few(text: str, said: str) -> None:
    assert plain(text).replace("⁄", "/") == said


@settings(max_examples=30)
@given(st.text(max_size=30))
def test_plain_words_are_ascii_and_stay_so(text: str) -> None:
    assert plain(text).isascii()
    assert plain(plain(text)) == plain(text)


def test_what_ascii_lacks_is_said_plainly_by_the_stream_itself() -> None:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii", errors="salvage.plain")
    stream.write("120 cm² – 3 × 4")
    stream.flush()
    assert raw.getvalue() == b"120 cm2 - 3 x 4"


def test_no_bar_is_drawn_where_nobody_watches(capsys: pytest.CaptureFixture[str]) -> None:
    with steps(3) as step, share("drawing") as done:
        step("first")
        done(0.5)
    assert capsys.readouterr() == ("", "")


def test_modules_are_loaded_ahead_and_one_that_is_missing_harms_nothing() -> None:
    sys.modules.pop("this", None)
    ahead("nowhere.at.all")
    ahead("colorsys")
    import colorsys

    assert colorsys.rgb_to_hsv(0, 0, 0) == (0.0, 0.0, 0)


def test_a_rest_is_kept_in_a_record_that_is_not_there_yet(tmp_path: Path) -> None:
    coat = tmp_path / "coat.json"
    can_keep(tmp_path / "rest.json", [coat])
    with pytest.raises(UsageError, match=r"ends in \.json"):
        can_keep(tmp_path / "rest.txt", [coat])
    with pytest.raises(UsageError, match="is a photograph"):
        can_keep(tmp_path / "rest.json", [coat, tmp_path / "a.jpg"])
    (tmp_path / "rest.json").write_text("mine")
    with pytest.raises(SalvageError):
        can_keep(tmp_path / "rest.json", [coat])
    assert (tmp_path / "rest.json").read_text() == "mine"
    assert rest_files(tmp_path / "rest.json", [coat]) == [tmp_path / "rest.json"]


def test_rests_of_several_garments_are_kept_all_or_none(tmp_path: Path) -> None:
    """Of two records of one name in two folders; where one rest has no place no garment is marked as used up."""
    square = Polygon([(0, 0), (100, 0), (100, 100), (0, 100)])
    coat = Garment("coat", (Piece("back", box(0, 0, 300, 300)),))
    files = tuple(tmp_path / folder / "coat.json" for folder in ("left", "right"))
    for file in files:
        file.parent.mkdir()
        file.write_text(garment_to_json(coat))
    placements = tuple(Placement("a", n + 1, None, n, "back", 1, 0.0, False, square) for n in (0, 1))
    answer = Answer(Verdict.YES, (), placements)
    project = Project("bag", (Panel("a", tuple(square.exterior.coords[:4]), cut=2),))
    loaded = Loaded((coat, coat), files=files)
    taken = tmp_path / "rest-coat-2.json"
    taken.write_text("mine")
    with pytest.raises(SalvageError, match=r"rest-coat-2\.json: is there already"):
        keep(tmp_path / "rest.json", answer, loaded, project)
    assert [used_of(read_garment(file)) for file in files] == [None, None]
    taken.unlink()
    keep(tmp_path / "rest.json", answer, loaded, project)
    assert [used_of(read_garment(file)).rest for file in files] == [  # type: ignore[union-attr]
        "../rest-coat.json",
        "../rest-coat-2.json",
    ]
    assert read_garment(taken).pieces[0].blocked[0].what == "cut out: a, for bag"

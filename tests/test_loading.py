"""Garments for an answer: each there once, told apart, and what is known of them said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from shapely.geometry import box

from salvage.cloth.garment import Garment, Piece, PiecePhoto
from salvage.cloth.record.file import update_garment
from salvage.errors import SalvageError, UsageError
from salvage.job import Look
from salvage.loading import gone, load, named_apart, no_cloth_twice, require_each_once, there
from salvage.rail.note import mark_used
from salvage.telling import Telling

SHOT = PiecePhoto("coat.jpg", 150.0, content="c0ffee")
COAT = Garment("coat", (Piece("back", box(0, 0, 300, 400), photo=SHOT),))
TYPED = Garment("coat", (Piece("back", box(0, 0, 300, 400)),))


def written(place: Path, garment: Garment) -> Path:
    update_garment(place, lambda _: garment)
    return place


def never(path: Path, told: Telling) -> Look:
    raise AssertionError(f"{path} is no photograph")


def test_records_are_read_in_their_order(tmp_path: Path) -> None:
    files = [written(tmp_path / f"{n}.json", replace(TYPED, name=n)) for n in ("b", "a")]
    loaded = load(files, Telling(), never)
    assert [each.name for each in loaded.garments] == ["b", "a"]
    assert list(loaded.files) == files
    assert loaded.unused == ()


def test_one_that_cannot_be_used_is_left_out_and_told(tmp_path: Path) -> None:
    good, bad = written(tmp_path / "a.json", TYPED), tmp_path / "b.json"
    bad.write_text("{")
    told: list[str] = []
    loaded = load([good, bad], Telling(), never, tell=told.append)
    assert len(loaded.garments) == 1
    assert "b.json" in told[0]
    assert told[0].endswith("Left out.")
    assert len(loaded.unused) == 1


def test_alone_it_is_an_error(tmp_path: Path) -> None:
    (tmp_path / "b.json").write_text("{")
    with pytest.raises(SalvageError) as error:
        load([tmp_path / "b.json"], Telling(), never)
    assert str(error.value).startswith(str(tmp_path / "b.json"))
    (tmp_path / "c.json").write_text("[]")
    with pytest.raises(SalvageError, match="none of the garments can be used"):
        load([tmp_path / "b.json", tmp_path / "c.json"], Telling(), never)


def test_the_same_cloth_is_not_there_twice(tmp_path: Path) -> None:
    first = written(tmp_path / "a.json", COAT)
    (tmp_path / "sub").mkdir()
    with pytest.raises(UsageError, match="given more than once"):
        require_each_once([first, tmp_path / "sub" / ".." / "a.json"])
    copy = tmp_path / "copy.json"
    copy.write_bytes(first.read_bytes())
    with pytest.raises(UsageError, match=r"copy\.json: holds the same as .*a\.json"):
        require_each_once([first, copy])


def test_typed_garments_may_well_be_alike(tmp_path: Path) -> None:
    require_each_once([written(tmp_path / name, TYPED) for name in ("a.json", "b.json")])


def test_a_garment_and_its_rest_share_cloth() -> None:
    rest = replace(COAT, name="coat, rest")
    files = [Path("coat.json"), Path("rest.json")]
    with pytest.raises(UsageError, match=r"rest\.json: holds cloth of the same photograph that coat\.json"):
        no_cloth_twice([COAT, rest], files)
    elsewhere = replace(COAT.pieces[0], outline=box(400, 0, 700, 400))
    no_cloth_twice([COAT, replace(rest, pieces=(elsewhere,))], files)
    other = replace(COAT.pieces[0], photo=replace(SHOT, file="other.jpg", content="beef"))
    no_cloth_twice([COAT, replace(rest, pieces=(other,))], files)


def test_a_garment_and_its_rest_are_not_loaded_together(tmp_path: Path) -> None:
    rest = replace(COAT, name="coat, rest")
    files = [written(tmp_path / "coat.json", COAT), written(tmp_path / "rest.json", rest)]
    with pytest.raises(UsageError, match="holds cloth of the same photograph"):
        load(files, Telling(), never)


def test_names_that_are_shared_are_told_apart_by_their_files() -> None:
    jacket = replace(TYPED, name="jacket")
    named = named_apart([TYPED, jacket, TYPED], [Path("one.json"), Path("x.json"), Path("two.json")])
    assert [each.name for each in named] == ["coat (one)", "jacket", "coat (two)"]


def test_names_of_files_in_several_folders_are_shared_too() -> None:
    named = named_apart([TYPED, TYPED], [Path("left/coat.json"), Path("right/coat.json")])
    assert [each.name for each in named] == ["coat (coat)", "coat (coat) 2"]


def test_a_garment_that_was_cut_is_told_of() -> None:
    assert gone(COAT) == ()
    (word,) = gone(mark_used(COAT, purpose="Tool roll", rest="rest.json"))
    assert word.startswith("is marked as cut for Tool roll; what was left is in rest.json.")


@pytest.mark.parametrize("name", ["none.json", "."])
def test_what_is_no_file_is_an_error(tmp_path: Path, name: str) -> None:
    with pytest.raises(SalvageError):
        there(tmp_path / name)

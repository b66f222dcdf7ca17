"""Names that come from a browser never leave the folder."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.desk import shelf as shelf_module
from salvage.desk.shelf import Shelf, bare_name, new_only, open_folder
from salvage.errors import SalvageError, UsageError
from salvage.files import update

LEADING_OUT = (
    "../secret.json", "..\\secret.json", "/etc/passwd.json", "a/b.json", ".hidden.json", "..", ".", "", "x.json/",
    "C:\\x.json", "x.json\0.jpg", "x\n.json", " x.json",
)  # fmt: skip


@pytest.mark.parametrize("name", LEADING_OUT)
def test_a_name_that_leads_elsewhere_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(UsageError):
        Shelf(tmp_path).record(name)


def test_a_link_that_leads_out_is_refused(tmp_path: Path) -> None:
    outside = tmp_path / "outside.json"
    outside.write_text("{}")
    folder = tmp_path / "folder"
    folder.mkdir()
    (folder / "in.json").symlink_to(outside)
    with pytest.raises(SalvageError):
        Shelf(folder).record("in.json")


@given(st.text(max_size=150))
def test_any_name_becomes_one_of_a_file_in_the_folder(name: str) -> None:
    bare = bare_name(name)
    assert bare == os.path.basename(bare)
    assert bare not in ("", ".", "..")
    assert not bare.startswith(".")
    assert bare.isprintable()
    assert bare_name(bare) == bare


def test_a_taken_name_is_not_taken_again(tmp_path: Path) -> None:
    (tmp_path / "coat.jpg").write_bytes(b"1")
    (tmp_path / "coat-2.jpg").write_bytes(b"2")
    assert Shelf(tmp_path).free("coat.jpg").name == "coat-3.jpg"


def test_the_folder_is_made(tmp_path: Path) -> None:
    assert open_folder(tmp_path / "new" / "folder").folder.is_dir()


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(UsageError, match="is a file"):
        open_folder(tmp_path / "file")


def test_what_was_remembered_is_there_again(tmp_path: Path) -> None:
    Shelf(tmp_path).remember(side="150mm")
    Shelf(tmp_path).remember(units="in")
    assert Shelf(tmp_path).settings() == {"side": "150mm", "units": "in"}


def test_a_damaged_memory_is_none(tmp_path: Path) -> None:
    Shelf(tmp_path).remember(side="150mm")
    (tmp_path / ".salvage" / "page.json").write_text("{")
    assert Shelf(tmp_path).settings() == {}


def test_two_that_remember_at_once_lose_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another thread remembers the units between the first one's look at the file and its writing."""
    real = shelf_module.update

    def after_another(path: Path, change: Callable[[bytes | None], bytes]) -> None:
        monkeypatch.setattr(shelf_module, "update", real)
        Shelf(tmp_path).remember(units="in")
        real(path, change)

    monkeypatch.setattr(shelf_module, "update", after_another)
    assert Shelf(tmp_path).remember(side="150mm") == {"side": "150mm", "units": "in"}
    assert Shelf(tmp_path).settings() == {"side": "150mm", "units": "in"}


def test_two_new_files_of_one_name_are_two(tmp_path: Path) -> None:
    """The second is laid between the first one's choice of a name and its writing."""
    shelf = Shelf(tmp_path)

    def write(path: Path) -> None:
        if path.name == "coat.jpg":
            shelf.lay("coat.jpg", lambda other: update(other, new_only(b"second")))
        update(path, new_only(b"first"))

    assert shelf.lay("coat.jpg", write).name == "coat-2.jpg"
    assert (tmp_path / "coat.jpg").read_bytes() == b"second"
    assert (tmp_path / "coat-2.jpg").read_bytes() == b"first"

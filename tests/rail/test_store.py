"""The index: it keeps, it is brought to this version, and it is done without where it can't be used."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from rail_garments import garment

from salvage.rail.answer.copies import Copies
from salvage.rail.answer.settle import Settled
from salvage.rail.folder import brief_of
from salvage.rail.known.facts import facts_of
from salvage.rail.store import FILE, FOLDER, MIGRATIONS, Kept, open_store
from salvage.units import Unit

FACTS = facts_of(garment(3))


def place(folder: Path) -> Path:
    return folder / FOLDER / FILE


def test_what_is_kept_is_there_the_next_time(tmp_path: Path) -> None:
    yes, open_one = Settled("p", "yes", "", 1.0, spare=4.0), Settled("p", "unsettled", "not found", 2.0)
    with open_store(tmp_path) as store:
        assert not store.note
        store.keep_garment("c", Unit.MM, Kept(FACTS, "cloth"))
        store.keep_brief("c", brief_of(garment(3)))
        store.keep_picture("c", b"jpeg")
        store.keep_refused("photo", "told", "blurred")
        store.keep_answer("cloth", "one", yes)
        store.keep_answer("cloth", "two", open_one)
        store.keep_copies("cloth", "one", Copies("p", 1, 2, "", 3.0))
    with open_store(tmp_path) as store:
        assert store.garment("c", Unit.CM) == Kept(FACTS, "cloth")  # both cut by the metric ruler
        assert store.garment("c", Unit.INCH) is None
        assert store.cloth("c") == "cloth"
        assert store.brief("c") == brief_of(garment(3))
        assert store.picture("c") == b"jpeg"
        assert store.refused("photo", "told") == "blurred"
        assert store.refused("photo", "told otherwise") is None
        assert store.answer("cloth", "one", "p") == yes
        assert store.copies("cloth", "one", "called anew") == Copies("called anew", 1, 2, "", 3.0)
        store.keep_answer("cloth", "two", Settled("p", "unsettled", "still not", 1.0))  # had less time
        assert store.answer("cloth", "two", "p") == open_one
        store.keep_answer("cloth", "two", Settled("p", "no", "proved", 0.5))
        assert store.answer("cloth", "two", "p") == Settled("p", "no", "proved", 0.5)
        store.tidy([])
        assert store.garment("c", Unit.MM) is None


def test_an_index_of_the_first_version_is_brought_to_this_one(tmp_path: Path) -> None:
    place(tmp_path).parent.mkdir()
    base = sqlite3.connect(place(tmp_path))
    base.executescript(MIGRATIONS[0])
    base.execute("INSERT INTO picture VALUES ('c', x'6a')")
    base.execute("PRAGMA user_version = 1")
    base.execute("PRAGMA application_id = 0x53564C47")
    base.commit()
    base.close()
    with open_store(tmp_path) as store:
        assert not store.note
        assert store.picture("c") == b"j"
        table = tmp_path / "t.csv"
        assert not store.is_written(table, "hash")
        store.keep_written(table, "hash")
        assert store.is_written(table, "hash")
    base = sqlite3.connect(place(tmp_path))
    assert base.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS),)
    base.close()


def test_a_file_is_hashed_anew_only_when_it_changed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "a.jpg"
    file.write_bytes(b"one")
    with open_store(tmp_path) as store:
        first = store.content(file)
        monkeypatch.setattr("salvage.rail.store.content_hash", lambda _: pytest.fail("read again"))
        assert store.content(file) == first
        monkeypatch.undo()
        file.write_bytes(b"another")
        assert store.content(file) != first


def _later(path: Path) -> None:
    base = sqlite3.connect(path)
    base.executescript(MIGRATIONS[0])
    base.execute("PRAGMA user_version = 99")
    base.execute("PRAGMA application_id = 0x53564C47")
    base.commit()
    base.close()


def _foreign(path: Path) -> None:
    base = sqlite3.connect(path)
    base.execute("CREATE TABLE mine (x)")
    base.commit()
    base.close()


def _damaged(path: Path) -> None:
    path.write_bytes(b"no database" * 500)


@pytest.mark.parametrize(
    ("make", "says"), [(_later, "later version"), (_foreign, "another program"), (_damaged, "damaged")]
)
def test_what_is_not_ours_or_damaged_is_left_alone(
    tmp_path: Path, make: Callable[[Path], None], says: str
) -> None:
    place(tmp_path).parent.mkdir()
    make(place(tmp_path))
    before = place(tmp_path).read_bytes()
    with open_store(tmp_path) as store:
        assert says in store.note
        store.keep_picture("c", b"jpeg")  # for as long as the command runs
        assert store.picture("c") == b"jpeg"
    assert place(tmp_path).read_bytes() == before


@pytest.mark.parametrize("make", [_later, _foreign, _damaged])
def test_a_folder_may_be_called_with_braces(tmp_path: Path, make: Callable[[Path], None]) -> None:
    folder = tmp_path / "coats {1} {x}"
    place(folder).parent.mkdir(parents=True)
    make(place(folder))
    with open_store(folder) as store:
        assert store.note.startswith(f"{place(folder)}: ")


def test_where_nothing_can_be_written_it_lives_in_memory(tmp_path: Path) -> None:
    (tmp_path / FOLDER).write_text("a file is in the way")
    with open_store(tmp_path) as store:
        assert "nothing is kept" in store.note
        store.keep_picture("c", b"jpeg")
        assert store.picture("c") == b"jpeg"

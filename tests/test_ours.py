"""Every result goes to a free place or over a file of ours that nobody changed; nothing else is written."""

from __future__ import annotations

import io
import os
import stat
import threading
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from salvage.errors import SalvageError
from salvage.files import check_place, ordinary, update
from salvage.ours import check_ours, copy_as_it_is, is_ours, marked, write_ours


def picture(kind: str, colour: int = 90) -> bytes:
    stream = io.BytesIO()
    Image.new("RGB", (40, 30), (colour, colour, 40)).save(stream, kind)
    return stream.getvalue()


PDF = b"%PDF-1.4\n1 0 obj <</Type /Catalog>> endobj\ntrailer <</Root 1 0 R>>\n%%EOF\n"
FILES = {
    "a.jpg": picture("JPEG"), "a.png": picture("PNG"), "a.pdf": PDF, "a.html": b"<!DOCTYPE html>\n<p>yes</p>\n",
    "a.dxf": b"  0\nSECTION\n  2\nENTITIES\n  0\nENDSEC\n  0\nEOF\n",
    "a.csv": b"\xef\xbb\xbfNo.,Shape\r\n1,back\r\n",
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_a_file_of_ours_is_written_again(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    for _ in range(2):
        write_ours(path, FILES[name])
        assert is_ours(path.read_bytes())
    assert sorted(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("name", FILES)
def test_a_copy_of_ours_is_ours_wherever_it_lies(tmp_path: Path, name: str) -> None:
    write_ours(tmp_path / name, FILES[name])
    copy = tmp_path / f"copy-of-{name}"
    copy.write_bytes((tmp_path / name).read_bytes())
    write_ours(copy, FILES[name] + b"\n")
    assert is_ours(copy.read_bytes())
    assert copy.read_bytes() != (tmp_path / name).read_bytes()


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("theirs", ["before us", "changed", "added to", "cut short", "emptied"])
def test_what_is_a_persons_stays_as_it_is(tmp_path: Path, name: str, theirs: str) -> None:
    path = tmp_path / name
    ours = marked(FILES[name])
    content = {
        "before us": FILES[name],
        "changed": ours[:20] + bytes([ours[20] ^ 1]) + ours[21:],
        "added to": ours + b"<!-- my note -->",
        "cut short": ours[:-9],
        "emptied": b"",
    }[theirs]
    path.write_bytes(content)
    with pytest.raises(SalvageError, match="stays as it is") as error:
        check_ours(path)
    assert f"{path.stem}-2{path.suffix} is free" in str(error.value)
    with pytest.raises(SalvageError, match="stays as it is"):
        write_ours(path, FILES[name])
    assert path.read_bytes() == content


@given(st.sampled_from(sorted(FILES)), st.data())
def test_any_changed_byte_is_noticed(name: str, data: st.DataObject) -> None:
    ours = bytearray(marked(FILES[name]))
    ours[data.draw(st.integers(0, len(ours) - 1))] ^= data.draw(st.integers(1, 255))
    assert not is_ours(bytes(ours))


@pytest.mark.parametrize("name", ["a.jpg", "a.png"])
def test_a_marked_picture_shows_the_same(name: str) -> None:
    with Image.open(io.BytesIO(FILES[name])) as plain, Image.open(io.BytesIO(marked(FILES[name]))) as ours:
        assert plain.tobytes() == ours.tobytes()


def test_a_copy_of_the_demonstration_never_replaces_another_file(tmp_path: Path) -> None:
    source, target = tmp_path / "source.toml", tmp_path / "target.toml"
    source.write_text("name = 'roll'")
    for _ in range(2):
        copy_as_it_is(source, target)
    target.write_text("name = 'my roll'")
    with pytest.raises(SalvageError, match="stays as it is"):
        copy_as_it_is(source, target)
    assert target.read_text() == "name = 'my roll'"


# --- what a file is stays -------------------------------------------------------------------------------


def put(path: Path, text: str) -> None:
    update(path, lambda _: text.encode())


def test_a_link_stays_a_link_and_what_it_leads_to_is_written(tmp_path: Path) -> None:
    (tmp_path / "far").mkdir()
    real, link = tmp_path / "far" / "coat.json", tmp_path / "coat.json"
    real.write_text("old")
    link.symlink_to(real)
    put(link, "new")
    assert link.is_symlink()
    assert real.read_text() == "new"
    real.unlink()
    put(link, "newer")  # a link to where nothing is yet
    assert link.is_symlink()
    assert real.read_text() == "newer"


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o755])
def test_who_may_read_it_stays(tmp_path: Path, mode: int) -> None:
    path = tmp_path / "coat.json"
    path.write_text("old")
    path.chmod(mode)
    put(path, "new")
    assert stat.S_IMODE(path.stat().st_mode) == mode


def test_a_new_file_is_as_open_as_the_persons_others(tmp_path: Path) -> None:
    path = tmp_path / "plain"
    path.write_text("by any program")
    put(tmp_path / "coat.json", "new")
    assert (tmp_path / "coat.json").stat().st_mode == path.stat().st_mode


def test_a_read_only_file_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "coat.json"
    path.write_text("old")
    path.chmod(0o444)
    with pytest.raises(SalvageError, match="read-only"):
        put(path, "new")
    assert path.read_text() == "old"
    assert stat.S_IMODE(path.stat().st_mode) == 0o444


def test_a_pipe_and_a_device_are_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.json")
    for path in (tmp_path / "pipe.json", Path("/dev/null")):
        with pytest.raises(SalvageError, match="not an ordinary file"):
            ordinary(path)
        with pytest.raises(SalvageError, match="not an ordinary file"):
            check_place(path)
        with pytest.raises(SalvageError, match="not an ordinary file"):
            put(path, "new")


def test_a_failed_write_leaves_the_old_file_and_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "coat.json"
    path.write_text("old")

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SalvageError, match="No space left on device"):
        put(path, "new")
    assert [each.name for each in tmp_path.iterdir()] == ["coat.json"]
    assert path.read_text() == "old"


@pytest.mark.parametrize("way", ["unnamed", "named", "no name given"])
def test_all_ways_of_writing_give_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str) -> None:
    if way == "named":
        monkeypatch.delattr(os, "O_TMPFILE", raising=False)
    if way == "no name given":
        real = os.link

        def link(source: str | Path, *arguments: Any, **more: Any) -> None:
            if str(source).startswith("/proc/"):
                raise OSError(1, "Operation not permitted")
            real(source, *arguments, **more)

        monkeypatch.setattr(os, "link", link)
    path = tmp_path / "coat.json"
    for text in ("first", "second"):
        put(path, text)
        assert path.read_text() == text
    assert [each.name for each in tmp_path.iterdir()] == ["coat.json"]


# --- two at once ----------------------------------------------------------------------------------------


def test_what_is_saved_meanwhile_is_not_lost(tmp_path: Path) -> None:
    path = tmp_path / "coat.json"
    path.write_text("a")
    saved: list[bool] = []

    def change(before: bytes | None) -> bytes:
        assert before is not None
        if not saved:  # an editor saves while we think; it knows of no lock
            saved.append(True)
            path.write_text("ab")
        return before + b"!"

    update(path, change)
    assert path.read_text() == "ab!"


def test_a_file_that_appears_meanwhile_is_not_lost(tmp_path: Path) -> None:
    path = tmp_path / "fit.html"

    def change(before: bytes | None) -> bytes:
        if before is None:
            path.write_text("a person's")
            return b"ours"
        raise SalvageError("stays as it is")

    with pytest.raises(SalvageError, match="stays as it is"):
        update(path, change)
    assert path.read_text() == "a person's"


def test_many_writers_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "coat.json"

    def add(letter: str) -> None:
        for _ in range(10):
            update(path, lambda before: (before or b"") + letter.encode())

    writers = [threading.Thread(target=add, args=(letter,)) for letter in "abcd"]
    for each in writers:
        each.start()
    for each in writers:
        each.join()
    assert sorted(path.read_text()) == sorted("abcd" * 10)

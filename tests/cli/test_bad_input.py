"""Every reader is handed what it should refuse: each time one clear word, a status, and no traceback."""

from __future__ import annotations

import builtins
import io
import json
import os
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import bad_inputs
import pytest
from PIL import Image
from typed import salvage

GOOD = bad_inputs.cloth()
SMALL = '[[panel]]\nname = "patch"\nsize = [100, 100]\n'


def shell(*arguments: str | Path, **how: object) -> subprocess.CompletedProcess[bytes]:
    start = [sys.executable, "-P", "-c", "from salvage.commands.main import main; main()"]
    return subprocess.run([*start, *map(str, arguments)], capture_output=True, check=False, **how)  # type: ignore[call-overload]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "coat.json").write_text(json.dumps(GOOD))
    (tmp_path / "small.toml").write_text(SMALL)
    return tmp_path


def handed_in(each: bad_inputs.Bad, folder: Path) -> tuple[str | Path, ...]:
    for name, data in each.files.items():
        (folder / name).write_bytes(data)
    path = folder / each.file
    if each.kind == "record":
        return "holds", path, "--json"
    if each.kind == "photograph":
        return "check", path, "--json"
    return "fit", folder / "coat.json", path, "--no-report", "--steps", "1", "--json"


@pytest.mark.parametrize(
    "arguments",
    [
        ("fit", "coat.json", "small.toml", "--json", "--seconds", "long"),
        ("holds", "--json", "--nothing-such", "coat.json"),
        ("measure", "p.jpg", "--json"),
        ("fit", "--json"),
        ("tape", "p.jpg", "--json", "--units", "furlong"),
        ("mesure", "--json"),
        ("--json", "holds", "coat.json"),
    ],
)
def test_what_the_option_parser_finds_wrong_is_an_object_too(here: Path, arguments: tuple[str, ...]) -> None:
    result = salvage(*arguments)
    assert result.exit_code == 2
    told = json.loads(result.stdout)
    assert told["format"] == "salvage error 1"
    assert told["status"] == 2
    assert told["message"]
    assert told["message"] in result.stderr
    plain = salvage(*(each for each in arguments if each != "--json"))
    right = arguments[0] == "--json"  # in the wrong place, and nothing else
    assert plain.exit_code == (0 if right else 2)
    assert bool(plain.stdout) == right


@pytest.mark.parametrize("make", ["records", "projects", "drawings", "photographs"])
def test_bad_input_is_refused_in_words(here: Path, make: str) -> None:
    seen: Counter[bool] = Counter()
    for each in getattr(bad_inputs, make)():
        what = f"{each.kind} {each.name}"
        if each.said is None and each.kind != "record":
            continue  # may be answered, which takes a search: the drawings' own test reads them
        result = salvage(*handed_in(each, here))
        assert result.exit_code in ((4,) if each.said else (0, 4)), what
        assert "Traceback" not in result.output, what
        assert "inside salvage" not in result.output, what
        assert len(result.stderr) < 1500, what
        if result.exit_code == 4:
            error = json.loads(result.stdout)
            assert (error["format"], error["status"]) == ("salvage error 1", 4), what
            assert re.search(each.said or "", error["message"]), f"{what}: {error['message']}"
        seen[result.exit_code == 4] += 1
    assert seen[True] > 15


def test_a_photograph_that_cant_be_read_doesnt_cost_the_others(here: Path) -> None:
    (here / "e.jpg").write_bytes(b"%!PS-Adobe-3.0 EPSF-3.0\n")
    (here / "f.jpg").write_bytes(b"")
    result = salvage("check", "e.jpg", "f.jpg", "--json")
    assert result.exit_code == 4
    assert [each["photo"] for each in json.loads(result.stdout)] == ["e.jpg", "f.jpg"]


@pytest.fixture
def closed(monkeypatch: pytest.MonkeyPatch) -> Callable[[Path], None]:
    """Closes a file to its readers, to the system's administrator too, whom its rights don't bind."""
    opened, shut = io.open, set[str]()

    def or_not(file: object, *rest: object, **more: object) -> object:
        if isinstance(file, (str, os.PathLike)) and os.path.realpath(file) in shut:
            raise PermissionError(13, "Permission denied", str(file))
        return opened(file, *rest, **more)  # type: ignore[call-overload]

    def close(path: Path) -> None:
        path.chmod(0)
        shut.add(os.path.realpath(path))

    monkeypatch.setattr(io, "open", or_not)
    monkeypatch.setattr(builtins, "open", or_not)
    return close


@pytest.mark.parametrize(
    ("file", "arguments"),
    [
        ("p.jpg", ("measure", "p.jpg", "--side", "150mm", "--out", "new.json")),
        ("p.jpg", ("check", "p.jpg", "--json")),
        ("p.jpg", ("tape", "p.jpg", "--side", "150mm", "--from", "1,1", "--to", "9,9")),
        ("p.jpg", ("holds", "p.jpg", "--side", "150mm")),
        ("pairs.csv", ("tape", "p.jpg", "--side", "150mm", "--pairs", "pairs.csv")),
        ("coat.json", ("holds", "coat.json", "--json")),
        ("coat.json", ("fit", "coat.json", "small.toml", "--no-report")),
        ("small.toml", ("fit", "coat.json", "small.toml", "--no-report", "--json")),
        ("flap.svg", ("fit", "coat.json", "svg.toml", "--no-report")),
        ("flap.dxf", ("fit", "coat.json", "dxf.toml", "--no-report")),
    ],
)
def test_a_file_that_may_not_be_read_is_told_so(
    here: Path, closed: Callable[[Path], None], file: str, arguments: tuple[str, ...]
) -> None:
    Image.new("RGB", (640, 480), "grey").save(here / "p.jpg")
    (here / "pairs.csv").write_text("x1,y1,x2,y2\n1,1,9,9\n")
    for kind in ("svg", "dxf"):
        (here / f"flap.{kind}").write_text("drawn")
        (here / f"{kind}.toml").write_text(f'[[panel]]\nname = "flap"\ndrawing = "flap.{kind}"\n')
    closed(here / file)
    result = salvage(*arguments)
    assert result.exit_code == 4, result.output
    assert f"{file}: you aren't allowed to read it. Give yourself the right" in result.stderr
    assert "damaged" not in result.stderr
    assert (here / file).stat().st_mode & 0o777 == 0


def test_a_folder_that_may_not_be_looked_into_is_told_so(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stat = Path.stat

    def or_not(path: Path, **how: bool) -> os.stat_result:
        if path.parent.name == "shut":
            raise PermissionError(13, "Permission denied", str(path))
        return stat(path, **how)

    monkeypatch.setattr(Path, "stat", or_not)
    result = salvage("check", "shut/p.jpg")
    assert result.exit_code == 4
    assert "p.jpg: you aren't allowed to read it." in result.stderr


def test_a_yes_stands_without_what_cant_be_read_and_a_no_doesnt(here: Path) -> None:
    (here / "torn.json").write_text("{")
    (here / "large.toml").write_text(SMALL.replace("100", "900"))
    yes = salvage("fit", "coat.json", "torn.json", "small.toml", "--no-report", "--steps", "200", "--json")
    assert yes.exit_code == 0, yes.output
    assert "torn.json" in json.loads(yes.stdout)["unused"][0]
    no = salvage("fit", "coat.json", "torn.json", "large.toml", "--no-report", "--steps", "200", "--json")
    assert no.exit_code == 4
    assert "without the cloth" in json.loads(no.stdout)["reasons"][0]
    held = salvage("holds", "torn.json", "coat.json", "--json")
    assert held.exit_code == 4
    assert json.loads(held.stdout)["fabrics"]["shell"]["area"] > 0


@pytest.mark.parametrize("file", ["../out.jpg", "link.jpg", "/etc/hostname", "\0", "n" * 4000, "back.jpg"])
def test_a_records_photograph_stays_in_its_tree(here: Path, file: str) -> None:
    from salvage.commands.shared.photographs import load_garments
    from salvage.telling import Telling

    folder = here / "records"
    folder.mkdir()
    demo = Path(__file__).parents[2] / "demo_images" / "cut-piece.jpg"
    (here / "out.jpg").symlink_to(demo)
    (folder / "link.jpg").symlink_to(demo)
    data = bad_inputs.cloth()
    data["pieces"][0]["photo"] = {"file": file}
    (folder / "r.json").write_text(json.dumps(data))
    loaded = load_garments([folder / "r.json"], Telling())
    assert not loaded.photos
    assert len(loaded.missing) == 1
    if file == "link.jpg":
        assert "--photos" in loaded.missing[0]
        assert load_garments([folder / "r.json"], Telling(), photos_in=[demo.parent]).photos


def test_a_stain_outside_its_piece_is_told(here: Path) -> None:
    data = bad_inputs.cloth()
    data["pieces"][0]["blocked"][0]["shape"] = bad_inputs.square(900, 900, 50)
    (here / "coat.json").write_text(json.dumps(data))
    result = salvage("holds", "coat.json")
    assert result.exit_code == 0
    assert "lies outside the outline" in result.stderr


def test_a_closed_pipe_keeps_the_status(here: Path) -> None:
    (here / "large.toml").write_text(SMALL.replace("100", "900"))
    read, write = os.pipe()
    os.close(read)
    start = [sys.executable, "-P", "-c", "from salvage.commands.main import main; main()"]
    asked = ["fit", "coat.json", "large.toml", "--no-report", "--steps", "50"]
    ended = subprocess.run([*start, *asked], stdout=write, stderr=subprocess.PIPE, check=False)
    os.close(write)
    assert ended.returncode == 1
    assert b"roken pipe" not in ended.stderr


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "utf-8"])
def test_a_terminal_without_the_letters_gets_plain_ones(here: Path, encoding: str) -> None:
    data = bad_inputs.cloth() | {"name": "Łódź × ²"}
    (here / "coat.json").write_text(json.dumps(data))
    ended = shell("holds", "coat.json", env=os.environ | {"PYTHONIOENCODING": encoding})
    assert ended.returncode == 0, ended.stderr
    assert ("cm2" if encoding == "ascii" else "cm²") in ended.stdout.decode(encoding)


def test_names_cant_steer_the_terminal(here: Path) -> None:
    data = bad_inputs.cloth()
    data["pieces"][0]["name"] = "back\x1b[2J"
    (here / "coat.json").write_text(json.dumps(data))
    assert "\x1b" not in salvage("holds", "coat.json").output


def test_the_inputs_once_failed_on_are_answered(here: Path, shared: Path) -> None:
    folder = shared / "badinput"
    if not folder.is_dir():
        pytest.skip("needs the folder ../shared/badinput")
    told = 0
    for path in sorted(folder.glob("*.toml")):
        result = salvage("fit", folder / "g.json", path, "--no-report", "--steps", "50")
        assert "inside salvage" not in result.output, path.name
        told += result.exit_code == 4
    for path in sorted(folder.glob("*.json")):
        result = salvage("holds", path)
        assert "inside salvage" not in result.output, path.name
        told += result.exit_code == 4
    assert told >= 15

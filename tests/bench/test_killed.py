"""`demo`, `measure` and `fit` killed at random moments: no file is half-written, none is lost.

Each is killed (SIGKILL, the whole process) at a moment drawn evenly over its run, in a folder whose record
holds edits made by hand. Afterwards every file there must be whole, the edits in place, nothing else lying
about, and the same command must then run to its end. SALVAGE_KILLS says how many (100 unless told).
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from PIL import Image

from salvage.cloth.record.file import read_garment
from salvage.ours import is_ours

pytestmark = pytest.mark.bench
KILLS = int(os.environ.get("SALVAGE_KILLS", "100"))
SALVAGE = [sys.executable, "-P", "-c", "from salvage.commands.main import main; main()"]
COMMANDS = {
    "fit": ["fit", "coat.json", "roll.toml", "--steps", "300", "--out", "report.html"],
    "measure": ["measure", "coat.jpg", "--side", "150mm", "--out", "coat.json"],
    "demo": ["demo", "--out", "demo"],
}


def run(command: str, folder: Path, *, kill_after: float | None = None) -> float:
    """Run a command; seconds it took. Killed after so many seconds if told."""
    begun = time.monotonic()
    process = subprocess.Popen(
        SALVAGE + COMMANDS[command],
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )
    try:
        _, said = process.communicate(timeout=kill_after)
        assert process.returncode in (0, 1, 3), said.decode()
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)  # with its helpers
        process.communicate()
    return time.monotonic() - begun


def edit(record: Path) -> None:
    data = json.loads(record.read_text())
    data["pieces"][0] |= {"grain": 12.0, "my_note": "mine"}
    del data["pieces"][0]["blocked"][0]
    record.write_text(json.dumps(data))


def whole(path: Path) -> bool:
    """Whether a file is all there: one of ours with its mark, a record that reads, an input as it was."""
    if path.suffix in (".html", ".pdf") or path.name.endswith("-marked.jpg"):
        return is_ours(path.read_bytes())
    if path.suffix == ".json":
        return bool(read_garment(path).pieces)
    if path.suffix == ".jpg":
        with Image.open(path) as picture:
            picture.load()
        return True
    return path.suffix == ".toml" and bool(path.read_text())


WRITER = """
import sys
from pathlib import Path
from salvage.files import update
from salvage.ours import write_ours
print("ready", flush=True)
for turn in range(10**6):
    write_ours(Path("page.html"), "<p>" + str(turn) * 3_000_000)
    update(Path("coat.json"), lambda before: (before or b"") + b"+")
"""


def test_killed_while_writing(tmp_path: Path) -> None:
    """Nothing but writing, killed within a third of a second: far more kills fall into a write this way."""
    rng = random.Random(10)
    stray, pluses = 0, 0
    for _ in range(KILLS):
        process = subprocess.Popen(
            [sys.executable, "-c", WRITER], cwd=tmp_path, stdout=subprocess.PIPE, start_new_session=True
        )
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(rng.uniform(0.0, 0.35))
        os.killpg(process.pid, signal.SIGKILL)
        process.communicate()
        page, record = tmp_path / "page.html", tmp_path / "coat.json"
        assert not page.exists() or is_ours(page.read_bytes())
        now = record.read_bytes() if record.exists() else b""
        assert set(now) <= {ord("+")}
        assert len(now) >= pluses  # what was written once is never lost
        pluses = len(now)
        for each in tmp_path.iterdir():
            if each.name.startswith("."):
                stray += 1
                each.unlink()
    print(
        f"\n{KILLS} kills while writing ({pluses} writes got through): 0 half-written, 0 lost, {stray} stray files"
    )


def test_killed_at_random_moments(tmp_path: Path, demo_images: Path, projects: Path) -> None:
    start = tmp_path / "start"
    start.mkdir()
    shutil.copyfile(demo_images / "coat-back.jpg", start / "coat.jpg")
    shutil.copyfile(projects / "tool_roll.toml", start / "roll.toml")
    run("measure", start)
    edit(start / "coat.json")
    lasts = {}
    for command in COMMANDS:
        print(f"one {command}, whole", flush=True)
        shutil.copytree(start, tmp_path / f"timed-{command}")
        lasts[command] = run(command, tmp_path / f"timed-{command}")
    rng = random.Random(9)
    print(f"\n{'command':10s}{'kills':>7s}{'half':>6s}{'lost':>6s}{'stray':>7s}{'stuck':>7s}")
    for number, command in enumerate(COMMANDS):
        count = KILLS // len(COMMANDS) + (number < KILLS % len(COMMANDS))
        half = lost = stray = stuck = 0
        for turn in range(count):
            folder = tmp_path / f"{command}-{turn}"
            # Every other time it has run before, so that there is something to replace.
            shutil.copytree(tmp_path / f"timed-{command}" if turn % 2 else start, folder)
            before = {each.relative_to(folder) for each in folder.rglob("*") if each.is_file()}
            run(command, folder, kill_after=rng.uniform(0.0, 1.05 * lasts[command]))
            files = [each for each in folder.rglob("*") if each.is_file()]
            stray += sum(each.name.startswith(".") for each in files)
            half += sum(not whole(each) for each in files if not each.name.startswith("."))
            gone = before - {each.relative_to(folder) for each in files}
            first = read_garment(folder / "coat.json").pieces[0]
            kept = first.grain == 12.0 and first.extra == {"my_note": "mine"} and len(first.cleared) == 1
            lost += len(gone) + (not kept)
            if turn % 10 == 0:
                try:
                    run(command, folder)
                except AssertionError as error:
                    print(f"{command} after a kill: {error}", flush=True)
                    stuck += 1
            shutil.rmtree(folder)
        print(f"{command:10s}{count:7d}{half:6d}{lost:6d}{stray:7d}{stuck:7d}", flush=True)
        assert (half, lost, stuck) == (0, 0, 0)

"""A start without waiting: a command loads no library that it doesn't need."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from salvage.fit.kernels.calls import get_ready

SQUARE = {"type": "Polygon", "coordinates": [[[0, 0], [500, 0], [500, 500], [0, 500], [0, 0]]]}
RECORD = {
    "format": "salvage garment 1",
    "units": "mm",
    "name": "cloth",
    "pieces": [
        {"name": "back", "fabric": "shell", "layers": 1, "grain": 90.0, "outline": SQUARE, "blocked": []}
    ],
}
# Not made of equal squares: those are also tried by a solver where the search takes long, on a machine with much to do.
PROJECT = 'name = "p"\nunits = "mm"\n[[panel]]\nname = "flap"\nsize = [103.7, 151.3]\ncut = 2\n'
DRAWING = {"pydyf", "fontTools", "PIL", "ezdxf", "rich", "jinja2"}
COMPUTING = {"numba", "scipy", "skimage", "ortools", "pydantic"}
PROGRAM = """
import sys
sys.argv = ["salvage", *sys.argv[1:]]
from salvage.commands.main import main
try:
    main()
except SystemExit as ended:
    assert not ended.code, ended.code
print("LOADED", *{name.split(".")[0] for name in sys.modules}, file=sys.stderr)
"""


def loaded(*arguments: str | Path) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-P", "-c", PROGRAM, *map(str, arguments)],
        capture_output=True,
        text=True,
        check=True,
    )
    return set(next(line for line in done.stderr.splitlines() if line.startswith("LOADED")).split()[1:])


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    get_ready()  # compiled already, as after the first time on a machine
    record, project = tmp_path / "cloth.json", tmp_path / "p.toml"
    record.write_text(json.dumps(RECORD))
    project.write_text(PROJECT)
    return record, project


def test_help_loads_nothing_that_computes() -> None:
    assert not loaded("--help") & (DRAWING | COMPUTING | {"numpy", "shapely", "cv2"})


def test_an_answer_without_a_report_loads_nothing_that_draws(files: tuple[Path, Path]) -> None:
    assert not loaded("fit", "--json", "--no-report", *files) & (DRAWING | COMPUTING)


def test_what_cloth_holds_loads_nothing_that_draws(files: tuple[Path, Path]) -> None:
    assert not loaded("holds", files[0]) & (DRAWING | COMPUTING)


def test_a_distance_loads_nothing_of_scipy(demo_images: Path) -> None:
    photo = demo_images / "coat-back.jpg"
    told = ("--side", "150mm", "--from", "900,800", "--to", "2400,850")
    assert not loaded("tape", photo, *told) & ((DRAWING - {"PIL"}) | COMPUTING)  # PIL reads the photograph


def test_a_marked_picture_loads_nothing_that_writes_pages() -> None:
    code = "import sys, salvage.report.drawing.picture; print(*{each.split('.')[0] for each in sys.modules})"
    done = subprocess.run([sys.executable, "-P", "-c", code], capture_output=True, text=True, check=True)
    assert not set(done.stdout.split()) & {"pydyf", "fontTools"}

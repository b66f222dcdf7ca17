"""The readers, each as a function of a file's bytes: it may refuse them in words and nothing else."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from pathlib import Path

from salvage.cloth.record.file import read_garment
from salvage.cloth.record.odd import odd
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.errors import SalvageError
from salvage.photo.read import read_photo
from salvage.project.drawing import read_drawing
from salvage.project.read import read_project
from salvage.units import Unit

CORPUS = Path(__file__).parents[2] / "fixtures" / "fuzz"


def _record(path: Path) -> None:
    garment = read_garment(path)
    odd(garment)
    garment_from_json(garment_to_json(garment))  # what was read can be written, and read again


def _svg(path: Path) -> None:
    read_drawing(path.name, path.parent, Unit.MM)


def _photo(path: Path) -> None:
    read_photo(path)


def _project(path: Path) -> None:
    read_project(path)


READERS: dict[str, tuple[str, Callable[[Path], None]]] = {
    "records": ("r.json", _record),
    "projects": ("p.toml", _project),
    "svg": ("d.svg", _svg),
    "dxf": ("d.dxf", _svg),
    "photographs": ("p.jpg", _photo),
}


def refuses(kind: str, data: bytes, folder: Path) -> bool:
    """Hand data to a reader; whether it was refused in words. Whatever else it raises is a fault of the reader."""
    name, read = READERS[kind]
    path = folder / name
    path.write_bytes(data)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            read(path)
    except SalvageError as error:
        said = str(error)
    else:
        return False
    assert 0 < len(said) < 1500
    return True

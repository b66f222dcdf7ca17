"""The pieces of work that can be done anywhere: on another core, or on another machine that has no folder of ours.

Each is a function of one plain task and gives plain data; what goes wrong with a garment is a `Refused`, never an
exception, so that one bad photograph stops nobody.
"""

from __future__ import annotations

import io
import tempfile
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path, PurePath
from typing import TYPE_CHECKING

from salvage.cloth.garment import Garment
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.errors import SalvageError
from salvage.project.project import Project
from salvage.rail.answer.copies import Copies, copies_of
from salvage.rail.answer.settle import Settled, settle
from salvage.rail.known.facts import Facts, facts_of
from salvage.rail.note import note_measured
from salvage.telling import Telling
from salvage.units import Unit

if TYPE_CHECKING:  # whoever only asks needs neither
    from salvage.photo.photo import Photo
    from salvage.scale.plane import Plane

PICTURE_PX = 420  # longer side of a garment's picture on a card
_PICTURE_BYTES = 40_000
_DATE_TAKEN, _EXIF_PART, _DATE_CHANGED = (
    0x9003,
    0x8769,
    0x0132,
)  # Exif 2.3x: DateTimeOriginal, its part, DateTime


@dataclass(frozen=True, slots=True)
class Shot:
    """A photograph to be measured. name: of its file; data: its bytes."""

    name: str
    data: bytes = field(repr=False)
    told: Telling


@dataclass(frozen=True, slots=True)
class Measured:
    """A photograph measured: the garment's record, and a small marked picture."""

    record: str = field(repr=False)
    picture: bytes = field(repr=False)


@dataclass(frozen=True, slots=True)
class Refused:
    """Why something can't be used, in words for the person."""

    reason: str


@dataclass(frozen=True, slots=True)
class ToTell:
    """A garment whose facts are wanted, unless they are known, and how many of each project can be cut from it."""

    record: str = field(repr=False)
    unit: Unit = Unit.MM
    known: Facts | None = None
    projects: tuple[Project, ...] = ()
    seconds: float = 4.0


@dataclass(frozen=True, slots=True)
class Told:
    """facts: of the garment; made: in the order of the projects asked for."""

    facts: Facts
    made: tuple[Copies, ...] = ()


@dataclass(frozen=True, slots=True)
class ToAsk:
    """Whether a project can be cut from a garment. seconds: for all of it."""

    record: str = field(repr=False)
    project: Project
    seconds: float
    quick: bool = False
    seed: int = 0


@dataclass(frozen=True, slots=True)
class ToDraw:
    """A garment's record and the bytes of its first photograph, named as the record names it."""

    record: str = field(repr=False)
    file: str
    data: bytes = field(repr=False)


Task = Shot | ToTell | ToAsk | ToDraw
Result = Measured | Told | Settled | bytes | Refused


def do(task: Task) -> Result:
    """Do one task. What is wrong with its garment is told as Refused."""
    try:
        match task:
            case Shot():
                return _measure(task)
            case ToTell():
                return _tell(task)
            case ToAsk():
                garment = garment_from_json(task.record)
                return settle(garment, task.project, seconds=task.seconds, quick=task.quick, seed=task.seed)
            case ToDraw():
                return _draw(task)
    except SalvageError as error:
        return Refused(str(error))
    except MemoryError:
        return Refused("there is not enough memory for it. Try a smaller photograph.")


def _measure(shot: Shot) -> Measured | Refused:
    from salvage.job import look, measure
    from salvage.photo.read import read_photo

    with tempfile.TemporaryDirectory(prefix="salvage-") as folder:
        path = Path(folder) / PurePath(shot.name).name
        path.write_bytes(shot.data)
        try:
            photo = read_photo(path)
            seen = look(photo, shot.told)
            measured = measure([seen], shot.told, name=PurePath(shot.name).stem)
        except SalvageError as error:
            return Refused(str(error).replace(str(path), shot.name).removeprefix(f"{shot.name}: "))
        garment = note_measured(measured.garment, shot.told, date_taken(shot.data))
        assert seen.solution is not None
        return Measured(garment_to_json(garment), _picture(garment, photo, seen.solution.plane))


def _tell(task: ToTell) -> Told:
    garment = garment_from_json(task.record)
    facts = task.known or facts_of(garment, task.unit)
    made = tuple(copies_of(garment, each, seconds=task.seconds, facts=facts) for each in task.projects)
    return Told(facts, made)


def _draw(task: ToDraw) -> bytes | Refused:
    from salvage.photo.read import read_photo
    from salvage.scale.plane import Plane

    garment = garment_from_json(task.record)
    shot = next((p.photo for p in garment.pieces if p.photo is not None and p.photo.file == task.file), None)
    if shot is None or not shot.camera:
        return Refused("the record doesn't say where its pieces lie in the photograph.")
    try:
        plane = Plane.from_record(dict(shot.camera), dict(shot.mm_to_pixel))
    except (ArithmeticError, AttributeError, IndexError, KeyError, TypeError, ValueError):
        return Refused('"camera" or "mm_to_pixel" of its photo is damaged. Measure again, or take both out.')
    with tempfile.TemporaryDirectory(prefix="salvage-") as folder:
        path = Path(folder) / PurePath(task.file).name
        path.write_bytes(task.data)
        return _picture(garment, read_photo(path), plane, task.file)


def _picture(garment: Garment, photo: Photo, plane: Plane, file: str | None = None) -> bytes:
    """The garment cut out of its photograph, with what can't be used marked, as a small JPEG."""
    from salvage.report.drawing.figures import bare_spreads
    from salvage.report.drawing.picture import layout_on_photo

    here = tuple(
        piece
        for piece in garment.pieces
        if piece.photo is not None and (file is None or piece.photo.file == file)
    )
    spreads = bare_spreads([replace(garment, pieces=here)])
    return layout_on_photo(photo, plane, spreads, pieces=here, most_px=PICTURE_PX, most_bytes=_PICTURE_BYTES)


def date_taken(data: bytes) -> str:
    """The day a photograph was taken, YYYY-MM-DD, as its EXIF data has it; "" where it doesn't say."""
    from PIL import Image

    try:
        with Image.open(io.BytesIO(data)) as image:
            exif = image.getexif()
            text = str(exif.get_ifd(_EXIF_PART).get(_DATE_TAKEN) or exif.get(_DATE_CHANGED) or "")
        return datetime.strptime(text.strip("\0 ")[:10], "%Y:%m:%d").date().isoformat()
    except Exception:  # whatever a camera wrote there: no date is no fault
        return ""


def first_photograph(garment: Garment) -> str:
    """The photograph, as the record names it, that shows most of the garment's cloth; "" where it has none."""
    areas: dict[str, float] = {}
    for piece in garment.pieces:
        if piece.photo is not None and piece.photo.camera:
            areas[piece.photo.file] = areas.get(piece.photo.file, 0.0) + piece.outline.area
    return max(areas, key=lambda file: areas[file], default="")

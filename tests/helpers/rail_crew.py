"""Crews for tests of the rail that measure nothing: they make a garment up from a photograph's bytes."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from PIL import Image
from shapely.geometry import box

from salvage.cloth.garment import Garment, Piece, PiecePhoto
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.fit.fit import fit_project
from salvage.rail.crew.tasks import Measured, Refused, Shot, ToAsk, do
from salvage.rail.known.keys import content_of
from salvage.rail.note import note_measured


def draw(path: Path, colour: int) -> Path:
    """A small picture of one colour, for the crew's eyes only."""
    Image.new("RGB", (64, 48), (colour, 90, 90)).save(path)
    return path


@dataclass
class MadeUp:
    """Measures any picture as a rectangle of cloth; `bad` in its name can't be measured. seen: what it was given.

    stop_after: so many photographs, as if somebody pressed Ctrl-C then.
    """

    size: int = 1
    seen: list[str] = field(default_factory=list)
    stop_after: int | None = None

    def work(self, call: Callable[[Any], Any], tasks: Iterable[Any]) -> Iterator[tuple[Any, Any]]:
        for task in tasks:
            if not isinstance(task, Shot):
                yield task, call(task)
                continue
            if self.stop_after is not None and len(self.seen) >= self.stop_after:
                raise KeyboardInterrupt
            self.seen.append(task.name)
            yield task, measured(task)


def measured(shot: Shot) -> Measured | Refused:
    if "bad" in shot.name:
        return Refused("can't be measured: no square.")
    side = 200.0 + shot.data[-20] % 7
    photo = PiecePhoto(shot.name, shot.told.side or 0.0, content=content_of(shot.data))
    piece = Piece("back", box(0, 0, side, 400), fabric=shot.told.fabric, photo=photo)
    garment = note_measured(Garment(Path(shot.name).stem, (piece,)), shot.told, "2026-11-20")
    return Measured(garment_to_json(garment), b"\xff\xd8picture")


# --- tasks for other processes ---------------------------------------------------------------------


def twice_or_die(task: tuple[str, int]) -> int:
    """Twice the number; `die` ends the process, `once` only the first time (a file remembers)."""
    what, number = task
    if what == "die":
        os.kill(os.getpid(), signal.SIGKILL)
    if what.startswith("once:"):
        mark = Path(what.removeprefix("once:"))
        if not mark.exists():
            mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)
    if what == "fail":
        raise RuntimeError("no")
    return 2 * number


def full_answer(task: ToAsk) -> str:
    """What the whole of fit says, with all it does for a person."""
    garment = garment_from_json(task.record)
    return str(fit_project([garment], task.project, seconds=task.seconds).verdict)


def slow_do(task: Any) -> Any:
    """The real work, with time enough to be killed in it."""
    time.sleep(0.4)
    return do(task)

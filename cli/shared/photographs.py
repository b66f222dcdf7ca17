"""Photographs read and looked at for several commands, with a progress bar; and garments loaded with them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.telling import require_inside

from .ahead import ahead
from .memory import keep_memory
from .options import say
from .progress import steps

if TYPE_CHECKING:
    from salvage.cloth.garment import Garment
    from salvage.job import Look
    from salvage.report.records import Loaded
    from salvage.telling import Telling

STEPS_OF_A_LOOK = 5


def look_at(path: Path, told: Telling, *, outline: bool = True, record: Garment | None = None) -> Look:
    """Read and look at one photograph, with a progress bar. record: of the same garment, from which what was told
    about this photograph before is read back."""
    with steps(STEPS_OF_A_LOOK) as step:
        step(f"reading {path.name}")
        keep_memory()
        from salvage.photo.read import read_photo

        ahead("salvage.job", *(["salvage.cloth.outline.find", "salvage.cloth.inside"] if outline else []))
        photo = read_photo(path)
        from salvage.job import look, told_before

        told = told if record is None else told_before(photo, told, record)
        require_inside(told, photo.full_px, photo.name)
        return look(photo, told, outline=outline, step=step)


def load_garments(
    paths: Sequence[Path], told: Telling, *, photos_in: Sequence[Path] = (), pictures: bool = True
) -> Loaded:
    """Records read and photographs measured, one that can't be told of at once: see salvage.loading."""
    from salvage.loading import load

    return load(paths, told, look_at, tell=partial(say, aside=True), photos_in=photos_in, pictures=pictures)

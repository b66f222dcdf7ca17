"""Looking at photographs for several commands: the shared options turned into salvage.job calls."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.errors import UsageError
from salvage.units import parse_length

from .ahead import ahead
from .options import known_lengths, points, side_length
from .progress import steps

if TYPE_CHECKING:
    from salvage.cloth.garment import Garment
    from salvage.job import Look
    from salvage.photo.photo import Photo
    from salvage.telling import Telling

STEPS_OF_A_LOOK = 5
HIGHEST = 100.0  # mm of the cloth's face above the floor; more is a slip
PAPERS = ("A4", "A5", "Letter", "ID-1")


def telling(
    *,
    side: str | None = None,
    paper: str | None = None,
    known: list[str] | None = None,
    square_at: list[str] | None = None,
    cloth_at: list[str] | None = None,
    floor_at: list[str] | None = None,
    height: str | None = None,
    kind: str = "",
    fabric: str = "shell",
    layers: int = 1,
) -> Telling:
    """Read the options. Raises UsageError for what makes no sense."""
    from salvage.telling import Telling
    from salvage.trade.kinds import kind_named

    if paper is not None:
        named = {size.lower(): size for size in PAPERS}
        if paper.lower() not in named:
            raise UsageError(f"--paper {paper}: choose one of {', '.join(PAPERS)}.")
        paper = named[paper.lower()]
    kind_named(kind)
    return Telling(
        side=side_length(side),
        paper=paper,
        known=known_lengths(known),
        square_at=points(square_at, "--square"),
        cloth_at=points(cloth_at, "--cloth"),
        floor_at=points(floor_at, "--floor"),
        height=_height(height),
        kind=kind,
        fabric=fabric,
        layers=layers,
    )


def _height(text: str | None) -> float | None:
    """Raises UsageError for a height that no flat cloth has."""
    value = None if text is None else parse_length(text)  # 0 is the floor itself
    if value is not None and value > HIGHEST:
        raise UsageError(
            f"--height {text} is {value:.0f} mm; cloth that lies flat is a few mm high, padded cloth some 30 mm. "
            "Write its unit too, such as 8mm."
        )
    return value


def one_for_pixels(photos: Sequence[Path], told: Telling) -> None:
    """Raise UsageError where pixels are told and it isn't plain of which photograph."""
    if len(photos) > 1 and (told.known or told.square_at or told.cloth_at or told.floor_at):
        raise UsageError(
            "--known, --square, --cloth and --floor are pixels of one picture: measure one photograph at a time."
        )


def _inside(photo: Photo, told: Telling) -> None:
    """Raise UsageError where a hint points beside the picture."""
    width, height = photo.full_px
    ends = tuple(end for one in told.known for end in (one.from_px, one.to_px))
    hints = {"--known": ends, "--square": told.square_at, "--cloth": told.cloth_at, "--floor": told.floor_at}
    for option, places in hints.items():
        for x, y in places:
            # A length may end at the frame, where an outline does: half a pixel beyond the last one's middle.
            beyond = 0.5 if option == "--known" else 0.0
            if not (-beyond <= x < width + beyond and -beyond <= y < height + beyond):
                raise UsageError(
                    f"{option} {x:g},{y:g} lies outside {photo.name}, which is {width} x "
                    f"{height} pixels. Pixels count from the top left of the upright picture."
                )


def look_at(path: Path, told: Telling, *, outline: bool = True, record: Garment | None = None) -> Look:
    """Read and look at one photograph, with a progress bar. record: of the same garment, from which what was told
    about this photograph before is read back."""
    with steps(STEPS_OF_A_LOOK) as step:
        step(f"reading {path.name}")
        from salvage.photo.read import read_photo

        ahead("salvage.job", *(["salvage.cloth.outline.find", "salvage.cloth.inside"] if outline else []))
        photo = read_photo(path)
        from salvage.job import look, told_before

        told = told if record is None else told_before(photo, told, record)
        _inside(photo, told)

        return look(photo, told, outline=outline, step=step)

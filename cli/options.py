"""Options that several commands share, and how their values are read."""

from __future__ import annotations

import json
import math
import re
import sys
import unicodedata
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.errors import UsageError
from salvage.files import check_place
from salvage.units import Unit, parse_length

if TYPE_CHECKING:
    from salvage.scale.known import KnownLength

Point = tuple[float, float]
SHORTEST_KNOWN, LONGEST_KNOWN = 20.0, 5000.0  # mm
NEAREST_ENDS_PX = 40.0  # nearer, pointing alone makes the scale some 7 % unsure

Side = Annotated[
    str | None,
    typer.Option("--side", help="Side of the reference square, such as 150mm or 6in.", metavar="LENGTH"),
]
Paper = Annotated[
    str | None,
    typer.Option(
        "--paper", help="A standard sheet or card used instead: A4, A5, Letter or ID-1.", metavar="SIZE"
    ),
]
Known = Annotated[
    list[str] | None,
    typer.Option(
        "--known",
        help="A length that you know, instead of a square: its ends in pixels and how long it is, such as "
        "310,540,1890,560,560mm. May be repeated; two that run across each other are surer.",
        metavar="X1,Y1,X2,Y2,LENGTH",
    ),
]
SquareAt = Annotated[
    list[str] | None,
    typer.Option(
        "--square", help="Point at a square in the picture, in pixels. May be repeated.", metavar="X,Y"
    ),
]
ClothAt = Annotated[
    list[str] | None,
    typer.Option("--cloth", help="A pixel that is cloth. May be repeated.", metavar="X,Y"),
]
FloorAt = Annotated[
    list[str] | None,
    typer.Option("--floor", help="A pixel that is floor. May be repeated.", metavar="X,Y"),
]
Height = Annotated[
    str | None,
    typer.Option(
        "--height", help="Height of the cloth's face above the floor, such as 8mm.", metavar="LENGTH"
    ),
]
Kind = Annotated[
    str,
    typer.Option(
        "--kind",
        help="Kind of cloth: woven, canvas, denim, knit, leather, coated, pile, lining, padded, quilted.",
    ),
]
PhotosIn = Annotated[
    list[Path] | None,
    typer.Option(
        "--photos",
        help="A folder that a record's photographs may lie in, beside the record's own. May be repeated.",
        metavar="FOLDER",
    ),
]
Fabric = Annotated[str, typer.Option("--fabric", help="What the main cloth is called.")]
Layers = Annotated[
    int, typer.Option("--layers", help="Equal layers lying there that will all be cut.", min=1, max=8)
]
Units = Annotated[Unit | None, typer.Option("--units", help="Units to show: mm, cm or in.")]
Json = Annotated[
    bool, typer.Option("--json", help="Print the machine-readable answer alone on standard output.")
]
Seed = Annotated[
    int,
    typer.Option(
        "--seed", help="Where the search begins: with --steps, the same seed gives the same answer.", min=0
    ),
]


def length(text: str | None, option: str) -> float | None:
    """Read an option's length in mm; must be more than 0. Raises UsageError."""
    if text is None:
        return None
    value = parse_length(text)
    if value <= 0:
        raise UsageError(f"{option} must be more than 0.")
    return value


def side_length(text: str | None) -> float | None:
    """Side of the reference square in mm, with a check that inches were not written for millimetres."""
    value = length(text, "--side")
    if value is not None and not 20 <= value <= 1000:
        raise UsageError(
            f"--side {text} is {value:.0f} mm; a reference square is between 20 mm and 1 m. Write its unit too, such as 6in."
        )
    return value


def point(text: str, option: str) -> Point:
    """Read `X,Y` in pixels. Raises UsageError."""
    match = re.fullmatch(r"\s*(-?\d+(?:\.\d+)?)\s*[,; ]\s*(-?\d+(?:\.\d+)?)\s*", text)
    if match is None:
        raise UsageError(f"{option} {text!r}: write a pixel as X,Y, for example {option} 1200,860.")
    return float(match[1]), float(match[2])


def known_lengths(texts: list[str] | None) -> tuple[KnownLength, ...]:
    """Read `X1,Y1,X2,Y2,LENGTH` of every --known. Raises UsageError."""
    return tuple(_known_length(text) for text in texts or ())


def _known_length(text: str) -> KnownLength:
    from salvage.scale.known import KnownLength

    *ends, last = text.split(",", 4)
    try:
        x1, y1, x2, y2 = (float(end) for end in ends)
        if not all(map(math.isfinite, (x1, y1, x2, y2))):
            raise ValueError
    except ValueError:
        raise UsageError(
            f"--known {text!r}: write both ends in pixels and the length between them, for example "
            "--known 310,540,1890,560,560mm."
        ) from None
    try:
        told = parse_length(last)
    except UsageError as error:
        raise UsageError(f"--known {text!r}: {error}") from None
    if not SHORTEST_KNOWN <= told <= LONGEST_KNOWN:
        raise UsageError(
            f"--known {text!r}: {told:.4g} mm is no length of a garment to measure by ({SHORTEST_KNOWN:.0f} mm to "
            f"{LONGEST_KNOWN / 1000:.0f} m). Write its unit too, such as 560mm or 22in."
        )
    if math.dist((x1, y1), (x2, y2)) < NEAREST_ENDS_PX:
        raise UsageError(
            f"--known {text!r}: its ends are {math.dist((x1, y1), (x2, y2)):.0f} pixels apart and need "
            f"{NEAREST_ENDS_PX:.0f}. Point at the two ends of something long."
        )
    return KnownLength((x1, y1), (x2, y2), told)


def points(texts: list[str] | None, option: str) -> tuple[Point, ...]:
    return tuple(point(text, option) for text in texts or ())


def print_json(data: Any) -> None:
    """The answer alone on standard output, with no NaN in it."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False)
    try:
        text.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:  # neither a terminal's lack of letters nor half a letter may change the answer
        text = json.dumps(data, allow_nan=False)
    sys.stdout.write(text + "\n")


def error_data(message: str, status: int, **more: Any) -> dict[str, Any]:
    """What `--json` gives instead of an answer ("salvage error 1")."""
    return {"format": "salvage error 1", "status": status, "message": message, **more}


def say(text: str, *, aside: bool = False) -> None:
    """Print for the person; aside: on standard error, so that standard output stays clean.

    What would steer the terminal rather than be seen on it (names come from files) is shown as a question mark.
    """
    seen = "".join(c if c == "\n" or c == "\t" or unicodedata.category(c) != "Cc" else "?" for c in text)
    print(seen, file=sys.stderr if aside else sys.stdout)


def can_write(path: Path, endings: tuple[str, ...], what: str) -> None:
    """Find out before the work, not after it, that a result has nowhere to go.

    endings: with the dot, lower case; what: `a marked picture`. Raises UsageError for another ending and
    SalvageError where the folder is missing or closed, or what lies there can't be written.
    """
    if path.suffix.lower() not in endings:
        raise UsageError(f"--out {path}: {what} ends in {' or '.join(endings)}.")
    check_place(path)


def not_over(path: Path, inputs: Iterable[Path]) -> None:
    """Raise UsageError where a result would replace one of the files it is made from."""
    for given in inputs:
        if path.exists() and given.exists() and path.samefile(given):
            raise UsageError(
                f"{path}: is the file that was given, so it stays as it is. Choose another --out."
            )


def beside(path: Path, ending: str) -> Path:
    """A file that goes with path: `coat.json` and `-marked.jpg` give `coat-marked.jpg`."""
    return path.with_name(path.stem + ending)

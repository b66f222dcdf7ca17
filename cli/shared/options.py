"""Options that several commands share, and how their values are read."""

from __future__ import annotations

import functools
import inspect
import json
import re
import sys
import unicodedata
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Annotated, Any, TypeVar, get_type_hints

import typer

from salvage.errors import UsageError
from salvage.files import check_place
from salvage.telling import Point, Telling, height_told, known_told, paper_told, side_told
from salvage.trade.paper import AS_REFERENCE
from salvage.units import Unit, parse_length

T = TypeVar("T")

Side = Annotated[
    str | None,
    typer.Option("--side", help="Side of the reference square, such as 150mm or 6in.", metavar="LENGTH"),
]
Paper = Annotated[
    str | None,
    typer.Option(
        "--paper",
        help=f"A standard sheet or card used instead: {', '.join(AS_REFERENCE[:-1])} or {AS_REFERENCE[-1]}.",
        metavar="SIZE",
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


# What is told about a photograph, by the name of its parameter: its type with the option, and its default.
_TOLD: dict[str, tuple[Any, Any]] = {
    "side": (Side, None),
    "paper": (Paper, None),
    "known": (Known, None),
    "square": (SquareAt, None),
    "cloth": (ClothAt, None),
    "floor": (FloorAt, None),
    "height": (Height, None),
    "kind": (Kind, ""),
    "fabric": (Fabric, "shell"),
    "layers": (Layers, 1),
}


def told_by_options(*names: str) -> Callable[[Callable[..., T]], Callable[..., T]]:
    """Give a command the options that tell about photographs, all or those named, in the place of its parameter `told`;
    it gets what they say as one Telling."""

    def give(run: Callable[..., T]) -> Callable[..., T]:
        hints = get_type_hints(run, localns={"Telling": Telling}, include_extras=True)
        own = [
            parameter.replace(annotation=hints[name])
            for name, parameter in inspect.signature(run).parameters.items()
        ]
        at = next(place for place, each in enumerate(own) if each.name == "told")
        given = [
            inspect.Parameter(
                name,
                inspect.Parameter.POSITIONAL_OR_KEYWORD,
                default=_TOLD[name][1],
                annotation=_TOLD[name][0],
            )
            for name in names or _TOLD
        ]

        @functools.wraps(run)
        def command(*args: Any, **options: Any) -> T:
            said = {name: options.pop(name) for name in names or _TOLD if name in options}
            return run(*args, told=telling(**said), **options)

        signature = inspect.Signature([*own[:at], *given, *own[at + 1 :]])
        command.__signature__ = signature  # type: ignore[attr-defined]
        command.__annotations__ = {each.name: each.annotation for each in signature.parameters.values()}
        return command

    return give


def telling(
    *,
    side: str | None = None,
    paper: str | None = None,
    known: list[str] | None = None,
    square: list[str] | None = None,
    cloth: list[str] | None = None,
    floor: list[str] | None = None,
    height: str | None = None,
    kind: str = "",
    fabric: str = "shell",
    layers: int = 1,
) -> Telling:
    """Read the options. Raises UsageError for what makes no sense."""
    from salvage.trade.kinds import kind_named

    kind_named(kind)
    return Telling(
        side=None if side is None else side_told(side, "--side "),
        paper=None if paper is None else paper_told(paper, "--paper "),
        known=tuple(known_told(each) for each in known or ()),
        square_at=points(square, "--square"),
        cloth_at=points(cloth, "--cloth"),
        floor_at=points(floor, "--floor"),
        height=None if height is None else height_told(height, "--height "),
        kind=kind,
        fabric=fabric,
        layers=layers,
    )


def length(text: str | None, option: str) -> float | None:
    """Read an option's length in mm; must be more than 0. Raises UsageError."""
    if text is None:
        return None
    value = parse_length(text)
    if value <= 0:
        raise UsageError(f"{option} must be more than 0.")
    return value


def point(text: str, option: str) -> Point:
    """Read `X,Y` in pixels. Raises UsageError."""
    match = re.fullmatch(r"\s*(-?\d+(?:\.\d+)?)\s*[,; ]\s*(-?\d+(?:\.\d+)?)\s*", text)
    if match is None:
        raise UsageError(f"{option} {text!r}: write a pixel as X,Y, for example {option} 1200,860.")
    return float(match[1]), float(match[2])


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

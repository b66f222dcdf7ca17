"""`salvage tape`: distances on a photograph, with their plus-minus."""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from .shared.options import Json, Units, point, print_json, say, told_by_options

if TYPE_CHECKING:
    from salvage.telling import Telling

NAME = "tape"
COLUMNS = ("x1", "y1", "x2", "y2")


@told_by_options("side", "paper", "known", "square", "height", "kind")
def run(
    photo: Annotated[Path, typer.Argument(help="A photograph.", metavar="PHOTO")],
    told: Telling,
    start: Annotated[str | None, typer.Option("--from", help="First pixel.", metavar="X,Y")] = None,
    end: Annotated[str | None, typer.Option("--to", help="Second pixel.", metavar="X,Y")] = None,
    pairs: Annotated[
        Path | None, typer.Option("--pairs", help="A CSV file of pixel pairs with columns x1,y1,x2,y2.")
    ] = None,
    units: Units = None,
    json: Json = False,
) -> None:
    """Measure the distance between two points of the cloth on a photograph."""
    from salvage.errors import SalvageError, UsageError

    from .shared.photographs import look_at

    if (pairs is None) == (start is None and end is None) or (start is None) != (end is None):
        raise UsageError("give either --from X,Y and --to X,Y, or --pairs FILE.csv.")
    if pairs is not None:
        wanted = read_pairs(pairs)
    else:
        assert start is not None
        assert end is not None
        wanted = [(point(start, "--from"), point(end, "--to"))]
    seen = look_at(photo, told, outline=False)
    # After the look, which loads most of what these need while it reads the photograph.
    from salvage.job import NO_SCALE
    from salvage.photo.problem import Level
    from salvage.report.say.answers import tape_data
    from salvage.report.say.summary import tape_line
    from salvage.units import Unit

    errors = [p.message for p in seen.problems if p.level is Level.ERROR]
    if errors or seen.solution is None:
        raise SalvageError(f"{photo}: can't be measured. " + (" ".join(errors) or NO_SCALE))
    wide, tall = seen.photo.full_px
    for corner in (c for pair in wanted for c in pair):
        if not (0 <= corner[0] <= wide - 1 and 0 <= corner[1] <= tall - 1):
            raise UsageError(
                f"{corner[0]:g},{corner[1]:g} is outside the picture, which is {wide} x "
                f"{tall} pixels (upright)."
            )
    plane = seen.solution.plane
    lengths, plus_minuses = plane.lengths([a for a, _ in wanted], [b for _, b in wanted])
    found = [
        (a, b, float(mm), float(pm)) for (a, b), mm, pm in zip(wanted, lengths, plus_minuses, strict=True)
    ]
    for a, b, mm, _ in found:
        if not math.isfinite(mm):
            raise UsageError(f"{a} to {b}: one of them lies above the horizon, where there is no floor.")
    if json:
        print_json(tape_data(found))
        return
    unit = units or Unit.MM
    for problem in seen.problems:
        say(f"warning: {problem.message}", aside=True)
    for a, b, mm, pm in found:
        say(tape_line(a, b, mm, pm, unit))


def read_pairs(path: Path) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Read pixel pairs. Raises SalvageError naming the line that is wrong."""
    from salvage.errors import SalvageError
    from salvage.files import closed, ordinary

    ordinary(path, "the CSV file of pixel pairs")
    try:
        with path.open(newline="", encoding="utf-8-sig") as stream:
            rows = list(csv.DictReader(stream, skipinitialspace=True))
    except FileNotFoundError:
        raise SalvageError(f"{path}: no such file. Give the CSV file of pixel pairs.") from None
    except PermissionError:
        raise closed(path) from None
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise SalvageError(
            f"{path}: can't be read as a CSV file ({error}). Save it as text with commas."
        ) from error
    if not rows or any(column not in rows[0] for column in COLUMNS):
        raise SalvageError(
            f"{path}: needs a first line x1,y1,x2,y2 and a line for each pair, with commas between."
        )
    found = []
    for number, row in enumerate(rows, start=2):
        try:
            x1, y1, x2, y2 = (float(row[column]) for column in COLUMNS)
        except (TypeError, ValueError):
            raise SalvageError(f"{path}, line {number}: needs four numbers.") from None
        if not all(map(math.isfinite, (x1, y1, x2, y2))):
            raise SalvageError(f"{path}, line {number}: needs four numbers.")
        found.append(((x1, y1), (x2, y2)))
    return found

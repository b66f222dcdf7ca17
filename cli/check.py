"""`salvage check`: is this photograph good enough, and what to change."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .shared.options import Json, Units, can_write, error_data, not_over, print_json, say, told_by_options
from .shared.status import DONE, UNUSABLE

if TYPE_CHECKING:
    from salvage.telling import Telling

NAME = "check"


@told_by_options("side", "paper", "known", "square", "cloth", "floor", "kind")
def run(
    photos: Annotated[list[Path], typer.Argument(help="Photographs.", metavar="PHOTO...")],
    told: Telling,
    units: Units = None,
    json: Json = False,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write a marked picture there (one photograph only).")
    ] = None,
) -> int:
    """Say whether photographs are good enough to measure from, what to change, and the scale they give.

    Without --side the squares are still looked for, but there is no scale. Ends with 4 if any photograph
    can't be measured from or even opened; the others are answered all the same.
    """
    from salvage.errors import SalvageError, UsageError
    from salvage.ours import check_ours, write_ours
    from salvage.report.drawing.picture import marked_check
    from salvage.report.say.answers import check_data
    from salvage.report.say.summary import check_summary
    from salvage.units import Unit

    from .shared.photographs import look_at

    if out is not None and len(photos) > 1:
        raise UsageError("--out takes one photograph.")
    if out is not None:
        can_write(out, (".jpg", ".jpeg"), "a marked picture")
        not_over(out, photos)
        check_ours(out)
    unit = units or Unit.MM
    answers: list[dict[str, Any]] = []
    all_ok = True
    for path in photos:
        try:
            seen = look_at(path, told)
        except UsageError:
            raise
        except SalvageError as error:
            if len(photos) == 1:
                raise
            say(f"salvage: {error}", aside=True)
            answers.append(error_data(str(error), UNUSABLE, photo=path.name))
            all_ok = False
            continue
        all_ok &= seen.ok
        answers.append(check_data(seen))
        if not json:
            say(check_summary(seen, unit))
        if out is not None:
            picture = marked_check(
                seen.photo,
                seen.squares,
                seen.problems,
                seen.outline.shape_px if seen.outline else None,
                plane=seen.solution.plane if seen.solution else None,
                known=seen.known,
                doubtful_px=seen.outline.doubtful_px if seen.outline else None,
                unit=unit,
            )
            write_ours(out, picture)
    if json:
        print_json(answers[0] if len(answers) == 1 else answers)
    return DONE if all_ok else UNUSABLE

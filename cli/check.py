"""`salvage check`: is this photograph good enough, and what to change."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from .options import (
    ClothAt,
    FloorAt,
    Json,
    Kind,
    Known,
    Paper,
    Side,
    SquareAt,
    Units,
    can_write,
    error_data,
    not_over,
    print_json,
    say,
)

NAME = "check"


def run(
    photos: Annotated[list[Path], typer.Argument(help="Photographs.", metavar="PHOTO...")],
    side: Side = None,
    paper: Paper = None,
    known: Known = None,
    square: SquareAt = None,
    cloth: ClothAt = None,
    floor: FloorAt = None,
    kind: Kind = "",
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
    from salvage.report.say.summary import check_summary
    from salvage.units import Unit

    from .look import look_at, telling

    if out is not None and len(photos) > 1:
        raise UsageError("--out takes one photograph.")
    if out is not None:
        can_write(out, (".jpg", ".jpeg"), "a marked picture")
        not_over(out, photos)
        check_ours(out)
    unit = units or Unit.MM
    told = telling(
        side=side,
        paper=paper,
        known=known,
        square_at=square,
        cloth_at=cloth,
        floor_at=floor,
        kind=kind,
    )
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
            answers.append(error_data(str(error), 4, photo=path.name))
            all_ok = False
            continue
        all_ok &= seen.ok
        answers.append(answer(seen))
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
    return 0 if all_ok else 4


def answer(seen: Any) -> dict[str, Any]:
    """One photograph's answer in the form of the design ("salvage check 1")."""
    from shapely.geometry import mapping

    plane = seen.solution.plane if seen.solution else None
    scale = plane and {
        "mm_per_px": round(plane.mm_per_px, 6),
        "tilt": round(plane.tilt, 2),
        "plus_minus_percent": round(plane.plus_minus_percent, 3),
    }
    return {
        "format": "salvage check 1",
        "photo": seen.photo.name,
        "ok": seen.ok,
        "size_px": [seen.photo.width_px, seen.photo.height_px],
        "problems": [{"code": p.code, "level": p.level, "message": p.message} for p in seen.problems],
        "squares": [
            {
                "kind": s.kind,
                # Without a scale nothing is known of the square's side.
                "side": round(s.width, 3) if plane else None,
                "corners_px": [[round(float(v), 3) for v in c] for c in s.corners_px],
            }
            for s in seen.squares
        ],
        "outline_px": mapping(seen.outline.shape_px)
        if seen.outline
        else {"type": "MultiPolygon", "coordinates": []},
        "outline_confidence": round(seen.outline.confidence, 4) if seen.outline else 0.0,
        "scale": scale,
        "known": [one.row for one in seen.known],
        "advice": list(seen.solution.advice) if seen.solution else [],
    }

"""`salvage measure`: from photographs to the garment's record and a picture of what was found."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .options import (
    ClothAt,
    FloorAt,
    Height,
    Json,
    Kind,
    Paper,
    Side,
    SquareAt,
    Units,
    beside,
    say,
)

NAME = "measure"


def run(
    photos: Annotated[list[Path], typer.Argument(help="Photographs of one garment.", metavar="PHOTO...")],
    out: Annotated[Path, typer.Option("--out", help="The garment's record to write (.json).")],
    side: Side = None,
    paper: Paper = None,
    square: SquareAt = None,
    cloth: ClothAt = None,
    floor: FloorAt = None,
    height: Height = None,
    kind: Kind = "",
    name: Annotated[str | None, typer.Option("--name", help="What to call the garment.")] = None,
    fabric: Annotated[str, typer.Option("--fabric", help="What the main cloth is called.")] = "shell",
    layers: Annotated[
        int, typer.Option("--layers", help="Equal layers lying there that will all be cut.", min=1, max=8)
    ] = 1,
    units: Units = None,
    json: Json = False,
) -> None:
    """Measure a garment from its photographs: write its record and a marked picture of what was found.

    If the record exists, what a person drew in it is kept. Hints (--square, --cloth, --floor) are pixels of
    the picture and go with a single photograph.
    """
    from salvage.cloth.merge import merge
    from salvage.cloth.record import garment_to_json, read_garment
    from salvage.errors import UsageError
    from salvage.files import write_atomically
    from salvage.job import measure
    from salvage.report.picture import marked_photo
    from salvage.report.summary import measure_summary
    from salvage.units import Unit

    from .look import look_at, telling

    if out.suffix.lower() != ".json":
        raise UsageError(f"--out {out}: a garment's record ends in .json.")
    if len(photos) > 1 and (square or cloth or floor):
        raise UsageError(
            "--square, --cloth and --floor are pixels of one picture: measure one photograph at a time."
        )
    told = telling(
        side=side, paper=paper, square_at=square, cloth_at=cloth, floor_at=floor, height=height, kind=kind,
        fabric=fabric, layers=layers,
    )  # fmt: skip
    unit = units or Unit.MM
    old = read_garment(out) if out.exists() else None
    measured = measure(
        [look_at(path, told) for path in photos], told, name=name or (old.name if old else out.stem)
    )
    garment = measured.garment
    garment = with_photo_paths(garment, photos, out.parent)
    if old is not None:
        garment = merge(old, garment)
    record = garment_to_json(garment)
    write_atomically(out, record)
    pictures = []
    for path, seen in zip(photos, measured.looks, strict=True):
        assert seen.solution is not None
        assert seen.outline is not None
        picture = beside(out, "-marked.jpg" if len(photos) == 1 else f"-{path.stem}-marked.jpg")
        plane = seen.solution.plane
        write_atomically(
            picture,
            marked_photo(
                seen.photo,
                plane,
                garment_in(garment, path, out.parent),
                squares=seen.squares,
                outline_px=seen.outline.shape_px,
                doubtful_px=seen.outline.doubtful_px,
                unit=unit,
            ),
        )
        pictures.append(picture)
    if json:
        print(record)
    else:
        say(measure_summary(measured, unit))
    for path in (out, *pictures):
        say(f"wrote {path}", aside=True)


def with_photo_paths(garment, photos: list[Path], folder: Path):  # type: ignore[no-untyped-def]
    """Pieces that name their photograph relative to the record's folder, as the record wants it."""
    import os
    from dataclasses import replace

    by_name = {
        path.name: os.path.relpath(path.resolve(), folder.resolve()).replace(os.sep, "/") for path in photos
    }
    pieces = tuple(
        replace(piece, photo=replace(piece.photo, file=by_name[piece.photo.file])) if piece.photo else piece
        for piece in garment.pieces
    )
    return replace(garment, pieces=pieces)


def garment_in(garment, photo: Path, folder: Path):  # type: ignore[no-untyped-def]
    """The garment with only the pieces seen in that photograph."""
    from dataclasses import replace

    here = tuple(
        piece for piece in garment.pieces
        if piece.photo is not None and (folder / piece.photo.file).resolve() == photo.resolve()
    )  # fmt: skip
    return replace(garment, pieces=here)

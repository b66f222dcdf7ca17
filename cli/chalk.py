"""`salvage chalk`: correct what was found on a garment."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from salvage.desk.edit_help import HELP

from .options import Json, PhotosIn, Units

NAME = "chalk"
# Edits may be repeated and are done in their order, so they are read as they stand.
CONTEXT = {"ignore_unknown_options": True}


def run(
    words: Annotated[
        list[str],
        typer.Argument(
            help="A garment's record, then edits; none: list what there is.", metavar="RECORD.json [EDIT]..."
        ),
    ],
    photos: PhotosIn = None,
    picture: Annotated[
        bool, typer.Option("--picture/--no-picture", help="Write the marked picture anew.")
    ] = True,
    units: Units = None,
    json: Json = False,
) -> int:
    from salvage.errors import UsageError

    from .chalk_edit import edit_record

    if not words[0].lower().endswith(".json"):
        raise UsageError(f"{words[0]}: give a garment's record (.json), then edits such as --not 7.")
    return edit_record(
        Path(words[0]), words[1:], photos=photos or (), picture=picture, units=units, as_json=json
    )


run.__doc__ = f"""Correct what was found on a garment, by what stands in its marked picture.
{HELP}
Each edit is kept in the record, also when the photograph is measured again.
"""

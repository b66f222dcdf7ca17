"""`salvage chalk`: the whole job on a page in the browser; and plain edits of a record without one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from salvage.desk.edit.help import HELP

from .shared.options import Json, PhotosIn, Units

NAME = "chalk"
# Edits may be repeated and are done in their order, so they are read as they stand.
CONTEXT = {"ignore_unknown_options": True}
FOLDER = "salvage-chalk"


def run(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            help="A folder to work in, made if it isn't there; or a garment's record, then edits.",
            metavar="[FOLDER | RECORD.json [EDIT]...]",
        ),
    ] = None,
    share: Annotated[
        bool,
        typer.Option(
            "--share",
            help="Serve the page on the local network too, with an address and a code for a telephone.",
        ),
    ] = False,
    port: Annotated[int | None, typer.Option("--port", help="The page's port.", min=1, max=65535)] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")
    ] = True,
    photos: PhotosIn = None,
    picture: Annotated[
        bool, typer.Option("--picture/--no-picture", help="Write the marked picture anew.")
    ] = True,
    units: Units = None,
    json: Json = False,
) -> int:
    from salvage.errors import UsageError

    first, *rest = words or [FOLDER]
    if first.lower().endswith(".json"):
        from .shared.edits import edit_record

        return edit_record(Path(first), rest, photos=photos or (), picture=picture, units=units, as_json=json)
    if rest or first.startswith("-"):
        raise UsageError(
            f"{rest[0] if rest else first}: edits go with a garment's record (.json), such as salvage chalk coat.json "
            "--not 7. For the page give one folder, or none."
        )
    serve_page(Path(first), share=share, port=port, browser=browser)
    return 0


def serve_page(folder: Path, *, share: bool, port: int | None, browser: bool) -> None:
    """Serve the page until Ctrl-C."""
    import sys
    import webbrowser

    from salvage.desk.serving.serve import serve

    from .shared.options import say

    def tell(text: str) -> None:
        say(text)
        sys.stdout.flush()  # the address is waited for, also where the output goes through a pipe

    serve(folder, share=share, port=port, tell=tell, show=webbrowser.open if browser else lambda _: None)


run.__doc__ = f"""Open the whole job on a page in the browser: photograph, correct with chalk, project, yes or no.

The page is served from this machine to this machine, unless --share is given; photographs never leave it. With
a garment's record, correct it here, by what stands in its marked picture.
{HELP}
Each edit is kept in the record, also when the photograph is measured again.
"""

"""`salvage holds`: how much sound cloth there is."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .options import (
    ClothAt,
    Fabric,
    FloorAt,
    Height,
    Json,
    Kind,
    Known,
    Layers,
    Paper,
    Side,
    SquareAt,
    Units,
    print_json,
    say,
)

NAME = "holds"


def run(
    files: Annotated[
        list[Path], typer.Argument(help="Garment records, or photographs with --side.", metavar="G.json...")
    ],
    side: Side = None,
    paper: Paper = None,
    known: Known = None,
    square: SquareAt = None,
    cloth: ClothAt = None,
    floor: FloorAt = None,
    height: Height = None,
    kind: Kind = "",
    fabric: Fabric = "shell",
    layers: Layers = 1,
    units: Units = None,
    json: Json = False,
) -> int:
    """Say how much sound cloth the garments hold: area, largest rectangles and strip lengths, by fabric.

    A garment that can't be used is named and left out, and the command then ends with 4.
    """
    from salvage.fit.material.holds import holds, holds_to_json
    from salvage.report.say.summary import holds_summary
    from salvage.units import Unit

    from .load import load
    from .look import telling

    told = telling(
        side=side, paper=paper, known=known, square_at=square, cloth_at=cloth, floor_at=floor, height=height, kind=kind,
        fabric=fabric, layers=layers,
    )  # fmt: skip
    loaded = load(files, told, photos_in=None)
    unit = units or Unit.MM
    found = holds(loaded.garments, unit)
    for note in loaded.notes:
        say(f"note: {note}", aside=True)
    if json:
        more = {"unused": list(loaded.unused)} if loaded.unused else {}
        print_json(holds_to_json(found) | more)
    else:
        say(holds_summary(found, unit))
    return 4 if loaded.unused else 0

"""`salvage demo`: all of it on a demonstration photograph, into a folder."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Annotated

import typer

from .options import Units, say

NAME = "demo"
PHOTO = "coat-back.jpg"
SIDE = "150mm"
PROJECTS = ("tool_roll.toml", "bench_cover.toml")


def run(
    out: Annotated[Path, typer.Option("--out", help="The folder to fill.")] = Path("salvage-demo"),
    units: Units = None,
) -> int:
    """Check, measure and fit a demonstration photograph: a work coat, a tool roll, and a cover that is too big."""
    from salvage.errors import SalvageError

    from . import check, fit, holds, measure

    photo = data_folder("demo_images") / PHOTO
    out.mkdir(parents=True, exist_ok=True)
    if any(out.iterdir()) and not (out / PHOTO).exists():
        raise SalvageError(f"{out}: is not empty. Choose another folder with --out.")
    shutil.copyfile(photo, out / PHOTO)
    record = out / "work_coat.json"
    say(f"salvage check {PHOTO} --side {SIDE}")
    check.run([out / PHOTO], side=SIDE, units=units, json=False)
    say(f"\nsalvage measure {PHOTO} --side {SIDE} --out {record.name}")
    measure.run([out / PHOTO], out=record, side=SIDE, name="work coat", units=units, json=False)
    say(f"\nsalvage holds {record.name}")
    holds.run([record], units=units, json=False)
    for name in PROJECTS:
        shutil.copyfile(data_folder("projects") / name, out / name)
        say(f"\nsalvage fit {record.name} {name}")
        fit.run([record, out / name], out=out / f"fit-{Path(name).stem}.html", units=units, json=False)
    say(
        f"\nEverything is in {out}: open {out / f'fit-{Path(PROJECTS[0]).stem}.html'} and {out / 'work_coat-marked.jpg'}."
    )
    return 0


def data_folder(name: str) -> Path:
    """A folder of data that travels with the package. Raises SalvageError where it is missing."""
    import salvage
    from salvage.errors import SalvageError

    package = Path(salvage.__file__).parent
    places = {
        "demo_images": (package / "demo_images", package.parent / "demo_images"),
        "projects": (package / "sample_projects", package.parent / "fixtures" / "projects"),
    }
    for place in places[name]:
        if place.is_dir():
            return place
    raise SalvageError(f"the demonstration's {name} are missing. Install salvage from a full checkout.")

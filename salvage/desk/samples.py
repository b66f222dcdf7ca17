"""The demonstration photographs and projects that travel with the program."""

from __future__ import annotations

from pathlib import Path

import salvage
from salvage.errors import SalvageError

PHOTO, SIDE = "coat-back.jpg", "150mm"  # the photograph that every install has, and the side of its squares


def data_folder(name: str) -> Path:
    """A folder of data that travels with the package: `demo_images` or `projects`. Raises SalvageError where it is missing."""
    package = Path(salvage.__file__).parent
    places = {
        "demo_images": (package / "demo_images", package.parent / "demo_images"),
        "projects": (package / "sample_projects", package.parent / "fixtures" / "projects"),
    }
    for place in places[name]:
        if place.is_dir():
            return place
    raise SalvageError(f"the demonstration's {name} are missing. Install salvage from a full checkout.")


def sample_projects() -> dict[str, Path]:
    """The sample projects by their files' names; none where they were not installed."""
    try:
        return {path.name: path for path in sorted(data_folder("projects").glob("*.toml"))}
    except SalvageError:
        return {}

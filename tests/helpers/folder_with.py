"""A folder with a project and the record of a plain coat, for commands that are typed in it."""

from __future__ import annotations

import json
from pathlib import Path


def folder_with(place: Path, project: str, wide: int, high: int) -> Path:
    """`bag.toml` of that text, and `coat.json`: one piece of shell, mm."""
    ring = [[0, 0], [wide, 0], [wide, high], [0, high], [0, 0]]
    back = {
        "name": "back",
        "fabric": "shell",
        "outline": {"type": "Polygon", "coordinates": [ring]},
        "blocked": [],
    }
    coat = {"format": "salvage garment 1", "units": "mm", "name": "coat", "pieces": [back]}
    (place / "bag.toml").write_text(project)
    (place / "coat.json").write_text(json.dumps(coat))
    return place

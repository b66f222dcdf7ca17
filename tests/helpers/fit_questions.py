"""Reads the fit questions with known answers in ../shared/fitbench, and writes layouts back in their words."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from modules import module_at
from shapely.geometry import Polygon

from salvage.fit.question import Cloth, Placed, Question, Shape
from salvage.project.project import Grain


class FitQuestions:
    """The folder's questions, and its own checker, which shares no code with ours."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.verify = module_at(folder / "verify.py")

    def names(self, pattern: str = "*") -> list[str]:
        return sorted(str(p.relative_to(self.folder))[:-5] for p in self.folder.glob(pattern + ".json"))

    def load(self, name: str) -> dict[str, Any]:
        return json.loads((self.folder / f"{name}.json").read_text())

    def faults(self, data: dict[str, Any], placed: Iterable[Placed]) -> list[str]:
        """What the folder's checker has against a layout."""
        layout = [
            {
                "panel": data["panels"][p.shape]["name"], "piece": data["pieces"][p.cloth]["name"],
                "rotation_deg": p.angle, "mirrored": p.flipped, "x": p.x, "y": p.y,
            }
            for p in placed
        ]  # fmt: skip
        return self.verify.check_layout(data, layout)


def question_of(data: dict[str, Any]) -> Question:
    """The bare question; names, class and everything else that may give the answer away stays behind."""
    cloths = tuple(
        Cloth(
            f"piece {n}",
            Polygon(p["polygon"]["exterior"], p["polygon"].get("holes", [])),
            p["fabric"], p["grain_deg"], p["one_way"],
        )
        for n, p in enumerate(data["pieces"])
    )  # fmt: skip
    return Question(cloths, tuple(_shape(n, p) for n, p in enumerate(data["panels"])), float(data["gap_mm"]))


def _shape(number: int, panel: dict[str, Any]) -> Shape:
    if "polygon" in panel:
        outline = tuple((float(x), float(y)) for x, y in panel["polygon"])
    else:
        w, h = panel["rect"]
        outline = ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h))
    angles = tuple(panel["rotations"]) if "rotations" in panel else None
    return Shape(
        f"panel {number}", outline, panel["fabric"], panel["count"],
        grain=Grain(panel.get("grain", "along")), angles=angles,
        mirrored_pair=bool(panel.get("mirrored_pair")), may_flip=bool(panel.get("may_flip")),
    )  # fmt: skip

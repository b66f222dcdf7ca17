"""The answer that the page shows: asked again after each change, and given in words and in pixels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from salvage.cloth.garment import Garment
from salvage.cloth.record.file import read_garment
from salvage.fit.answer import Answer
from salvage.fit.say.cloth import unsuited
from salvage.fit.write import answer_to_json
from salvage.photo.photo import Photo
from salvage.project.project import Project
from salvage.project.read import read_project
from salvage.report.records import Loaded, read_photos, read_planes
from salvage.report.say.words import (
    MARK,
    allowance_words,
    grave_words,
    headline,
    next_step,
    scale_words,
    size_text,
)
from salvage.scale.plane import Plane
from salvage.units import Unit, format_area, format_length

_MOST_RECTANGLES = 3


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked: records with where they lie in their photographs, and a project in the person's units."""

    shown: Loaded
    project: Project
    unit: Unit


def loaded(records: Sequence[Path], *, pictures: bool = True) -> Loaded:
    """Records with their planes, and with their photographs if pictures are wanted."""
    garments: list[Garment] = []
    photos: dict[str, Photo] = {}
    planes: dict[str, Plane] = {}
    missing: list[str] = []
    for index, path in enumerate(records):
        garments.append(read_garment(path))
        read_planes(path, garments[-1], index, planes, missing)
        if pictures:
            read_photos(path, garments[-1], index, (), photos, missing)
    return Loaded(tuple(garments), photos, planes, tuple(dict.fromkeys(missing)))


def asked(records: Sequence[Path], project: Path, unit: Unit, *, pictures: bool = False) -> Asked:
    """Read what is asked about. Raises SalvageError."""
    read = read_project(project)
    return Asked(loaded(records, pictures=pictures), replace(read, unit=unit), unit)


def answer_data(answer: Answer, question: Asked) -> dict[str, Any]:
    """The answer for the page: that of `fit --json`, with its words."""
    garments, project, unit = question.shown.garments, question.project, question.unit
    warned = unsuited(answer, garments)
    return answer_to_json(answer, garments, question.shown.to_px) | {
        "mark": MARK[answer.verdict],
        "headline": headline(answer, warned),
        "reasons": [*warned, *answer.reasons],
        "larger": scale_words(answer),
        "next_step": next_step(answer, warned),
        "cautions": list(grave_words(project, garments)),
        "allowance": allowance_words(project, unit),
        "notes": list(project.notes),
        "spare_said": None if answer.spare is None else format_length(max(0.0, answer.spare), unit),
        "plus_minus_said": format_length(answer.plus_minus, unit),
        "left_said": [_left(fabric, answer, unit) for fabric in answer.left_over],
    }


def _left(fabric: str, answer: Answer, unit: Unit) -> dict[str, Any]:
    left = answer.left_over[fabric]
    largest = [size_text((width, length), unit) for width, length, *_ in left.rectangles[:_MOST_RECTANGLES]]
    return {"fabric": fabric, "area": format_area(left.area, unit), "largest": largest}

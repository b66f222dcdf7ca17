"""What is said of numbers that a project leaves open, and the project with them as they were found."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from salvage.fit.answer import Answer
from salvage.fit.layout.most import copies_left_open
from salvage.project.project import Project
from salvage.units import Unit, format_length


def as_cut(project: Project, answer: Answer) -> Project:
    """The project with the numbers and lengths that it left open as the answer has them."""
    panels = tuple(replace(each, cut=answer.many.get(each.name, each.cut)) for each in project.panels)
    strips = tuple(
        replace(
            each,
            cut=answer.many.get(each.name, each.cut),
            length=answer.longest.get(each.name, each.length),
        )
        for each in project.strips
    )
    return replace(project, panels=panels, strips=strips)


def of_open(project: Project, unit: Unit, *, no_more: bool) -> Iterator[str]:
    """How many, and how long. project: as settled; no_more: whether one more is proved not to fit."""
    told = (
        ", and it is proved that no more can"
        if no_more
        else "; no way was found to lay out more (a longer search, such as --seconds 60, may find one)"
    )
    for name, count in copies_left_open(project).items():
        yield f"{name}: {count} can be cut{told}."
    for strip in project.strips:
        if strip.longest:
            length = format_length(strip.length, unit)
            each = " each" if strip.cut > 1 else ""
            yield f"{strip.name}: {length}{each} is the longest that was found with all else cut; a longer search may find more."

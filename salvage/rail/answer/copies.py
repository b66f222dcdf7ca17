"""How many times a whole project can be cut from one garment."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from salvage.cloth.garment import Garment
from salvage.errors import SalvageError
from salvage.fit.answer import Verdict
from salvage.fit.fabrics import by_fabric
from salvage.fit.fit import fit_project
from salvage.fit.keep.keep import without_kept
from salvage.fit.material.lay import same_fabric
from salvage.fit.material.outer import outer_lay
from salvage.project.project import Project
from salvage.rail.answer.settle import area_asked, by_facts, not_suited
from salvage.rail.known.facts import Facts

_MOST_SHAPES = 120  # of one layout: nobody cuts more from one garment, and more takes the search too long
_EACH = 0.5  # of the time left, for one number of copies
_LEAST_SECONDS = 0.3


@dataclass(frozen=True, slots=True)
class Copies:
    """How many times a project can be cut: at least `least`; no more than `most`, which is proved.

    why: why not once, or why none are counted. seconds: what was given to it.
    """

    project: str
    least: int
    most: int
    why: str = ""
    seconds: float = 0.0

    @property
    def words(self) -> str:
        """`3`, `3 to 5`, `0`."""
        return str(self.least) if self.least == self.most else f"{self.least} to {self.most}"


def times(project: Project, number: int) -> Project:
    """The project so many times over. What is left to the cloth (`many`, `"longest"`) is cut at its least."""
    return replace(
        project,
        panels=tuple(replace(each, cut=each.cut * number, many=False) for each in project.panels),
        strips=tuple(
            replace(each, cut=each.cut * number, many=False, longest=False) for each in project.strips
        ),
    )


def copies_of(
    garment: Garment,
    project: Project,
    *,
    seconds: float,
    stop: Callable[[], bool] | None = None,
    facts: Facts | None = None,
) -> Copies:
    """Count them: twice as many while that goes, then between. seconds: for all of it. facts: where they are known."""
    unsuited = not_suited(garment.kind)
    if unsuited:
        return Copies(project.name, 0, 0, unsuited)
    refused = None if facts is None else by_facts(facts, project)
    if refused is not None:
        return Copies(project.name, 0, 0, refused.reason)
    begun = time.monotonic()
    low, most = 0, _by_area(garment, project)
    fails = min(most, _at_once(project)) + 1  # no layout is known for so many
    why, tried, doubling = "There is less cloth than one takes.", 1, True
    while low + 1 < fails and not (stop is not None and stop()):
        left = seconds - (time.monotonic() - begun)
        if left < _LEAST_SECONDS and tried > 1:
            break
        given = max(_LEAST_SECONDS, _EACH * left)
        try:
            answer = fit_project([garment], times(project, tried), seconds=given, stop=stop, brief=True)
        except SalvageError as error:
            return Copies(project.name, low, low, str(error), seconds)
        if answer.is_yes:
            low = tried
        else:
            fails, doubling, why = tried, False, " ".join(answer.reasons)
        if answer.verdict is Verdict.NO:
            most = min(most, tried - 1)
        tried = 2 * low if doubling and 2 * low < fails else (low + fails) // 2
    return Copies(project.name, low, most, "" if low else why, seconds)


def _at_once(project: Project) -> int:
    """Of how many copies a layout is looked for at most."""
    shapes = sum(each.cut for each in project.panels) + sum(each.cut for each in project.strips)
    return max(1, _MOST_SHAPES // max(1, shapes))


def _by_area(garment: Garment, project: Project) -> int:
    """No more than there is cloth for, let out by its plus-minus."""
    outer = outer_lay([garment], grown=True)
    bounds = []
    for fabric, part in by_fabric(without_kept(times(project, 1))).items():
        asked = area_asked(part)
        if asked > 0:
            bounds.append(math.floor(outer.area(same_fabric(fabric)) / asked + 1e-9))
    return max(0, min(bounds, default=0))

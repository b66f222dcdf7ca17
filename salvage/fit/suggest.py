"""Bigger or fewer: the smallest changes that make a project fit, each shown by a layout."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from salvage.fit.arrange import Layout, arrange
from salvage.fit.budget import Budget
from salvage.fit.lay import Lay
from salvage.fit.refuse import refuse
from salvage.project.project import Grain, Panel, Project

_TRIED = 12  # panels of each kind of change


@dataclass(frozen=True, slots=True)
class Change:
    """A changed project that fits. what: one of join, turn, leave-out; panel: as it was."""

    what: str
    panel: Panel
    layout: Layout


def smallest_changes(
    lay: Lay, project: Project, budget: Budget, first: Iterable[str] = ()
) -> tuple[Change, ...]:
    """Of each kind of change the first that a search shows to be enough.

    first: names of panels to try first, those that stand in the way.
    """
    wanted = list(first)
    panels = sorted(
        range(len(project.panels)),
        key=lambda i: (project.panels[i].name not in wanted, -_size(project.panels[i])),
    )
    found = []
    for kind, share in ((_joined, 0.45), (_turned, 0.45), (_left_out, 0.9)):
        part = budget.part(share)
        for index in panels[:_TRIED]:
            if part.over():
                break
            change = _first_that_fits(lay, project, index, kind(project.panels[index]), part)
            if change is not None:
                found.append(change)
                break
    return tuple(found)


def _size(panel: Panel) -> float:
    xs, ys = zip(*panel.outline, strict=True)
    return float((max(xs) - min(xs)) * (max(ys) - min(ys)))


def _joined(panel: Panel) -> Iterator[tuple[str, Panel | None]]:
    yield "join", replace(panel, joins=panel.joins + 1)


def _turned(panel: Panel) -> Iterator[tuple[str, Panel | None]]:
    if panel.rotations is None and panel.grain in (Grain.ALONG, Grain.ACROSS):
        yield "turn", replace(panel, grain=Grain.EITHER)


def _left_out(panel: Panel) -> Iterator[tuple[str, Panel | None]]:
    fewer = 2 if panel.mirrored and not panel.flip else 1
    yield "leave-out", replace(panel, cut=panel.cut - fewer) if panel.cut > fewer else None


def _first_that_fits(
    lay: Lay,
    project: Project,
    index: int,
    changes: Iterator[tuple[str, Panel | None]],
    budget: Budget,
) -> Change | None:
    for what, panel in changes:
        kept = () if panel is None else (panel,)
        changed = replace(project, panels=(*project.panels[:index], *kept, *project.panels[index + 1 :]))
        if not changed.panels and not changed.strips:
            continue
        if refuse(lay, changed, budget.part(0.1, at_most=0.5)) is not None:
            continue
        layout = arrange(lay, changed, budget.part(0.3, at_most=1.5), hopeful=what != "join")
        if layout.complete:
            return Change(what, project.panels[index], layout)
    return None

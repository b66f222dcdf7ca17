"""Bigger or fewer: the smallest changes that make a project fit, each shown by a layout."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from salvage.fit.claim import Proof, ProofKind
from salvage.fit.layout.arrange import arrange
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout
from salvage.fit.material.lay import Lay, same_fabric
from salvage.project.project import Grain, Panel, Project

_TRIED = 12  # panels of each kind of change
_CORE = 0.5  # share of the project's cloth; without what takes more it would be another project
_ROOMY = 0.85  # share of the cloth; projects that ask for no more usually have a layout


@dataclass(frozen=True, slots=True)
class Change:
    """A changed project that fits. what: one of join, turn, anywhere, leave-out; panel: as it was."""

    what: str
    panel: Panel
    layout: Layout


def smallest_changes(
    lay: Lay, project: Project, budget: Budget, *, first: Collection[str] = (), proof: Proof | None = None
) -> tuple[Change, ...]:
    """Of each kind of change the first that a search shows to be enough.

    first: names of panels to try first, those that stand in the way. proof: of a no; then changes that
    leave it standing aren't tried.
    """
    if budget.over():
        return ()
    panels = [i for i, panel in enumerate(project.panels) if panel.name in first]
    if proof is None or proof.kind is ProofKind.AREA or not panels:
        rest = [i for i in range(len(project.panels)) if i not in panels]
        panels += sorted(rest, key=lambda i: -_area(project.panels[i]))
    found = []
    if proof is None or proof.kind is not ProofKind.AREA:
        for kind in (_anywhere, _joined, _turned):
            found += _first_of(kind, panels, lay, project, budget.part(0.4))
    return (*found, *_first_of(_left_out, _by_loss(panels, lay, project), lay, project, budget))


def _first_of(
    kind: Callable[[Panel], Iterator[tuple[str, Panel | None]]],
    panels: Sequence[int],
    lay: Lay,
    project: Project,
    budget: Budget,
) -> list[Change]:
    for index in panels[:_TRIED]:
        if budget.over():
            break
        change = _first_that_fits(lay, project, index, kind(project.panels[index]), budget)
        if change is not None:
            return [change]
    return []


def _by_loss(panels: Sequence[int], lay: Lay, project: Project) -> list[int]:
    """Order in which to leave panels out: the smallest that leaves room to spare, then the largest.

    What the project mostly consists of is not among them.
    """
    asked: dict[str, float] = {}
    area = [_area(panel) for panel in project.panels]
    for panel, each in zip(project.panels, area, strict=True):
        fabric = same_fabric(panel.fabric)
        asked[fabric] = asked.get(fabric, 0.0) + panel.cut * each
    for strip in project.strips:
        fabric = same_fabric(strip.fabric)
        asked[fabric] = asked.get(fabric, 0.0) + strip.cut * strip.cut_width * strip.length
    there = {fabric: lay.area(fabric) for fabric in asked}

    def loss(index: int) -> tuple[bool, float]:
        panel = project.panels[index]
        fabric = same_fabric(panel.fabric)
        roomy = asked[fabric] - _fewer(panel) * area[index] <= _ROOMY * there[fabric]
        return (not roomy, area[index] if roomy else -area[index])

    core = _CORE * sum(asked.values())
    return sorted((i for i in panels if _fewer(project.panels[i]) * area[i] <= core), key=loss)


def _fewer(panel: Panel) -> int:
    return 2 if panel.mirrored and not panel.flip else 1


def _area(panel: Panel) -> float:
    return float(Polygon(panel.outline).area)


def _anywhere(panel: Panel) -> Iterator[tuple[str, Panel | None]]:
    if panel.pieces:
        yield "anywhere", replace(panel, pieces=())


def _joined(panel: Panel) -> Iterator[tuple[str, Panel | None]]:
    yield "join", replace(panel, joins=panel.joins + 1)


def _turned(panel: Panel) -> Iterator[tuple[str, Panel | None]]:
    if panel.rotations is None and panel.grain in (Grain.ALONG, Grain.ACROSS):
        yield "turn", replace(panel, grain=Grain.EITHER)


def _left_out(panel: Panel) -> Iterator[tuple[str, Panel | None]]:
    left = panel.cut - _fewer(panel)
    yield "leave-out", replace(panel, cut=left) if left > 0 else None


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
        layout = arrange(lay, changed, budget.part(0.5, at_most=2.5), hopeful=what != "join")
        if layout.complete:
            return Change(what, project.panels[index], layout)
    return None

"""A project of several fabrics: each is settled for itself, and the answers are put together.

No panel of one fabric can take cloth from another, so what holds for one fabric holds whatever becomes of
the others: a panel that fits nowhere settles its own fabric only, and the rest may still be cut.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer, FabricAnswer, Help, HelpKind, LeftOver, Placement, Verdict
from salvage.fit.material.amount import usable_area
from salvage.fit.material.lay import same_fabric
from salvage.fit.material.left import left_over
from salvage.fit.say.fabrics import of_fabric
from salvage.fit.say.layouts import of_choice, of_scale
from salvage.project.project import Project


def by_fabric(project: Project) -> dict[str, Project]:
    """The project with the panels and strips of one fabric only, by fabric as the project spells it first."""
    spelled: dict[str, str] = {}
    for fabric in (*(each.fabric for each in project.panels), *(each.fabric for each in project.strips)):
        spelled.setdefault(same_fabric(fabric), fabric)
    return {
        name: replace(
            project,
            panels=tuple(each for each in project.panels if same_fabric(each.fabric) == fabric),
            strips=tuple(each for each in project.strips if same_fabric(each.fabric) == fabric),
        )
        for fabric, name in spelled.items()
    }


def with_fabric(answer: Answer, fabric: str) -> Answer:
    """The answer to a project of one fabric, which is the answer for that fabric too."""
    return replace(answer, fabrics={fabric: FabricAnswer(answer.verdict, answer.reasons, answer.proof)})


def one_for_all(answers: Mapping[str, Answer], garments: Sequence[Garment]) -> int | None:
    """The smallest garment that suffices alone for every fabric, where the layouts now use more than one."""
    alone = set.intersection(*(set(each.suffices) for each in answers.values()))
    used = {placement.garment for each in answers.values() for placement in each.placements}
    return (
        min(alone, key=lambda index: usable_area(garments[index : index + 1]), default=None)
        if len(used) > 1
        else None
    )


def bare_but(garments: Sequence[Garment], index: int) -> tuple[Garment, ...]:
    """The garments, all but one of them without cloth."""
    return tuple(each if i == index else replace(each, pieces=()) for i, each in enumerate(garments))


def kept_to(
    alone: int, before: Mapping[str, Answer], again: Mapping[str, Answer], garments: Sequence[Garment]
) -> dict[str, Answer]:
    """The answers from one garment alone, if it did suffice again; else those from before."""
    if any(answer.spare is None for answer in again.values()):
        return dict(before)
    kept = {}
    for fabric, answer in again.items():
        suffices = before[fabric].suffices
        choice = of_choice(suffices, alone, garments)
        reasons = (*answer.reasons, choice) if choice else answer.reasons
        kept[fabric] = replace(answer, reasons=reasons, suffices=suffices)
    return kept


def put_together(answers: Mapping[str, Answer], garments: Sequence[Garment], project: Project) -> Answer:
    """The answer to the whole project from those to its fabrics: as good as the worst of them."""
    each = list(answers.values())
    worst = min(each, key=lambda answer: answer.verdict.rank)
    placements = in_order(project, [p for answer in each for p in answer.placements])
    laid = [answer for answer in each if answer.spare is not None]
    tightest = min(laid, key=lambda answer: _room(answer), default=worst)
    complete = len(laid) == len(each)
    remains: Mapping[str, LeftOver] = left_over(garments, placements) if placements else {}
    scale = _scale(answers, project)
    worst_first = sorted(answers, key=lambda fabric: answers[fabric].verdict.rank)
    return Answer(
        verdict=worst.verdict,
        reasons=tuple(of_fabric(fabric, answers[fabric]) for fabric in worst_first),
        placements=placements,
        not_placed=_not_placed(answers, project) if placements else (),
        spare=tightest.spare if complete else None,
        plus_minus=tightest.plus_minus if complete else max(answer.plus_minus for answer in each),
        seconds=sum(answer.seconds for answer in each),
        proof=worst.proof,
        largest_scale_percent=scale,
        left_over=remains,
        helps=_helps(answers, scale, project),
        join_plan=tuple(text for answer in each for text in answer.join_plan),
        suffices=tuple(sorted(set.intersection(*(set(answer.suffices) for answer in each)))),
        many={name: count for answer in each for name, count in answer.many.items()},
        longest={name: length for answer in each for name, length in answer.longest.items()},
        fabrics={
            fabric: FabricAnswer(answer.verdict, answer.reasons, answer.proof)
            for fabric, answer in answers.items()
        },
        doubts=tuple(dict.fromkeys(doubt for answer in each for doubt in answer.doubts)),
    )


def _room(answer: Answer) -> float:
    return (answer.spare or 0.0) - answer.plus_minus


def in_order(project: Project, placements: Sequence[Placement]) -> tuple[Placement, ...]:
    """Placements in the order of the project's panels and strips, their copies and parts."""
    names = [*(panel.name for panel in project.panels), *(strip.name for strip in project.strips)]
    order = {name: position for position, name in enumerate(names)}
    return tuple(sorted(placements, key=lambda p: (order[p.panel], p.copy, p.part or 0)))


def _not_placed(answers: Mapping[str, Answer], project: Project) -> tuple[str, ...]:
    """Names of what isn't placed, a copy each; of a fabric with a proven no, all of it."""
    parts = by_fabric(project)
    names: list[str] = []
    for fabric, answer in answers.items():
        if answer.verdict is Verdict.NO:
            names += [panel.name for panel in parts[fabric].panels for _ in range(panel.cut)]
            names += [strip.name for strip in parts[fabric].strips for _ in range(strip.cut)]
        else:
            names += answer.not_placed
    return tuple(names)


def _scale(answers: Mapping[str, Answer], project: Project) -> float | None:
    """The largest scale at which every fabric fits, where that follows from their own.

    A fabric that fits at a larger scale fits at a smaller one if its shapes lie within themselves made
    larger, as convex ones do, and nothing has to be joined anew.
    """
    parts = by_fabric(project)
    scales = [answer.largest_scale_percent for answer in answers.values()]
    known = [scale for scale in scales if scale is not None]
    if len(known) < len(scales):
        return None
    least = min(known)
    for fabric, answer in answers.items():
        larger = answer.largest_scale_percent != least
        panels = [Polygon(panel.outline) for panel in parts[fabric].panels]
        convex = all(panel.convex_hull.area <= panel.area * (1 + 1e-9) for panel in panels)
        if larger and (not convex or answer.join_plan):
            return None
    return least


def _helps(answers: Mapping[str, Answer], scale: float | None, project: Project) -> tuple[Help, ...]:
    """What would help the whole project: the fabrics' own, said of one fabric where others need help too."""
    short = [fabric for fabric, answer in answers.items() if not answer.is_yes]
    told = [
        each if len(short) == 1 else replace(each, text=f"{fabric}: {each.text}")
        for fabric, answer in answers.items()
        for each in answer.helps
        if each.kind is not HelpKind.SCALE
    ]
    by_scale = of_scale(scale, project) if short and scale is not None and scale < 100 else None
    return (*told, Help(HelpKind.SCALE, by_scale, percent=scale)) if by_scale else tuple(told)

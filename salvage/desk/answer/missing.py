"""What of a project is laid, and what is missing, as a project of its own; and what it leaves to the cloth."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

from salvage.desk.answer.laid import Laid
from salvage.fit.answer import Answer, Placement
from salvage.fit.layout.found import Layout
from salvage.project.project import Panel, Project, Strip


def closed(project: Project, answer: Answer) -> Project:
    """The project with what it leaves to the cloth as an answer has it."""
    panels = tuple(
        replace(each, cut=answer.many.get(each.name, each.cut), many=False) for each in project.panels
    )
    strips = tuple(
        replace(
            each,
            cut=answer.many.get(each.name, each.cut),
            length=answer.longest.get(each.name, each.length),
            many=False,
            longest=False,
        )
        for each in project.strips
    )
    return replace(project, panels=panels, strips=strips)


def left_to_cloth(project: Project, asked: Project) -> list[tuple[Panel | Strip, bool]]:
    """Panels and strips, and whether the project as asked leaves their number to the cloth."""
    found: list[tuple[Panel | Strip, bool]] = []
    found += [(each, other.many) for each, other in zip(project.panels, asked.panels, strict=True)]
    found += [(each, other.many) for each, other in zip(project.strips, asked.strips, strict=True)]
    return found


def amount(project: Project, asked: Project) -> tuple[float, float]:
    """How much there is of what the project as asked leaves to the cloth: copies, and mm of length."""
    copies = sum(each.cut for each, open_ in left_to_cloth(project, asked) if open_)
    pairs = zip(project.strips, asked.strips, strict=True)
    return copies, sum(each.length for each, other in pairs if other.longest)


def as_many_as(project: Project, asked: Project, laid: Laid, pins: Laid) -> tuple[Project, Laid]:
    """The project with fewer copies of what is left to the cloth, where fewer were laid, though never less than
    asked; and what is laid with its copies numbered from 1 again, but for those pinned."""
    copies: dict[str, list[int]] = {}
    for each in laid:
        if each.copy not in copies.setdefault(each.panel, []):
            copies[each.panel].append(each.copy)
    panels = tuple(
        replace(each, cut=max(len(copies.get(each.name, ())), other.cut)) if other.many else each
        for each, other in zip(project.panels, asked.panels, strict=True)
    )
    strips = tuple(
        replace(each, cut=max(len(copies.get(each.name, ())), other.cut)) if other.many else each
        for each, other in zip(project.strips, asked.strips, strict=True)
    )
    number: dict[tuple[str, int], int] = {}
    for name, there in copies.items():
        stay = {each.copy for each in pins if each.panel == name}
        free = (n for n in range(1, len(there) + len(stay) + 1) if n not in stay)
        number |= {(name, n): n if n in stay else next(free) for n in there}
    counted = tuple(replace(each, copy=number[each.panel, each.copy]) for each in laid)
    return replace(project, panels=panels, strips=strips), counted


def parts_of(project: Project) -> tuple[Panel | Strip, ...]:
    return (*project.panels, *project.strips)


def what_is_missing(project: Project, laid: Laid) -> tuple[Project | None, dict[str, tuple[str, bool]]]:
    """What of a project isn't laid, as a project of its own, None if all is; and by the names in it what each is:
    the panel or strip, and whether a mirror image of it."""
    names: dict[str, tuple[str, bool]] = {}
    panels: list[Panel] = []
    for number, panel in enumerate(project.panels):
        there = {each.copy: each.flipped for each in laid if each.panel == panel.name}
        flipped = panel.cut // 2 if panel.mirrored and not panel.flip else 0
        counts = {True: max(0, flipped - sum(there.values())), False: 0}
        counts[False] = max(0, panel.cut - len(there) - counts[True])
        for mirrored, count in counts.items():
            if count:
                name = f"{number} {'mirrored' if mirrored else 'as drawn'}"
                names[name] = panel.name, mirrored
                outline = tuple((-x, y) for x, y in reversed(panel.outline)) if mirrored else panel.outline
                panels.append(
                    replace(panel, name=name, cut=count, mirrored=False, many=False, outline=outline)
                )
    strips = []
    for number, strip in enumerate(project.strips):
        count = strip.cut - len({each.copy for each in laid if each.panel == strip.name})
        if count > 0:
            name = f"{number} strip"
            names[name] = strip.name, False
            strips.append(replace(strip, name=name, cut=count, many=False, longest=False))
    if not panels and not strips:
        return None, names
    return replace(project, panels=tuple(panels), strips=tuple(strips)), names


def names_left_out(missing: Project, names: Mapping[str, tuple[str, bool]]) -> list[str]:
    return [names[each.name][0] for each in parts_of(missing) for _ in range(each.cut)]


def named_again(layout: Layout, names: Mapping[str, tuple[str, bool]], kept: Laid) -> Laid:
    """What was laid, called as in the project, with numbers of copies that are free. Of a copy of which a part found
    no place nothing is laid."""
    laid = layout.asked.placements(layout.placed, renumbered=False)
    found: list[Placement] = []
    taken: dict[str, set[int]] = {}
    for each in kept:
        taken.setdefault(each.panel, set()).add(each.copy)
    parts = Counter((item.name, copy) for item in layout.asked.items for copy, _ in item.labels)
    there = Counter((each.panel, each.copy) for each in laid)
    copies: dict[tuple[str, int], int] = {}
    for each in laid:
        key = each.panel, each.copy
        if there[key] < parts[key]:
            continue
        name, mirrored = names[each.panel]
        if key not in copies:
            used = taken.setdefault(name, set())
            copies[key] = next(n for n in range(1, len(used) + 2) if n not in used)
            used.add(copies[key])
        found.append(replace(each, panel=name, copy=copies[key], flipped=each.flipped != mirrored))
    return tuple(found)

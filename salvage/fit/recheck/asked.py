"""That a relaxed question asks for no more than the project does: each of its shapes is needed, as often."""

from __future__ import annotations

import math
from fractions import Fraction

from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.fit.question import Question, Shape
from salvage.fit.recheck.cloth import same
from salvage.fit.recheck.doubt import SLACK, Doubt
from salvage.fit.recheck.exact import area
from salvage.project.project import Join, Panel, Project, Strip


def asks_no_more(question: Question, project: Project) -> None:
    """Raises Doubt unless every layout of the project, joins and all, has room for all these shapes."""
    if question.gap > project.cutting_gap:
        raise Doubt("the gap kept is more than the project asks for")
    panels = {each.name: each for each in project.panels}
    strips = {each.name: each for each in project.strips}
    names = [each.name for each in question.shapes]
    if len(set(names)) != len(names):
        raise Doubt("a panel was counted twice")
    for shape in question.shapes:
        if shape.name in panels:
            _is_panel(shape, panels[shape.name])
        elif shape.name in strips:
            _is_of_strip(shape, strips[shape.name], question.gap)
        else:
            raise Doubt(f"the project has no {shape.name}")


def _is_panel(shape: Shape, panel: Panel) -> None:
    if panel.keeps:
        raise Doubt(f"{panel.name} may lie on what is else no cloth")
    wanted = (
        same(panel.fabric), panel.grain, panel.rotations, panel.off_grain, panel.flip,
        panel.mirrored and not panel.flip, tuple(same(name) for name in panel.pieces), None,
    )  # fmt: skip
    had = (
        shape.fabric, shape.grain, shape.turns, shape.off_grain, shape.may_flip,
        shape.mirrored_pair, shape.pieces, shape.angles,
    )  # fmt: skip
    if panel.joins or wanted != had or shape.count > panel.cut or shape.outline != panel.outline:
        raise Doubt(f"{panel.name} is not asked for as the project has it")


def _is_of_strip(shape: Shape, strip: Strip, gap: float) -> None:
    """Segments of a strip's width: any lengths that it is joined from hold so many of them, a gap apart.

    A length l holds m = floor((l + g) / (s + g)) of them, at least one as l >= s; and l < (m + 1)(s + g) - g
    <= m (2 s + g). All lengths together are at least as long as the strip, so there are at least
    length / (2 s + g) segments.
    """
    left, bottom, _right, top = Polygon(shape.outline).bounds
    long = top - bottom
    if strip.join is Join.NONE:
        short, count = strip.length, 1
    else:
        short = min(strip.shortest, strip.length)
        count = max(1, math.ceil(Fraction(strip.length) / (2 * Fraction(short) + Fraction(gap))))
    wanted = (same(strip.fabric), strip.grain, tuple(same(name) for name in strip.pieces))
    plain = (shape.turns, shape.angles, shape.off_grain, shape.mirrored_pair, shape.may_flip)
    rectangle = affinity.translate(box(0, 0, strip.cut_width, short), left, bottom)
    if (
        wanted != (shape.fabric, shape.grain, shape.pieces)
        or plain != (None, None, 0.0, False, False)
        or short <= 0
        or long > short + SLACK / 4
        or shape.count > count * strip.cut
        or not rectangle.buffer(SLACK / 4, join_style="mitre").covers(Polygon(shape.outline))
    ):
        raise Doubt(f"{strip.name} is not asked for as the project has it")


def area_asked(project: Project, fabric: str) -> Fraction:
    """mm^2 at least that all panels and strips of a fabric are cut from; joins only add to it."""
    total = Fraction(0)
    for panel in project.panels:
        if panel.keeps:
            continue  # it may lie on what is else no cloth
        if same(panel.fabric) == fabric:
            total += panel.cut * area(Polygon(panel.outline))
    for strip in project.strips:
        if same(strip.fabric) == fabric:
            total += strip.cut * Fraction(strip.cut_width) * Fraction(strip.length)
    return total


def slabs(panel: Panel, across: bool, step_share: int) -> list[Polygon]:
    """Slabs of a panel of which every piecing this way holds at least one in one of its parts.

    With at most n joins some part spans at least 1 / (n + 1) of the panel's extent, sewn, and has its
    allowance beyond at least one join; if nothing is joined, the whole panel is the part. So some part holds
    [a, a + least] of the extent, and with it the slab from the next step at or above a, a step shorter.
    A slab in bits is replaced by its largest bit, which the part holds too.
    """
    outline = Polygon(panel.outline)
    outline = outline if across else affinity.rotate(outline, 90, origin=(0, 0))
    left, bottom, right, top = outline.bounds
    extent = top - bottom
    least = min(extent, extent / (panel.joins + 1) + panel.seam_allowance)
    step = least / step_share
    found = []
    for k in range(math.ceil((extent - least) / step) + 1):
        low = bottom + k * step
        window = box(left - 1, low, right + 1, min(low + least - step, top))
        cut = outline.intersection(window)
        bits = [each for each in getattr(cut, "geoms", [cut]) if isinstance(each, Polygon)]
        if not bits:
            raise Doubt("a part of a panel could not be worked out")
        bit = max(bits, key=lambda each: each.area)
        found.append(bit if across else affinity.rotate(bit, -90, origin=(0, 0)))
    return found

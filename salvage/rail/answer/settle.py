"""Whether one project can be cut from one garment: what `fit` would answer, the cheap ways first.

What the index knows gives sure noes in no time: less cloth than is asked for, or a panel larger than every clear
stretch (salvage.rail.known.room). They rest on what fit's own proofs rest on, cloth let out by its plus-minus, and a panel
that may be pieced, turned by another angle than a quarter, or lie a little off the grain is none of their business.
What is left is asked of the fit room, whose yes is checked and whose no is proved.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.errors import SalvageError
from salvage.fit.answer import Answer, Verdict
from salvage.fit.cutting.strips import least_segments
from salvage.fit.fabrics import by_fabric
from salvage.fit.fit import fit_project
from salvage.fit.keep.keep import without_kept
from salvage.fit.material.amount import usable_area
from salvage.fit.material.lay import same_fabric
from salvage.fit.material.rectangles import largest_rectangle
from salvage.fit.require import require_usable
from salvage.fit.say.phrases import listed
from salvage.project.project import Grain, Panel, Point, Project, Strip
from salvage.rail.known.facts import Fabric, Facts
from salvage.rail.known.room import longest_at, may_have_room
from salvage.trade.kinds import KINDS
from salvage.units import format_area, format_length, format_size

UNSUITED = "unsuited"  # the cloth is of a kind that no answer by size holds for
BY_FACTS, BY_FIT = "facts", "fit"
QUICK = 1.5  # seconds of the fit room, in which most questions are settled
_QUARTERS = {Grain.ALONG: (True, False), Grain.ACROSS: (False, True), Grain.EITHER: (True, True)}
_HAIR = 1e-9
_LEAST = 0.3  # seconds for a fabric, where those before it took all there was


@dataclass(frozen=True, slots=True)
class Settled:
    """The answer for one garment and one project. verdict: one of fit's, or UNSUITED. reason: one sentence or more.

    seconds: what was given to it. proof: BY_FACTS or BY_FIT. spare: mm, None without a layout.
    """

    project: str
    verdict: str
    reason: str = ""
    seconds: float = 0.0
    proof: str = BY_FIT
    spare: float | None = None

    @property
    def yes(self) -> bool:
        """Whether it can be made of it."""
        return self.verdict != UNSUITED and Verdict(self.verdict).is_yes

    @property
    def settled(self) -> bool:
        """Whether more time can't change it."""
        return self.verdict != Verdict.UNSETTLED


def settle(
    garment: Garment,
    project: Project,
    *,
    seconds: float,
    quick: bool = False,
    seed: int = 0,
    stop: Callable[[], bool] | None = None,
) -> Settled:
    """Ask the fit room. quick: no longer than QUICK, whatever the time."""
    unsuited = not_suited(garment.kind)
    if unsuited:
        return Settled(project.name, UNSUITED, unsuited, proof=BY_FACTS)
    try:
        require_usable([garment], project)
    except SalvageError as error:
        return Settled(project.name, str(Verdict.NO), str(error), proof=BY_FACTS)
    given = min(seconds, QUICK) if quick else seconds
    begun = time.monotonic()
    parts = sorted(by_fabric(project).items(), key=lambda each: _tightness(garment, *each), reverse=True)
    worst: Answer | None = None
    for number, (_, part) in enumerate(parts):  # the fabric that is shortest first: its no ends it
        share = max(given - (time.monotonic() - begun), _LEAST) / (len(parts) - number)
        answer = fit_project([garment], part, seconds=share, seed=seed, stop=stop, brief=True)
        if worst is None or answer.verdict.rank < worst.verdict.rank:
            worst = answer
        if answer.verdict is Verdict.NO:
            break
    assert worst is not None  # require_usable saw to it that there is something to cut
    took = given if worst.verdict is Verdict.UNSETTLED else time.monotonic() - begun
    if stop is not None and stop():
        took = 0.0  # it was not given its time
    return Settled(project.name, str(worst.verdict), _why(worst), took, spare=worst.spare)


def _tightness(garment: Garment, fabric: str, part: Project) -> float:
    """How much of a fabric's cloth is asked for; more than all of it where there is none."""
    there = usable_area([garment], fabric)
    return area_asked(part) / there if there > 0 else math.inf


def not_suited(kind: str) -> str:
    """Why a kind of cloth doesn't suit, "" where it does or isn't known."""
    return KINDS[kind].not_suited if kind in KINDS else ""


def by_facts(facts: Facts, project: Project) -> Settled | None:
    """The answer where the facts alone are enough for a no; None says nothing."""
    if facts.why_not:
        return Settled(project.name, UNSUITED, facts.why_not, proof=BY_FACTS)
    # what keeps something of a garment may lie on what is else no cloth: the facts say nothing of it
    for fabric, part in by_fabric(without_kept(project)).items():
        there = facts.of(fabric)
        if there is None and same_fabric(fabric) not in map(same_fabric, facts.named):
            none = f"It needs {fabric}, and there is none of it; its cloth is called {listed(facts.named)}."
            return Settled(project.name, str(Verdict.NO), none, proof=BY_FACTS)
        if there is None:
            continue  # blocked altogether: the fit room says it better
        reason = _too_little(there, part) or _too_large(there, part)
        if reason is not None:
            return Settled(project.name, str(Verdict.NO), reason, proof=BY_FACTS)
    return None


def area_asked(project: Project) -> float:
    """mm^2 of all its panels and strips, as cut and without any join."""
    panels = sum(each.cut * Polygon(each.outline).area for each in project.panels)
    return panels + sum(each.cut * each.cut_width * each.length for each in project.strips)


def _too_little(there: Fabric, part: Project) -> str | None:
    asked = area_asked(part)
    if asked <= there.most_area * (1 + _HAIR) + 1e-3:
        return None
    return (
        f"It asks for {format_area(asked, part.unit)} of {there.fabric}, and there are {format_area(there.area, part.unit)}, "
        f"with the plus-minus no more than {format_area(there.most_area, part.unit)}."
    )


def _too_large(there: Fabric, part: Project) -> str | None:
    for name, width, length, turns in _rectangles(part):
        ways = [(width, length)] if turns[0] else []
        ways += [(length, width)] if turns[1] else []
        if any(may_have_room(there.most_room, *way) for way in ways):
            continue
        across, along = ways[0]
        longest = longest_at(there.most_room, across)
        nearest = (
            f"a clear stretch so wide is nowhere longer than {format_length(longest, part.unit)}"
            if longest
            else "no clear stretch is so wide"
        )
        size = format_size((across, along), part.unit)
        return f"{name} has no place: it needs {size}, and {nearest}."
    return None


def _rectangles(part: Project) -> Iterator[tuple[str, float, float, tuple[bool, bool]]]:
    """Rectangles that whatever is cut holds whole: name, width and length as drawn, and whether the length may lie
    along and across the grain. Nothing of what may lie otherwise."""
    for panel in part.panels:
        turns = _turns(panel)
        if panel.joins == 0 and turns is not None:
            inner = _inner(panel.outline)
            if inner is not None:
                yield panel.name, *inner, turns
    for strip in part.strips:
        turns = _turns(strip)
        length, count = least_segments(strip, part.cutting_gap)
        if count and turns is not None:
            yield strip.name, strip.cut_width, length, turns


@lru_cache(maxsize=4096)
def _inner(outline: tuple[Point, ...]) -> tuple[float, float] | None:
    """Width and length of a rectangle that a panel surely holds; asked of every garment again."""
    found = largest_rectangle(Polygon(outline), 90.0)
    return None if found is None else (found.width, found.length)


def _turns(item: Panel | Strip) -> tuple[bool, bool] | None:
    """Whether it may lie along, and across the grain; None where it may lie in yet another way."""
    if isinstance(item, Strip):
        return _QUARTERS.get(item.grain)
    if item.off_grain:
        return None
    if item.rotations is None:
        return _QUARTERS.get(item.grain)
    turns = {turn % 180 for turn in item.rotations}
    return (0.0 in turns, 90.0 in turns) if turns and turns <= {0.0, 90.0} else None


def _why(answer: Answer) -> str:
    if answer.is_yes:
        return ""
    return " ".join(answer.reasons)

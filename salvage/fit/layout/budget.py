"""How much time, or how many steps, the parts of an answer may take.

With a limit in seconds, what one part leaves over the next may use. With a limit in steps every part
gets a share that depends on nothing but that limit, so that the same seed gives the same answer
whatever else the machine is doing. All work (tables, moves, places of joins, programs for strips) is
then counted as it is done, in units of about a millisecond, and the limits in seconds are limits in those.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import shapely

from salvage.fit import clock
from salvage.fit.answer import Placement
from salvage.fit.layout.decide import Decision, decide
from salvage.fit.question import Cloth, Placed, Question
from salvage.project.project import Project

_NO_LIMIT = 1e6  # seconds; where steps are the limit
_A_SECOND = 1000.0  # units of work; on the machine where they were weighed against each other
_LEAST_WORK, _WORK_A_STEP = 10_000.0, 10.0  # for all of an answer: what ten seconds are good for, or more
_A_LOOK, _A_LOOK_A_CORNER = 1.0, 0.3  # units: one look of a proof, and for each corner of the cloth,
_CORNERS_SEEN = 120  # of which proofs look at no more
_A_QUESTION = 20.0  # units, to make ready for a search
_SHORTEST = 0.02  # seconds; a search shorter than this isn't worth starting


@dataclass(slots=True)
class Work:
    """What has been done so far, counted in units of about a millisecond that are the same on any machine."""

    done: float = 0.0


@dataclass(frozen=True, slots=True)
class Budget:
    """until: moment (of the clock) when this part must end; steps: search steps a call may make.

    work: what was done, where steps are the limit, shared by all parts; until_work: how much there may be of
    it when this part ends.

    accepts: the checker's word on a complete layout for a project; what it rejects doesn't end a search.
    effort: item moves after which a search is given up although there is time left; 0: a glance is all.
    workers: how many runs a search has side by side.
    """

    until: float
    steps: int | None = None
    seed: int = 0
    stop: Callable[[], bool] | None = None
    accepts: Callable[[Project, Sequence[Placement]], bool] | None = None
    effort: int | None = None
    workers: int = 2
    work: Work | None = None
    until_work: float = math.inf

    @classmethod
    def start(
        cls,
        seconds: float,
        *,
        steps: int | None = None,
        seed: int = 0,
        stop: Callable[[], bool] | None = None,
        accepts: Callable[[Project, Sequence[Placement]], bool] | None = None,
    ) -> Budget:
        """A budget that begins now."""
        if steps is None:
            return cls(clock.now() + seconds, None, seed, stop, accepts)
        most = max(_LEAST_WORK, _WORK_A_STEP * steps)
        return cls(clock.now() + _NO_LIMIT, steps, seed, stop, accepts, work=Work(), until_work=most)

    def left(self) -> float:
        """Seconds left; a very large number where steps are the limit."""
        return max(0.0, self.until - clock.now())

    def work_left(self) -> float:
        """Seconds' worth of work left where steps are the limit, about; without end where seconds are."""
        return math.inf if self.work is None else max(0.0, self.until_work - self.work.done) / _A_SECOND

    def spend(self, work: float) -> None:
        """Count what was done, about milliseconds. It matters only where steps are the limit."""
        if self.work is not None:
            self.work.done += work

    def over(self) -> bool:
        """True when time is up or the person has asked to stop."""
        return min(self.left(), self.work_left()) < _SHORTEST or (self.stop is not None and self.stop())

    def looks(self, cloths: Iterable[Cloth]) -> Callable[[], bool]:
        """Says whether to end; asked at each look of a proof for a place on these cloths, which counts as work."""
        corners = max((shapely.get_num_coordinates(each.polygon) for each in cloths), default=0)
        work = _A_LOOK + _A_LOOK_A_CORNER * min(corners, _CORNERS_SEEN)

        def ended() -> bool:
            self.spend(work)
            return self.over()

        return ended

    def more(self, seconds: float) -> Budget:
        """The same, but with so many seconds left at least."""
        return replace(
            self,
            until=max(self.until, clock.now() + seconds),
            until_work=math.inf
            if self.work is None
            else max(self.until_work, self.work.done + seconds * _A_SECOND),
        )

    def part(self, share: float, *, at_most: float = float("inf"), at_least: float = 0.0) -> Budget:
        """A part of what is left: a share of the seconds within limits, or the same share of the steps."""
        if self.steps is not None and self.work is not None:
            left = self.work_left()
            work = min(max(min(left * share, at_most), at_least), left) * _A_SECOND
            until_work = self.work.done + work
            return replace(self, steps=max(1, int(self.steps * share)), until_work=until_work)
        seconds = min(max(min(self.left() * share, at_most), at_least), self.left())
        return replace(self, until=clock.now() + seconds)

    def decide(self, question: Question, *, start: Sequence[Placed] = ()) -> Decision:
        """Put the bare question to the search, with all of this budget. start: an earlier layout."""
        self.spend(_A_QUESTION)
        return decide(
            question, seconds=self.left(), steps=self.steps, seed=self.seed, stop=self.stop, start=start,
            workers=self.workers, effort=self.effort if self.steps is None or self.effort == 0 else None,
            looked=self.looks(question.cloths) if self.steps is not None else None, spend=self.spend,
        )  # fmt: skip

"""How much time, or how many steps, the parts of an answer may take.

With a limit in seconds, what one part leaves over the next may use. With a limit in steps every part
gets a share that depends on nothing but that limit, so that the same seed gives the same answer
whatever else the machine is doing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from salvage.fit import clock
from salvage.fit.answer import Placement
from salvage.fit.layout.decide import Decision, decide
from salvage.fit.question import Placed, Question
from salvage.project.project import Project

_NO_LIMIT = 1e6  # seconds; where steps are the limit
_SHORTEST = 0.02  # seconds; a search shorter than this isn't worth starting


@dataclass(frozen=True, slots=True)
class Budget:
    """until: moment (of the clock) when this part must end; steps: search steps a call may make.

    accepts: the checker's word on a complete layout for a project; what it rejects doesn't end a search.
    effort: item moves after which a search is given up although there is time left.
    """

    until: float
    steps: int | None = None
    seed: int = 0
    stop: Callable[[], bool] | None = None
    accepts: Callable[[Project, Sequence[Placement]], bool] | None = None
    effort: int | None = None

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
        return cls(clock.now() + (seconds if steps is None else _NO_LIMIT), steps, seed, stop, accepts)

    def left(self) -> float:
        """Seconds left; a very large number where steps are the limit."""
        return max(0.0, self.until - clock.now())

    def over(self) -> bool:
        """True when time is up or the person has asked to stop."""
        return self.left() < _SHORTEST or (self.stop is not None and self.stop())

    def part(self, share: float, *, at_most: float = float("inf"), at_least: float = 0.0) -> Budget:
        """A part of what is left: a share of the seconds within limits, or the same share of the steps."""
        if self.steps is not None:
            return replace(self, steps=max(1, int(self.steps * share)))
        seconds = min(max(min(self.left() * share, at_most), at_least), self.left())
        return replace(self, until=clock.now() + seconds)

    def decide(self, question: Question, *, start: Sequence[Placed] = ()) -> Decision:
        """Put the bare question to the search, with all of this budget. start: an earlier layout."""
        return decide(
            question, seconds=self.left(), steps=self.steps, seed=self.seed, stop=self.stop, start=start,
            effort=self.effort if self.steps is None else None,
        )  # fmt: skip

"""Decide a fit question: a layout, a proof that there is none, or neither in the time given."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from salvage.fit.claim import Proof
from salvage.fit.kernels.calls import get_ready
from salvage.fit.proof.angles import closer
from salvage.fit.proof.place import never
from salvage.fit.proof.prove import prove, too_little_cloth
from salvage.fit.question import Placed, Question
from salvage.fit.search.cells import on_a_grid
from salvage.fit.search.exact import clear_layout
from salvage.fit.search.glance import all_have_places, glance
from salvage.fit.search.rounds import Clock, Hunt, Hunted
from salvage.project.project import Grain

# What each step of a decision gets: shares of all the time, or of the steps, and seconds.
_FIRST_LOOK = 0.15  # seconds for the search alone, before proofs are tried beside it
_NARROW_SHARE, _NARROW_MOST = 0.5, 3.0  # of the time, and seconds at most, for the narrower rule tried first
_GLANCE_SHARE, _GLANCE_LEAST = 0.4, 2.0  # of the time, and seconds if there are so many
_GRID_SHARE = 0.3  # of the time, for shapes made of equal squares
_ROOMY = 0.65  # of the cloth; projects that ask for more are seldom laid out at a glance
_NEAR_SHARE = 0.4  # of the time left, for the few angles that a proof could not rule out
_FEW_TURNS = (0.0, 90.0)
_MOST_SHAPES = 150  # different ones; with more the time is better spent on the search


@dataclass(frozen=True, slots=True)
class Decision:
    """complete: placed holds every copy of every shape. proof: why no layout exists. Neither: unsettled.

    unplaced: index of the shape of each copy that was left out. seconds: what it took. moves: item moves made by a
    run of the search; 0 where a glance was enough.
    """

    placed: tuple[Placed, ...]
    complete: bool
    unplaced: tuple[int, ...]
    proof: Proof | None
    seconds: float
    moves: int = 0


def decide(
    question: Question,
    *,
    seconds: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    workers: int = 2,
    stop: Callable[[], bool] | None = None,
    progress: Callable[[float], None] | None = None,
    start: Sequence[Placed] = (),
    effort: int | None = None,
    looked: Callable[[], bool] | None = None,
    spend: Callable[[float], None] = lambda _: None,
) -> Decision:
    """Settle the question if the time allows.

    seconds: for all of it, but not for compiling (once on a machine). steps: instead of seconds, item moves for each run of the search; then the
    same seed gives the same answer whatever the machine's load. stop: asked often, ends it early.
    progress: gets the part of the time that is gone, 0 to 1. start: an earlier layout to begin from.
    effort: item moves after which it is given up although there is time left; then no proof is looked for. 0: a
    glance is all. looked: asked at each look of a proof, where those have a limit of their own; True ends the proof.
    spend: told what tables and searches took, in about milliseconds that are the same on any machine.
    """
    limits = _Limits(seconds, steps, effort, Clock(seconds if steps is None else None, stop, progress))
    deciding = _Deciding(question, limits, seed, workers, start, looked or never, spend)
    return (
        deciding.by_area()
        or deciding.at_a_glance()
        or deciding.along_the_grain()
        or deciding.by_search_and_proof()
    )


@dataclass(frozen=True, slots=True)
class _Limits:
    """How long to work on a question: see `decide`."""

    seconds: float
    steps: int | None
    effort: int | None
    clock: Clock

    @property
    def timed(self) -> bool:
        """Whether the clock says when to end, and not a number of steps."""
        return self.steps is None

    def part(self, share: float) -> int | None:
        """That share of the steps; None where the clock says when to end."""
        return None if self.steps is None else max(1, int(share * self.steps))

    def over_after(self, seconds: float) -> Callable[[], bool]:
        """Whether all the time is gone, or so many seconds from now are, where time is what counts."""
        until = self.clock.gone() + seconds if self.timed else math.inf
        return lambda: self.clock.ended() or self.clock.gone() > until


@dataclass(slots=True)
class _Deciding:
    """One question on its way to a decision; each step gives one, or None where it is for the next step to find.

    begun: the best layout of a part that the steps so far have found.
    """

    question: Question
    limits: _Limits
    seed: int
    workers: int
    start: Sequence[Placed]
    looked: Callable[[], bool]
    spend: Callable[[float], None]
    begun: Sequence[Placed] = ()

    def by_area(self) -> Decision | None:
        """A no where more cloth of a fabric is asked for than there is."""
        for fabric in dict.fromkeys(shape.fabric for shape in self.question.shapes):
            proof = too_little_cloth(self.question, fabric)
            if proof is not None:
                return self._decision((), proof=proof)
        return None

    def at_a_glance(self) -> Decision | None:
        """A layout that is found with nothing compiled, where the cloth is roomy; or all there is to be, without effort."""
        limits = self.limits
        if limits.effort == 0 or (not self.start and _is_roomy(self.question)):
            over = limits.over_after(max(_GLANCE_SHARE * limits.seconds, _GLANCE_LEAST))
            seen = glance(narrower(self.question) or self.question, over)
            self.begun = clear_layout(self.question, seen)
            whole = len(self.begun) == sum(shape.count for shape in self.question.shapes)
            if whole or limits.effort == 0 or limits.clock.ended():
                return self._decision(self.begun, complete=whole)
        if limits.effort is not None and not all_have_places(self.question):
            return self._decision(self.begun)
        return None

    def along_the_grain(self) -> Decision | None:
        """A layout with every shape along or across the grain, which is found sooner, if the question leaves more open."""
        get_ready()
        narrow = narrower(self.question)
        if narrow is None:
            return None
        limits = self.limits
        over = limits.over_after(min(_NARROW_MOST, _NARROW_SHARE * limits.seconds))
        found = self._hunted(
            narrow, limits.part(_NARROW_SHARE), self.workers, over, self.start, limits.effort
        )
        if found.complete or limits.clock.ended():
            return self._decision(found.placed, complete=found.complete, moves=found.steps)
        self._keep(found.placed)
        return None

    def by_search_and_proof(self) -> Decision:
        """What the whole search finds, proofs tried beside it."""
        hunt = Hunt(
            self.question, seed=self.seed, workers=self.workers, steps=self.limits.steps, start=self.start,
            most=self.limits.effort,
        )  # fmt: skip
        self.spend(hunt.to_make_ready)
        with hunt:
            otherwise = self._on_a_grid(hunt) or self._by_proof(hunt)
            if otherwise is not None:
                hunt.give_up()
                return otherwise
            hunt.work(self.limits.clock.ended)
        self.spend(hunt.to_search)
        found = hunt.found()
        if not found.complete:
            self._keep(found.placed)
        placed = found.placed if found.complete else self.begun
        return self._decision(placed, complete=found.complete, moves=found.steps)

    def _on_a_grid(self, hunt: Hunt) -> Decision | None:
        """A layout of shapes made of equal squares, after a first look by the search."""
        limits = self.limits
        if limits.timed and not limits.clock.ended():
            hunt.work(limits.over_after(_FIRST_LOOK), for_now=True)
        if self._has_found(hunt):
            return None
        squares = on_a_grid(self.question, seconds=_GRID_SHARE * limits.seconds if limits.timed else None)
        if squares is None or len(clear_layout(self.question, squares)) != len(squares):
            return None
        return self._decision(squares, complete=True)

    def _by_proof(self, hunt: Hunt) -> Decision | None:
        """A proof that there is no layout; or a layout at the few angles that the proof could not rule out."""
        limits, clock = self.limits, self.limits.clock
        if limits.effort is not None or len(self.question.shapes) > _MOST_SHAPES or self._has_found(hunt):
            return None
        doubtful: list[int] = []
        proof = prove(
            self.question,
            stop=lambda: clock.ended() or self.looked() or self._has_found(hunt),
            ready=hunt.ready,
            doubtful=doubtful,
        )
        if proof is not None:
            hunt.give_up()
            self._keep(hunt.found().placed)
            return self._decision(self.begun, proof=proof)
        near_over = limits.over_after(_NEAR_SHARE * (limits.seconds - clock.gone()))

        def over() -> bool:
            return near_over() or self._has_found(hunt)

        near = closer(self.question, doubtful, lambda: over() or self.looked()) if doubtful else None
        if near is None:
            return None
        found = self._hunted(near, limits.part(_NEAR_SHARE), 1, over)
        if found.complete:
            return self._decision(found.placed, complete=True, moves=found.steps)
        self._keep(found.placed)
        return None

    def _has_found(self, hunt: Hunt) -> bool:
        """Whether the search has a layout already. With a limit in steps it goes on to its end, whatever the load."""
        return self.limits.timed and hunt.solved

    def _hunted(
        self,
        question: Question,
        steps: int | None,
        workers: int,
        over: Callable[[], bool],
        start: Sequence[Placed] = (),
        most: int | None = None,
    ) -> Hunted:
        """What a search of a stricter question finds."""
        hunt = Hunt(question, seed=self.seed, workers=workers, steps=steps, start=start, most=most)
        self.spend(hunt.to_make_ready)
        with hunt:
            hunt.work(over)
        self.spend(hunt.to_search)
        return hunt.found()

    def _keep(self, placed: Sequence[Placed]) -> None:
        """Keep this layout of a part if it holds more area than the one before."""
        area = [Polygon(shape.outline).area for shape in self.question.shapes]
        self.begun = max(placed, self.begun, key=lambda some: sum(area[each.shape] for each in some))

    def _decision(
        self, placed: Sequence[Placed], *, complete: bool = False, proof: Proof | None = None, moves: int = 0
    ) -> Decision:
        there = Counter(each.shape for each in placed)
        left_out = (
            ()
            if complete
            else tuple(
                s for s, shape in enumerate(self.question.shapes) for _ in range(shape.count - there[s])
            )
        )
        return Decision(tuple(placed), complete, left_out, proof, self.limits.clock.gone(), moves)


def narrower(question: Question) -> Question | None:
    """The same with every shape along or across the grain only; None if it is so already.

    What it has a layout for the question has one for, and a layout is found much sooner: each way that a
    shape may lie makes more of them to try.
    """
    shapes = tuple(
        replace(
            shape,
            turns=_FEW_TURNS if shape.grain is Grain.ANY and shape.turns is None else shape.turns,
            off_grain=0.0,
        )
        for shape in question.shapes
    )
    return None if shapes == question.shapes else replace(question, shapes=shapes)


def _is_roomy(question: Question) -> bool:
    """Whether a glance is worth its while: no fabric has much of its cloth asked for."""
    asked: dict[str, float] = {}
    for shape in question.shapes:
        asked[shape.fabric] = asked.get(shape.fabric, 0.0) + shape.count * Polygon(shape.outline).area
    there: dict[str, float] = {}
    for cloth in question.cloths:
        there[cloth.fabric] = there.get(cloth.fabric, 0.0) + cloth.polygon.area
    return all(area <= _ROOMY * there.get(fabric, 0.0) for fabric, area in asked.items())

"""Decide a fit question: a layout, a proof that there is none, or neither in the time given."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

from salvage.fit.claim import Proof
from salvage.fit.proof.prove import prove, too_little_cloth
from salvage.fit.question import Cloth, Placed, Question, Shape
from salvage.fit.search.rounds import Clock, Hunt, search

_FIRST_LOOK = 0.15  # seconds for the search alone, before proofs are tried beside it
_MOST_SHAPES = 150  # different ones; with more the time is better spent on the search
_is_ready = False


@dataclass(frozen=True, slots=True)
class Decision:
    """complete: placed holds every copy of every shape. proof: why no layout exists. Neither: unsettled.

    unplaced: index of the shape of each copy that was left out. seconds: what it took.
    """

    placed: tuple[Placed, ...]
    complete: bool
    unplaced: tuple[int, ...]
    proof: Proof | None
    seconds: float


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
) -> Decision:
    """Settle the question if the time allows.

    seconds: for all of it, but not for compiling (once on a machine). steps: instead of seconds, item moves for each run of the search; then the
    same seed gives the same answer whatever the machine's load. stop: asked often, ends it early.
    progress: gets the part of the time that is gone, 0 to 1. start: an earlier layout to begin from.
    """
    get_ready()
    clock = Clock(seconds if steps is None else None, stop, progress)
    for fabric in dict.fromkeys(shape.fabric for shape in question.shapes):
        proof = too_little_cloth(question, fabric)
        if proof is not None:
            return _no(question, proof, clock)
    hunt = Hunt(question, seed=seed, workers=workers, steps=steps, start=start)
    with hunt:
        if steps is None:
            first = clock.gone() + _FIRST_LOOK
            hunt.work(lambda: clock.ended() or clock.gone() > first, for_now=True)
        if len(question.shapes) <= _MOST_SHAPES and (steps is not None or not hunt.solved):
            proof = prove(
                question, stop=lambda: clock.ended() or (steps is None and hunt.solved), ready=hunt.ready
            )
            if proof is not None:
                hunt.give_up()
                return _no(question, proof, clock)
        hunt.work(clock.ended)
    found = hunt.found()
    return Decision(found.placed, found.complete, _left_out(question, found.placed), None, clock.gone())


def get_ready() -> None:
    """Compile what isn't compiled (once on a machine, tens of seconds) and load it (once a process)."""
    global _is_ready
    if _is_ready:
        return
    cloth = Cloth("cloth", Polygon([(0, 0), (90, 0), (90, 90), (45, 80), (0, 90)]))
    outline = ((0.0, 0.0), (50.0, 0.0), (50.0, 50.0), (0.0, 50.0))
    search(Question((cloth,), (Shape("square", outline, count=3),), 1.0), steps=60, workers=2)
    _is_ready = True


def _no(question: Question, proof: Proof, clock: Clock) -> Decision:
    return Decision((), False, _left_out(question, ()), proof, clock.gone())


def _left_out(question: Question, placed: Sequence[Placed]) -> tuple[int, ...]:
    there = Counter(p.shape for p in placed)
    return tuple(s for s, shape in enumerate(question.shapes) for _ in range(shape.count - there[s]))

"""Decide a fit question: a layout, a proof that there is none, or neither in the time given."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from salvage.fit.answer import Proof
from salvage.fit.prove import prove
from salvage.fit.question import Placed, Question
from salvage.fit.search import search


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

    seconds: for all of it. steps: instead of seconds, item moves for each run of the search; then the
    same seed gives the same answer whatever the machine's load. stop: asked often, ends it early.
    progress: gets the part of the time that is gone, 0 to 1. start: an earlier layout to begin from.
    """
    begun = time.monotonic()
    proof = prove(question, seconds=None if steps is not None else seconds / 2)
    if proof is not None:
        return Decision((), False, _left_out(question, ()), proof, time.monotonic() - begun)
    found = search(
        question, seconds=max(0.05, seconds - (time.monotonic() - begun)), steps=steps, seed=seed,
        workers=workers, stop=stop, progress=progress, start=start,
    )  # fmt: skip
    return Decision(
        found.placed, found.complete, _left_out(question, found.placed), None, time.monotonic() - begun
    )


def _left_out(question: Question, placed: Sequence[Placed]) -> tuple[int, ...]:
    there = Counter(p.shape for p in placed)
    return tuple(s for s, shape in enumerate(question.shapes) for _ in range(shape.count - there[s]))

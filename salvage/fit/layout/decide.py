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
from salvage.fit.search.rounds import Clock, Hunt
from salvage.project.project import Grain

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
    clock = Clock(seconds if steps is None else None, stop, progress)
    enough_looked = looked or never
    for fabric in dict.fromkeys(shape.fabric for shape in question.shapes):
        proof = too_little_cloth(question, fabric)
        if proof is not None:
            return _no(question, proof, clock)
    narrow = narrower(question)
    begun: Sequence[Placed] = ()
    if effort == 0 or (not start and _is_roomy(question)):
        for_glance = max(_GLANCE_SHARE * seconds, _GLANCE_LEAST) if steps is None else math.inf
        begun = clear_layout(
            question, glance(narrow or question, lambda: clock.ended() or clock.gone() > for_glance)
        )
        whole = len(begun) == sum(shape.count for shape in question.shapes)
        if whole or effort == 0 or clock.ended():
            return Decision(tuple(begun), whole, _left_out(question, begun), None, clock.gone())
    if effort is not None and not all_have_places(question):
        return Decision(tuple(begun), False, _left_out(question, begun), None, clock.gone())
    get_ready()
    if narrow is not None:
        for_it = clock.gone() + min(_NARROW_MOST, _NARROW_SHARE * seconds)
        few = None if steps is None else max(1, int(_NARROW_SHARE * steps))
        quick = Hunt(narrow, seed=seed, workers=workers, steps=few, start=start, most=effort)
        spend(quick.to_make_ready)
        with quick:
            quick.work(lambda: clock.ended() or (steps is None and clock.gone() > for_it))
        spend(quick.to_search)
        found = quick.found()
        if found.complete or clock.ended():
            left_out = _left_out(question, found.placed)
            return Decision(found.placed, found.complete, left_out, None, clock.gone(), found.steps)
        begun = _more(question, found.placed, begun)
    hunt = Hunt(question, seed=seed, workers=workers, steps=steps, start=start, most=effort)
    spend(hunt.to_make_ready)
    with hunt:
        if steps is None and not clock.ended():
            first = clock.gone() + _FIRST_LOOK
            hunt.work(lambda: clock.ended() or clock.gone() > first, for_now=True)
        if steps is not None or not hunt.solved:
            squares = on_a_grid(question, seconds=None if steps is not None else _GRID_SHARE * seconds)
            if squares is not None and len(clear_layout(question, squares)) == len(squares):
                hunt.give_up()
                return Decision(tuple(squares), True, (), None, clock.gone())
        if effort is None and len(question.shapes) <= _MOST_SHAPES and (steps is not None or not hunt.solved):
            doubtful: list[int] = []
            proof = prove(
                question,
                stop=lambda: clock.ended() or enough_looked() or (steps is None and hunt.solved),
                ready=hunt.ready,
                doubtful=doubtful,
            )
            if proof is not None:
                hunt.give_up()
                placed = _more(question, hunt.found().placed, begun)
                return Decision(placed, False, _left_out(question, placed), proof, clock.gone())
            for_it = clock.gone() + _NEAR_SHARE * (seconds - clock.gone())

            def enough() -> bool:
                return clock.ended() or (steps is None and (hunt.solved or clock.gone() > for_it))

            near = closer(question, doubtful, lambda: enough() or enough_looked()) if doubtful else None
            if near is not None:
                few = None if steps is None else max(1, int(_NEAR_SHARE * steps))
                close = Hunt(near, seed=seed, workers=1, steps=few)
                spend(close.to_make_ready)
                with close:
                    close.work(enough)
                spend(close.to_search)
                found = close.found()
                if found.complete:
                    hunt.give_up()
                    return Decision(found.placed, True, (), None, clock.gone(), found.steps)
                begun = _more(question, found.placed, begun)
        hunt.work(clock.ended)
    spend(hunt.to_search)
    found = hunt.found()
    placed = found.placed if found.complete else _more(question, found.placed, begun)
    return Decision(placed, found.complete, _left_out(question, placed), None, clock.gone(), found.steps)


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


def _more(question: Question, one: Sequence[Placed], other: Sequence[Placed]) -> tuple[Placed, ...]:
    """Of two layouts, each of a part, the one that holds more area."""
    area = [Polygon(shape.outline).area for shape in question.shapes]
    return tuple(max(one, other, key=lambda placed: sum(area[each.shape] for each in placed)))


def _no(question: Question, proof: Proof, clock: Clock) -> Decision:
    return Decision((), False, _left_out(question, ()), proof, clock.gone())


def _left_out(question: Question, placed: Sequence[Placed]) -> tuple[int, ...]:
    there = Counter(p.shape for p in placed)
    return tuple(s for s, shape in enumerate(question.shapes) for _ in range(shape.count - there[s]))

"""Search for a layout: several runs of the compiled search, kept going until one lays everything."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from salvage.fit import clock
from salvage.fit.geometry.tables import make_tables
from salvage.fit.geometry.task import make_tasks
from salvage.fit.question import Placed, Question
from salvage.fit.search.exact import clear_layout
from salvage.fit.search.run import Run

_TURN = 0.03  # seconds a run works between looks at the clock
# About milliseconds: a corner of the tables; a move, and for each item beside it and each part of each way to lie.
_A_CORNER, _A_MOVE, _A_PART = 1e-4, 0.1, 6e-4


@dataclass(frozen=True, slots=True)
class Hunted:
    """placed: all copies if complete, else as much area as was laid. steps: item moves made."""

    placed: tuple[Placed, ...]
    complete: bool
    steps: int


class Clock:
    """Says when it is time to end, and tells how far the time is gone."""

    def __init__(
        self,
        seconds: float | None,
        stop: Callable[[], bool] | None,
        progress: Callable[[float], None] | None,
    ) -> None:
        self.seconds, self.stop, self.progress = seconds, stop, progress
        self.begun = clock.now()
        self.stopped = False

    def gone(self) -> float:
        return clock.now() - self.begun

    def ended(self) -> bool:
        self.stopped = self.stopped or (self.stop is not None and self.stop())
        if self.seconds is None:
            return self.stopped
        if self.progress is not None:
            self.progress(min(1.0, self.gone() / self.seconds))
        return self.stopped or self.gone() >= self.seconds


class Hunt:
    """The runs on all fabrics, one for each worker; used as a context, which ends the helper threads.

    The compiled search lets go of the interpreter, so threads do use several cores.
    """

    def __init__(
        self,
        question: Question,
        *,
        seed: int,
        workers: int,
        steps: int | None = None,
        start: Sequence[Placed] = (),
        most: int | None = None,
    ) -> None:
        """most: item moves after which a run gives up although there is time left."""
        self.question, self.steps, self.most = question, steps, most
        self.ready = [(task, make_tables(task)) for task in make_tasks(question)]
        self.runs = [
            [Run(task, tables, w, (seed, n, w), start if w == 0 else ()) for w in range(max(1, workers))]
            for n, (task, tables) in enumerate(self.ready)
        ]
        self._over = threading.Event()
        self._helpers = [
            threading.Thread(target=self._work, args=(w, self._over.is_set), daemon=True)
            for w in range(1, max(1, workers))
        ]

    def __enter__(self) -> Hunt:
        for helper in self._helpers:
            helper.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self.steps is None and self.most is None:
            self._over.set()
        for helper in self._helpers:
            helper.join()

    @property
    def to_make_ready(self) -> float:
        """What the tables took, in units that are about milliseconds and the same on any machine."""
        return sum(_A_CORNER * task.size for task, _ in self.ready)

    @property
    def to_search(self) -> float:
        """What a search took that is over, in the same units; told from the limit in steps, which the load can't change."""
        total = 0.0
        for (task, _), runs in zip(self.ready, self.runs, strict=True):
            moves = min([self.steps or 0, *(run.steps for run in runs if run.solved is not None)])
            parts = sum(len(each.parts) for each in task.orientations)
            total += len(runs) * moves * (_A_MOVE + _A_PART * len(task.kind_of) * parts)
        return total

    def give_up(self) -> None:
        """End the helper threads at their next look, with a limit in steps too."""
        self._over.set()

    @property
    def solved(self) -> bool:
        return all(any(r.solved is not None and r.all_possible for r in runs) for runs in self.runs)

    def work(self, ended: Callable[[], bool], *, for_now: bool = False) -> None:
        """Take part in the search in this thread. for_now: when it ends here, the helpers go on."""
        try:
            self._work(0, ended)
        except BaseException:
            self._over.set()
            raise
        if ended() and not for_now:
            self._over.set()

    def _work(self, worker: int, ended: Callable[[], bool]) -> None:
        """Give every open fabric a turn, until none is open."""
        moves = {id(runs): 1 for runs in self.runs}
        busy = True
        while busy:
            busy = False
            for runs in self.runs:
                if ended():
                    return
                run = runs[worker]
                left = self._moves_left(run, runs)
                if left <= 0:
                    continue
                busy = True
                begun = time.thread_time()  # not the wall: waiting for the interpreter isn't work
                chunk = min(left, moves[id(runs)])
                run.advance(chunk)
                took = time.thread_time() - begun
                # as many moves next time as should take one turn
                moves[id(runs)] = max(1, min(2 * chunk, int(chunk * _TURN / max(took, 1e-6))))

    def _moves_left(self, run: Run, runs: Sequence[Run]) -> int:
        """How many more moves the run may make. A fabric that one run has solved is closed for all; with a
        limit in steps only for runs that have made as many, so that the load can't change the answer."""
        if run.solved is not None:
            return 0
        least = [r.steps for r in runs if r.solved is not None]
        if self.steps is None:
            return 0 if least else (1 << 30 if self.most is None else self.most) - run.steps
        return min([self.steps, *least]) - run.steps

    def found(self) -> Hunted:
        """The best of what the runs hold."""
        placed: list[Placed] = []
        complete = True
        for runs in self.runs:
            solved = [run for run in runs if run.solved is not None]
            best = min(solved, key=lambda r: r.steps) if solved else max(runs, key=lambda r: r.partial_area())
            complete = complete and best.solved is not None and best.all_possible
            placed += best.placed()
        steps = max((run.steps for runs in self.runs for run in runs), default=0)
        clear = clear_layout(self.question, placed)
        return Hunted(tuple(clear), complete and len(clear) == len(placed), steps)

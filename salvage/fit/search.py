"""Search for a layout: several runs of the compiled search, kept going until one lays everything."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from salvage.fit.question import Placed, Question
from salvage.fit.search_exact import clear_layout
from salvage.fit.search_kernels import new_state, put
from salvage.fit.search_moves import lay_anywhere, move, separate
from salvage.fit.search_tables import Tables, make_tables
from salvage.fit.search_task import Task, make_tasks

_TURN = 0.03  # seconds a run works between looks at the clock
_PATIENCE = 60  # passes without progress until the layout is shaken
_SAMPLES = 48
_NEAR_SAMPLES = 16
_REACH = 60.0  # mm, how far from its place an item looks in its near samples


@dataclass(frozen=True, slots=True)
class Found:
    """placed: all copies if complete, else as much area as was laid. steps: item moves made."""

    placed: tuple[Placed, ...]
    complete: bool
    steps: int


class Run:
    """One run of the search on one task. Its path depends on the task, the seed and the start only."""

    def __init__(self, task: Task, tables: Tables, seed: int, start: Sequence[Placed] = ()) -> None:
        self.task, self.tables = task, tables
        self.rng = np.random.default_rng(seed)
        of_kind = tables.allow_first.reshape(-1)[:: max(1, tables.n_gr)]
        laid_somewhere = (
            np.diff(of_kind[: len(task.kinds) + 1]) > 0 if tables.n_gr else np.zeros(len(task.kinds), bool)
        )
        kind = np.asarray(task.kind_of, dtype=np.int64)
        self.all_possible = bool(laid_somewhere[kind].all())
        kind = kind[laid_somewhere[kind]]
        areas = np.array([k.area for k in task.kinds])
        self.state = new_state(kind, areas[kind], int(self.rng.integers(1, 2**63)))
        self.steps = 0
        self.shakes = 0
        self.solved: tuple[Placed, ...] | None = None
        self.partial: tuple[float, tuple[Placed, ...]] = (0.0, ())
        if start:
            self._take(start)
        self._queue()

    def _queue(self) -> None:
        """What is still to be laid: the largest first, more or less."""
        area = self.state.area
        order = np.argsort(-area * (1 + 0.3 * self.rng.random(len(area))), kind="stable")
        self.queue = [int(i) for i in order if self.state.ground[i] < 0]
        self.squeezed: list[int] = []  # found no clear place
        angle = self.rng.integers(4) * np.pi / 2 + 0.3
        self.corner = np.array(
            [np.cos(angle), np.sin(angle), -np.sign(np.cos(angle)), -np.sign(np.sin(angle))]
        )

    def _take(self, start: Sequence[Placed]) -> None:
        """Begin from an earlier layout; what does not match the task is left out."""
        s, free = self.state, list(range(len(self.state.x)))
        index = {ground.cloth: g for g, ground in enumerate(self.task.grounds)}
        for placed in start:
            g = index.get(placed.cloth)
            if g is None:
                continue
            for i in free:
                kind = self.task.kinds[s.kind[i]]
                turn = placed.angle - self.task.grains[g] + 90.0
                match = [
                    o for o in kind.orientations[g]
                    if kind.shape == placed.shape
                    and self.task.orientations[o].flipped == placed.flipped
                    and abs((self.task.orientations[o].turn - turn + 180) % 360 - 180) < 1e-6
                ]  # fmt: skip
                if match:
                    x, y = self.task.position(g, match[0], placed)
                    put(self.tables, s, i, g, match[0], x, y)
                    free.remove(i)
                    break

    def advance(self, moves: int) -> None:
        """Make so many item moves, fewer if everything is laid before."""
        while self.solved is None and moves > 0:
            if self.queue or self.squeezed:
                self._lay_next()
                made = 1
            else:
                total, made, stuck = separate(
                    self.tables, self.state, moves, _PATIENCE, _SAMPLES, _NEAR_SAMPLES, _REACH
                )
                if total <= 0.0:
                    self.solved = self._placed(range(len(self.state.x)))
                elif stuck:
                    self._shake()
                made = max(made, 1)
            moves -= made
            self.steps += made

    def _lay_next(self) -> None:
        """Lay one item clear of the others; those that find no place are put in last, where they overlap least."""
        if self.queue:
            i = self.queue.pop(0)
            if not lay_anywhere(self.tables, self.state, i, self.corner):
                self.squeezed.append(i)
            if not self.queue:
                self._keep_partial()
        else:
            i = self.squeezed.pop(0)
            move(self.tables, self.state, i, 4 * _SAMPLES, 0, _REACH, np.zeros((24, 3)))

    def _shake(self) -> None:
        """Patience ran out: swap two large items of the layout in hand, and forget the weights."""
        s = self.state
        self.shakes += 1
        self._keep_partial()
        large = np.argsort(-s.area)[: max(2, len(s.area) // 2)]
        for _ in range(1 + self.shakes % 3):
            a, b = (int(v) for v in self.rng.choice(large, 2, replace=False)) if len(large) > 1 else (0, 0)
            self._swap(a, b)
        s.weight[:] = 1.0
        s.edge_weight[:] = 1.0
        s.best[:] = np.inf, 0.0
        s.cursor[:] = len(s.x)

    def _swap(self, a: int, b: int) -> None:
        s = self.state
        at = [(int(s.ground[i]), float(s.x[i]), float(s.y[i])) for i in (a, b)]
        for i, (g, x, y) in zip((b, a), at, strict=True):
            k, n = int(s.kind[i]), self.tables.n_gr
            allowed = self.tables.allow[
                self.tables.allow_first[k * n + g] : self.tables.allow_first[k * n + g + 1]
            ]
            if g >= 0 and len(allowed):
                put(self.tables, s, i, g, int(self.rng.choice(allowed)), x, y)

    def _placed(self, items: Iterable[int]) -> tuple[Placed, ...]:
        s = self.state
        return tuple(
            self.task.placed(int(s.ground[i]), int(s.orientation[i]), float(s.x[i]), float(s.y[i]))
            for i in items
        )

    def _keep_partial(self) -> None:
        """Remember the clear part of this layout if it holds more area than any before."""
        s = self.state
        left = [i for i in range(len(s.x)) if s.ground[i] >= 0 and s.outside[i] <= 0]
        left.sort(key=lambda i: -s.area[i])
        good: list[int] = []
        for i in left:
            if not (s.overlap[i, good] > 0).any():
                good.append(i)
        area = float(s.area[good].sum())
        if area > self.partial[0]:
            self.partial = (area, self._placed(good))

    def found(self) -> Found:
        if self.solved is not None:
            return Found(self.solved, self.all_possible, self.steps)
        self._keep_partial()
        return Found(self.partial[1], False, self.steps)


def search(
    question: Question,
    *,
    seconds: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    workers: int = 2,
    stop: Callable[[], bool] | None = None,
    progress: Callable[[float], None] | None = None,
    start: Sequence[Placed] = (),
) -> Found:
    """Look for places for all shapes until they are found, the time or the steps are up, or stop() is true.

    steps: item moves allowed to each run on each fabric; with it the answer depends on the seed alone,
    not on the machine's load, and seconds count for nothing.
    start: an earlier layout to begin from.
    """
    hunt = Hunt(question, seed=seed, workers=workers, steps=steps, start=start)
    clock = Clock(seconds if steps is None else None, stop, progress)
    with hunt:
        hunt.work(clock.ended)
    return hunt.found()


class Clock:
    """Says when it is time to end, and tells how far the time is gone."""

    def __init__(
        self,
        seconds: float | None,
        stop: Callable[[], bool] | None,
        progress: Callable[[float], None] | None,
    ) -> None:
        self.seconds, self.stop, self.progress = seconds, stop, progress
        self.begun = time.monotonic()
        self.stopped = False

    def gone(self) -> float:
        return time.monotonic() - self.begun

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
    ) -> None:
        self.question, self.steps = question, steps
        self.ready = [(task, make_tables(task)) for task in make_tasks(question)]
        self.runs = [
            [
                Run(task, tables, 1000 * seed + 7 * n + w, start if w == 0 else ())
                for w in range(max(1, workers))
            ]
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
        if self.steps is None:
            self._over.set()
        for helper in self._helpers:
            helper.join()

    def give_up(self) -> None:
        """End the helper threads at their next look, with a limit in steps too."""
        self._over.set()

    @property
    def solved(self) -> bool:
        return all(any(r.solved is not None and r.all_possible for r in runs) for runs in self.runs)

    def work(self, ended: Callable[[], bool]) -> None:
        """Take part in the search in this thread."""
        try:
            self._work(0, ended)
        except BaseException:
            self._over.set()
            raise
        if ended():
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
            return 0 if least else 1 << 30
        return min([self.steps, *least]) - run.steps

    def found(self) -> Found:
        """The best of what the runs hold."""
        placed: list[Placed] = []
        complete = True
        steps = 0
        for runs in self.runs:
            found = [run.found() for run in runs]
            solved = [f for f, run in zip(found, runs, strict=True) if run.solved is not None]
            if solved:
                best = min(solved, key=lambda f: f.steps)
            else:
                best = found[int(np.argmax([run.partial[0] for run in runs]))]
            complete = complete and best.complete
            placed += best.placed
            steps += max(f.steps for f in found)
        clear = clear_layout(self.question, placed)
        return Found(tuple(clear), complete and len(clear) == len(placed), steps)

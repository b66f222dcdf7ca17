"""Search for a layout: several runs of the compiled search, kept going until one lays everything."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from salvage.fit.question import Placed, Question
from salvage.fit.search_exact import clear_layout
from salvage.fit.search_kernels import new_state, put
from salvage.fit.search_moves import lay_all, move, separate
from salvage.fit.search_tables import Tables, make_tables
from salvage.fit.search_task import Task, make_tasks

_CHUNK = 200  # item moves between looks at the clock
_PATIENCE = 60  # passes without progress until the layout is shaken
_SAMPLES = 48
_NEAR_SAMPLES = 16


@dataclass(frozen=True, slots=True)
class Found:
    """placed: all copies if complete, else as much area as was laid. steps: item moves made."""

    placed: tuple[Placed, ...]
    complete: bool
    steps: int


class Run:
    """One run of the search on one task. Deterministic: depends on the task, the seed and the steps only."""

    def __init__(self, task: Task, tables: Tables, seed: int, start: Sequence[Placed] = ()) -> None:
        self.task, self.tables = task, tables
        self.rng = np.random.default_rng(seed)
        n = len(task.kind_of)
        kind = np.asarray(task.kind_of, dtype=np.int64)
        areas = np.array([k.area for k in task.kinds])
        self.state = new_state(kind, areas[kind] if n else np.zeros(0), int(self.rng.integers(1, 2**63)))
        self.best = np.array([np.inf, 0.0])
        self.kept: tuple = self._copy()
        self.steps = 0
        self.attempts = 0
        self.shakes = 0
        self.solved: tuple[Placed, ...] | None = None
        self.partial: tuple[float, tuple[Placed, ...]] = (0.0, ())
        if start:
            self._take(start)

    def _copy(self) -> tuple:
        s = self.state
        return tuple(v.copy() for v in (s.x, s.y, s.orientation, s.ground))

    def _restore(self, kept: tuple) -> None:
        s = self.state
        for i in range(len(s.x)):
            put(self.tables, s, i, -1, 0, 0.0, 0.0)
        for i, (x, y, o, g) in enumerate(zip(*kept, strict=True)):
            put(self.tables, s, i, int(g), int(o), float(x), float(y))

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

    def advance(self, moves: int) -> bool:
        """Make at least so many item moves; True once everything is laid."""
        if self.solved is not None:
            return True
        if not self.attempts:
            self._begin()
        total, made, stuck = separate(
            self.tables, self.state, self.best, moves, _PATIENCE, _SAMPLES, _NEAR_SAMPLES, 60.0
        )
        self.steps += max(made, 1)
        if total <= 0.0:
            self.solved = self._placed()
        elif stuck:
            self._shake()
        return self.solved is not None

    def _begin(self) -> None:
        """Lay the largest first, into a corner; what finds no place is put where it overlaps least."""
        self.attempts += 1
        s = self.state
        order = np.argsort(-s.area * (1 + 0.3 * self.rng.random(len(s.area))), kind="stable")
        angle = self.rng.integers(4) * np.pi / 2 + 0.3
        corner = np.array([np.cos(angle), np.sin(angle), -1.0, -1.0])
        lay_all(self.tables, s, order.astype(np.int64), corner)
        self._keep_partial()
        lines = np.zeros((24, 3))
        for i in order:
            if s.ground[i] < 0:
                move(self.tables, s, int(i), 4 * _SAMPLES, 0, 60.0, lines)
        self.steps += len(order)

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
        self.best[:] = np.inf, 0.0

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

    def _placed(self, items: Sequence[int] | None = None) -> tuple[Placed, ...]:
        s = self.state
        chosen = range(len(s.x)) if items is None else items
        return tuple(
            self.task.placed(int(s.ground[i]), int(s.orientation[i]), float(s.x[i]), float(s.y[i]))
            for i in chosen
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
            return Found(self.solved, True, self.steps)
        if self.attempts:
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
    hunt = Hunt(question, seed=seed, workers=workers, start=start)
    return hunt.go(seconds=seconds, steps=steps, stop=stop, progress=progress)


class Hunt:
    """The runs of all fabrics, shared by worker threads (the compiled search lets go of the interpreter)."""

    def __init__(self, question: Question, *, seed: int, workers: int, start: Sequence[Placed]) -> None:
        self.question = question
        self.workers = max(1, workers)
        tasks = make_tasks(question)
        self.runs = [
            [Run(task, tables, 1000 * seed + 7 * n + w, start if w == 0 else ()) for w in range(self.workers)]
            for n, (task, tables) in enumerate((task, make_tables(task)) for task in tasks)
        ]
        self.over = threading.Event()

    def go(
        self,
        *,
        seconds: float,
        steps: int | None,
        stop: Callable[[], bool] | None,
        progress: Callable[[float], None] | None,
    ) -> Found:
        begun = time.monotonic()

        def ended() -> bool:
            if self.over.is_set() or (stop is not None and stop()):
                self.over.set()
                return True
            gone = time.monotonic() - begun
            if progress is not None and steps is None:
                progress(min(1.0, gone / seconds))
            return steps is None and gone >= seconds

        helpers = [
            threading.Thread(target=self._work, args=(w, steps, self._helper_ended(begun, seconds, steps)))
            for w in range(1, self.workers)
        ]
        for helper in helpers:
            helper.start()
        try:
            self._work(0, steps, ended)
        finally:
            if steps is None:
                self.over.set()
            for helper in helpers:
                helper.join()
        return self._gather()

    def _helper_ended(self, begun: float, seconds: float, steps: int | None) -> Callable[[], bool]:
        def ended() -> bool:
            return self.over.is_set() or (steps is None and time.monotonic() - begun >= seconds)

        return ended

    def _work(self, worker: int, steps: int | None, ended: Callable[[], bool]) -> None:
        """Give every open fabric a turn, until all are solved. A fabric solved by any run is closed for all;
        with a limit in steps only once no other run could still solve it in fewer."""
        while not ended():
            busy = False
            for runs in self.runs:
                run = runs[worker]
                if run.solved is not None or (steps is not None and run.steps >= steps):
                    continue
                others = [r.steps for r in runs if r.solved is not None]
                if others and (steps is None or run.steps > min(others)):
                    continue
                busy = True
                run.advance(_CHUNK)
                if ended():
                    break
            if not busy:
                return

    def _gather(self) -> Found:
        placed: list[Placed] = []
        complete = True
        steps = 0
        for runs in self.runs:
            found = [run.found() for run in runs]
            solved = [f for f in found if f.complete]
            if solved:
                best = min(solved, key=lambda f: f.steps)
            else:
                areas = [run.partial[0] for run in runs]
                best = found[int(np.argmax(areas))]
                complete = False
            placed += best.placed
            steps += max(f.steps for f in found)
        clear = clear_layout(self.question, placed)
        return Found(tuple(clear), complete and len(clear) == len(placed), steps)

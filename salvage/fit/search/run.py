"""One run of the search on one fabric: laying into a corner, moving until clear, fitting edge to edge."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from salvage.fit.geometry.state import State, new_state
from salvage.fit.geometry.tables import Tables
from salvage.fit.geometry.task import Task
from salvage.fit.kernels.calls import lay_anywhere, move, put, separate
from salvage.fit.question import Placed
from salvage.fit.search.fitting import Fitting

_PATIENCE = 30, 15  # passes without progress until something else is tried, of even and odd workers
_SAMPLES = 48  # places looked at in one move of an item, all over the cloth
_NEAR_SAMPLES = 16  # and near where it is
_REACH = 60.0  # mm, how near
_FITTING_ROUNDS = 100, 150  # in a row, likewise


class Run:
    """Its path depends on the task, the seed and the start only, not on how often it is asked to go on.

    worker: runs with an odd one begin with fitting.
    """

    def __init__(
        self, task: Task, tables: Tables, worker: int, seed: Sequence[int], start: Sequence[Placed] = ()
    ) -> None:
        self.task, self.tables = task, tables
        self.rng = np.random.default_rng(list(seed))
        allowed = np.diff(tables.allow_first).reshape(len(task.kinds), -1).sum(axis=1)
        kind = np.asarray(task.kind_of, dtype=np.int64)
        self.all_possible = bool((allowed[kind] > 0).all())
        kind = kind[allowed[kind] > 0]
        area = np.array([k.area for k in task.kinds])[kind]
        self.state = new_state(kind, area, int(self.rng.integers(1, 2**63)))
        self.steps = 0
        self.stuck = 0
        self.solved: tuple[Placed, ...] | None = None
        self.partial: tuple[float, tuple[Placed, ...]] = (0.0, ())
        self.fitting: Fitting | None = None
        self.odd = worker % 2
        self.patience = _PATIENCE[self.odd]
        self.rounds = _FITTING_ROUNDS[self.odd]
        self.rounds_left = 0
        self.queue: list[int] = []  # items still to be laid
        self.squeezed: list[int] = []  # those that found no clear place
        if not len(kind):
            self.solved = ()
            return
        if start:
            self._take(start)
        if worker % 2 and not start:
            self.rounds_left = self.rounds
        else:
            self._line_up()

    def advance(self, moves: int) -> None:
        """Make so many item moves, fewer if everything is laid before."""
        while self.solved is None and moves > 0:
            if self.rounds_left > 0:
                made = self._fit(moves)
            elif self.queue or self.squeezed:
                made = self._lay_next()
            else:
                made = self._separate(moves)
            moves -= made
            self.steps += made

    def partial_area(self) -> float:
        """Area of what is laid clear, in the best layout so far."""
        if self.solved is None:
            self._keep_partial()
            if self.fitting is not None:
                self._keep_partial(self.fitting.state)
        return self.partial[0]

    def placed(self) -> tuple[Placed, ...]:
        """The layout found, or the best part of one."""
        if self.solved is not None:
            return self.solved
        self.partial_area()
        return self.partial[1]

    def _take(self, start: Sequence[Placed]) -> None:
        """Begin from an earlier layout; what does not match the task is left out."""
        s, free = self.state, list(range(len(self.state.x)))
        for placed in start:
            for i in free:
                at = self.task.position(int(s.kind[i]), placed)
                if at is not None:
                    put(self.tables.packed, s.packed, i, *at)
                    free.remove(i)
                    break

    def _line_up(self) -> None:
        """Queue what is still to be laid: the largest first, more or less; and choose a corner."""
        area = self.state.area
        order = np.argsort(-area * (1 + 0.3 * self.rng.random(len(area))), kind="stable")
        self.queue = [int(i) for i in order if self.state.ground[i] < 0]
        angle = self.rng.integers(4) * np.pi / 2 + 0.3
        x, y = np.cos(angle), np.sin(angle)
        self.corner = np.array([x, y, -np.sign(x), -np.sign(y)])

    def _lay_next(self) -> int:
        """Lay one item clear of the others; those that find no place go in last, where they overlap least."""
        if self.queue:
            i = self.queue.pop(0)
            if not lay_anywhere(self.tables.packed, self.state.packed, i, self.corner):
                self.squeezed.append(i)
            if not self.queue:
                self._keep_partial()
        else:
            i = self.squeezed.pop(0)
            move(self.tables.packed, self.state.packed, i, 4 * _SAMPLES, 0, _REACH)
        return 1

    def _separate(self, moves: int) -> int:
        total, made, stuck = separate(
            self.tables.packed, self.state.packed, moves, self.patience, _SAMPLES, _NEAR_SAMPLES, _REACH
        )
        if total <= 0.0:
            self.solved = self._as_placed(self.state, range(len(self.state.x)))
        elif stuck:
            self._keep_partial()
            self.stuck += 1
            if self.stuck % 2 or self.odd:
                self.rounds_left = self.rounds
            else:
                self._swap_some()
            self._forget()
        return max(made, 1)

    def _forget(self) -> None:
        """Weigh all overlaps alike again."""
        s = self.state
        s.weight[:] = 1.0
        s.edge_weight[:] = 1.0
        s.best[:] = np.inf, 0.0
        s.cursor[:] = len(s.x)

    def _swap_some(self) -> None:
        """Let large items change places, one to three times."""
        large = np.argsort(-self.state.area)[: max(2, len(self.state.area) // 2)]
        for _ in range(int(self.rng.integers(1, 4)) if len(large) > 1 else 0):
            a, b = (int(v) for v in self.rng.choice(large, 2, replace=False))
            self._swap(a, b)

    def _swap(self, a: int, b: int) -> None:
        s, t = self.state, self.tables
        at = [(int(s.ground[i]), float(s.x[i]), float(s.y[i])) for i in (a, b)]
        for i, (g, x, y) in zip((b, a), at, strict=True):
            k = int(s.kind[i]) * t.n_gr + g
            allowed = t.allow[t.allow_first[k] : t.allow_first[k + 1]]
            if g >= 0 and len(allowed):
                put(t.packed, s.packed, i, g, int(self.rng.choice(allowed)), x, y)

    def _fit(self, moves: int) -> int:
        """Rounds of fitting; after the last, go on from the best with what it left out squeezed in."""
        if self.fitting is None:
            self.fitting = Fitting(self.task, self.tables, self.state, self.rng)
        made, ended = self.fitting.advance(moves)
        if ended:
            self.rounds_left -= 1
            if self.fitting.solved or self.rounds_left == 0:
                self.rounds_left = 0
                self._go_on_from_fitting()
        return max(made, 1)

    def _go_on_from_fitting(self) -> None:
        assert self.fitting is not None
        assert self.fitting.best is not None
        s = self.state
        for i in range(len(s.x)):
            put(self.tables.packed, s.packed, i, -1, 0, 0.0, 0.0)
        for i, (x, y, o, g) in enumerate(zip(*self.fitting.best[1], strict=True)):
            put(self.tables.packed, s.packed, i, int(g), int(o), float(x), float(y))
        self._keep_partial()
        self._forget()
        self._line_up()

    def _as_placed(self, s: State, items: Iterable[int]) -> tuple[Placed, ...]:
        return tuple(
            self.task.placed(int(s.ground[i]), int(s.orientation[i]), float(s.x[i]), float(s.y[i]))
            for i in items
        )

    def _keep_partial(self, state: State | None = None) -> None:
        """Remember the clear part of this layout if it holds more area than any before."""
        s = self.state if state is None else state
        left = [i for i in range(len(s.x)) if s.ground[i] >= 0 and s.outside[i] <= 0]
        left.sort(key=lambda i: -s.area[i])
        good: list[int] = []
        for i in left:
            if not (s.overlap[i, good] > 0).any():
                good.append(i)
        area = float(s.area[good].sum())
        if area > self.partial[0]:
            self.partial = (area, self._as_placed(s, good))

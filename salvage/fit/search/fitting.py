"""Fitting edge to edge, again and again: part of a layout is taken up and laid anew by contact."""

from __future__ import annotations

import numpy as np

from salvage.fit.geometry.state import State, new_state
from salvage.fit.geometry.tables import Tables
from salvage.fit.geometry.task import Task
from salvage.fit.kernels.calls import find_spots, force_in, lay_by_contact, put
from salvage.fit.search.rings import make_rings, make_spots

_STARTS = 8  # layouts from scratch, before the best is worked on
_STALE = 150  # rounds without anything better until it begins from scratch again
_FORCE = 0.5  # of the rounds begin by forcing in what is missing
_TASTE = 5.0, 1.0  # what rarity, and flush ends, add to each mm of contact
_PLAIN = 0.3  # of the starts go by bare contact
_SLACK = 0.02  # of all area: how much worse a layout may be and still be gone on from

Layout = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]  # x, y, orientation, ground of each item


class Fitting:
    """Rounds of taking up and laying. Its path depends on the task and the seed only."""

    def __init__(self, task: Task, tables: Tables, like: State, rng: np.random.Generator) -> None:
        self.tables, self.rng = tables, rng
        self.state = new_state(like.kind, like.area, int(rng.integers(1, 2**63)))
        self.rings, self.spots = make_rings(task), make_spots(tables)
        self.rings.taste[:] = _TASTE
        self.cloth_area = np.array([g.polygon.area for g in task.grounds])
        self.rounds = 0
        self.stale = 0
        self.begun = False
        self.current: tuple[float, Layout] | None = None
        self.best: tuple[float, Layout] | None = None  # area not laid, and the layout

    def advance(self, moves: int) -> tuple[int, bool]:
        """Lay up to so many items; returns how many it were, and whether that ended a round."""
        if not self.begun:
            self._begin_round()
        made = lay_by_contact(
            self.tables.packed,
            self.state.packed,
            self.rings.packed,
            self.spots,
            self.size_counts,
            self.noise,
            moves,
        )
        if made >= moves and (self.state.ground < 0).any():
            return made, False
        self._end_round()
        return made, True

    @property
    def solved(self) -> bool:
        return bool((self.state.ground >= 0).all())

    def layout(self) -> Layout:
        s = self.state
        return s.x.copy(), s.y.copy(), s.orientation.copy(), s.ground.copy()

    def _begin_round(self) -> None:
        self.begun = True
        self.size_counts = float(self.rng.choice([0.2, 0.6, 1.0])) * (0.7 + 0.6 * self.rng.random())
        self.noise = float(self.rng.choice([0.0, 0.04, 0.12])) if self.rounds else 0.0
        if self.current is None or self.rounds < _STARTS or self.stale >= _STALE:
            if self.stale >= _STALE:
                self.stale, self.current = 0, None
                plain = self.rng.random() < _PLAIN
                self.rings.taste[:] = (0.0, 0.0) if plain else _TASTE
            self._clear()
        elif self.rng.random() < _FORCE:
            self._force()
        else:
            self._take_up()
        for g in range(self.tables.n_gr):
            find_spots(self.tables.packed, self.state.packed, self.rings.packed, self.spots, g)

    def _clear(self) -> None:
        for i in range(len(self.state.x)):
            put(self.tables.packed, self.state.packed, i, -1, 0, 0.0, 0.0)

    def _force(self) -> None:
        """Lay an item that is missing where it covers little, and take up what it covers."""
        missing = np.flatnonzero(self.state.ground < 0)
        if not len(missing):
            return
        i = int(self.rng.choice(missing))
        force_in(self.tables.packed, self.state.packed, i, int(self.rng.choice([5, 20, 80])))

    def _take_up(self) -> None:
        """Take up part of the layout gone on from, on one ground or more, those with most waste rather."""
        s, rng = self.state, self.rng
        used = np.bincount(s.ground[s.ground >= 0], s.area[s.ground >= 0], self.tables.n_gr)
        waste = np.maximum(self.cloth_area - used, 0.02 * self.cloth_area)
        several = min(self.tables.n_gr, int(rng.choice([1, 2, 3], p=[0.4, 0.45, 0.15])))
        for g in rng.choice(self.tables.n_gr, several, False, waste / waste.sum()):
            there = np.flatnonzero(s.ground == g)
            if not len(there):
                continue
            part = 1.0 if self.tables.n_gr > 1 and rng.random() < 0.35 else 0.25 + 0.55 * rng.random()
            gone = there[np.argsort(self._order(there))[: max(1, round(part * len(there)))]]
            for i in gone:
                put(self.tables.packed, s.packed, int(i), -1, 0, 0.0, 0.0)

    def _order(self, items: np.ndarray) -> np.ndarray:
        """What goes first: along a random direction, or by distance from a random item."""
        s = self.state
        if self.rng.random() < 0.5:
            angle = 2 * np.pi * self.rng.random()
            return np.cos(angle) * s.x[items] + np.sin(angle) * s.y[items]
        middle = int(self.rng.choice(items))
        return np.hypot(s.x[items] - s.x[middle], s.y[items] - s.y[middle])

    def _end_round(self) -> None:
        s = self.state
        self.begun = False
        self.rounds += 1
        self.stale += 1
        missing = float(s.area[s.ground < 0].sum())
        if self.best is None or missing < self.best[0] - 1e-9:
            self.best = missing, self.layout()
            self.stale = 0
        slack = _SLACK * self.rng.random() * float(s.area.sum())
        if self.current is None or missing <= self.current[0] + (slack if self.rounds > _STARTS else 0.0):
            self.current = missing, self.layout()
        else:
            self._return()

    def _return(self) -> None:
        """Go back to the layout gone on from."""
        assert self.current is not None
        self._clear()
        for i, (x, y, o, g) in enumerate(zip(*self.current[1], strict=True)):
            if g >= 0:
                put(self.tables.packed, self.state.packed, i, int(g), int(o), float(x), float(y))

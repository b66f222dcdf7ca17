"""Quick looks for a place, so that proofs are tried only where none was found."""

from __future__ import annotations

import numpy as np

from salvage.fit.geometry.state import State, new_state
from salvage.fit.geometry.tables import Tables
from salvage.fit.geometry.task import Task
from salvage.fit.kernels.calls import lay, put

_CORNERS = [np.array([x * 0.3, y, -x, -y]) for x in (1.0, -1.0) for y in (1.0, -1.0)]


class Witness:
    """Places found are exact and remembered; a place not found says nothing."""

    def __init__(self, task: Task, tables: Tables) -> None:
        self.task, self.tables = task, tables
        self.known: dict[tuple[int, ...], bool] = {}

    def fits(self, kind: int, ground: int) -> bool:
        """Whether a place for the kind was found on the ground."""
        key = (kind, ground)
        if key not in self.known:
            self.known[key] = lay(self.tables.packed, self._state(kind).packed, 0, ground, _CORNERS[0])
        return self.known[key]

    def both_fit(self, one: int, two: int, ground: int) -> bool:
        """Whether places for both (two copies, if they are the same) were found on the ground."""
        key = (min(one, two), max(one, two), ground)
        if key not in self.known:
            self.known[key] = self._look(one, two, ground) or (one != two and self._look(two, one, ground))
        return self.known[key]

    def _look(self, one: int, two: int, ground: int) -> bool:
        for corner in _CORNERS:
            state = self._state(one, two)
            if lay(self.tables.packed, state.packed, 0, ground, corner) and lay(
                self.tables.packed, state.packed, 1, ground, corner
            ):
                return True
            put(self.tables.packed, state.packed, 0, -1, 0, 0.0, 0.0)
        return False

    def _state(self, *kinds: int) -> State:
        return new_state(np.array(kinds, np.int64), np.ones(len(kinds)), 1)

"""A layout in work: nothing laid at first, and what the kernels write is seen at once."""

from __future__ import annotations

import numpy as np

from salvage.fit.geometry.state import new_state
from salvage.fit.kernels.packed import LAYING_FLOATS, LAYING_INTS, STATE_FIELDS


def test_nothing_is_laid_and_all_overlaps_weigh_alike() -> None:
    state = new_state(np.array([0, 0, 1]), np.array([5.0, 5.0, 9.0]), 11)
    assert state.ground.tolist() == [-1, -1, -1]
    assert state.kind.tolist() == [0, 0, 1]
    assert state.area.tolist() == [5.0, 5.0, 9.0]
    assert (state.weight == 1.0).all()
    assert state.weight.shape == state.overlap.shape == (3, 3)
    assert (state.edge_weight == 1.0).all()
    assert not state.overlap.any()
    assert not state.outside.any()
    assert state.cursor.tolist() == [3]  # no pass is under way
    assert state.best.tolist() == [np.inf, 0.0]
    assert state.packed.random is not None
    assert state.packed.random.tolist() == [11]


def test_the_views_are_what_the_kernels_read_and_write() -> None:
    """By the words that are handed over: the number of items, then where each field begins."""
    state = new_state(np.array([0, 1]), np.array([5.0, 9.0]), 3)
    words = dict(zip(("floats", "ints", "random", *STATE_FIELDS), state.packed._words.tolist(), strict=True))
    assert words["n"] == 2
    assert (words["floats"], words["ints"]) == (state.packed.f.ctypes.data, state.packed.i.ctypes.data)
    for name in ("area", "x", "y", "weight", "edge_weight", "overlap", "outside", "best"):
        view = getattr(state, name)
        assert view.ctypes.data == words["floats"] + 8 * words[name]
    for name in ("kind", "orientation", "ground", "cursor"):
        assert getattr(state, name).ctypes.data == words["ints"] + 8 * words[name]
    order = state.packed.i[words["order"] : words["order"] + 2]
    assert sorted(order.tolist()) == [0, 1]
    assert len(state.packed.f) >= words["scratch"] + LAYING_FLOATS
    assert len(state.packed.i) >= words["scratch_ints"] + LAYING_INTS


def test_states_share_nothing() -> None:
    kind, area = np.array([0]), np.array([5.0])
    one, two = new_state(kind, area, 1), new_state(kind, area, 1)
    one.x[0], one.area[0] = 7.0, 1.0
    assert (two.x[0], two.area[0], area[0]) == (0.0, 5.0, 5.0)

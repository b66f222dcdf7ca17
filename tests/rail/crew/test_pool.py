"""Processes that do tasks: all are done, whoever dies, and nobody waits in memory."""

from __future__ import annotations

import multiprocessing
from collections.abc import Generator, Iterator
from pathlib import Path

import pytest
from rail_crew import twice_or_die

from salvage.rail.crew.pool import Lost, Processes, how_many


def test_all_are_done_though_some_end_their_process(tmp_path: Path) -> None:
    tasks = [("ok", 1), ("die", 2), (f"once:{tmp_path / 'mark'}", 3), ("fail", 4), ("ok", 5), ("ok", 6)]
    found = dict(Processes(2).work(twice_or_die, tasks))
    assert {task[1]: r for task, r in found.items() if not isinstance(r, Lost)} == {1: 2, 3: 6, 5: 10, 6: 12}
    lost = {task[0]: r.reason for task, r in found.items() if isinstance(r, Lost)}
    assert "memory" in lost["die"]
    assert "RuntimeError" in lost["fail"]
    assert not multiprocessing.active_children()


def test_tasks_are_read_only_as_they_are_needed() -> None:
    """A photograph is read when somebody is free for it: no more than one each and the next are ever there."""
    given: list[int] = []

    def tasks() -> Iterator[tuple[str, int]]:
        for number in range(6):
            given.append(number)
            yield "ok", number

    for done, _ in enumerate(Processes(1).work(twice_or_die, tasks()), 1):
        assert len(given) <= done + 1
    assert done == len(given) == 6


def test_who_stops_reading_leaves_no_process_behind() -> None:
    work = Processes(2).work(twice_or_die, [("ok", n) for n in range(20)])
    next(work)
    assert isinstance(work, Generator)
    work.close()
    assert not multiprocessing.active_children()


def test_as_many_as_there_is_memory_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("salvage.rail.crew.pool._free_bytes", lambda: 1 << 28)
    assert how_many() == 1
    monkeypatch.setattr("salvage.rail.crew.pool._free_bytes", lambda: None)
    assert how_many() >= 1

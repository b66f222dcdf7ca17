"""A Dask cluster of two worker processes on this machine does the same as one process, also when one of them is killed.

Outside truth: Dask itself. Without it (it belongs to the `test` and the `cluster` extras) these tests are skipped, and
say so.
"""

from __future__ import annotations

import os
import signal
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from rail_crew import slow_do
from rail_garments import garment, project

from salvage.cloth.record.write import garment_to_json
from salvage.errors import SalvageError
from salvage.rail.crew.pool import Processes
from salvage.rail.crew.tasks import Measured, Refused, Shot, Task, ToAsk, ToTell, do
from salvage.rail.rail import Here
from salvage.telling import Telling

distributed = pytest.importorskip(
    "distributed", reason="NOT TESTED: the cluster, for Dask is missing (pip install '.[test]')"
)


@pytest.fixture(scope="module")
def local() -> Iterator[Any]:
    from distributed import LocalCluster

    with (
        warnings.catch_warnings(),
        LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None,
            silence_logs=50,
        ) as running,
    ):  # fmt: skip
        warnings.simplefilter("ignore")
        yield running


def tasks() -> list[Task]:
    made: list[Task] = [Shot("nothing.jpg", b"no picture", Telling())]
    for number in range(4):
        record = garment_to_json(garment(number))
        made.append(ToTell(record))
        # easy ones, so that no answer hangs on how busy the machine is
        made.append(ToAsk(record, project(number, 0.0), seconds=20.0))
    return made


def plain(result: Any) -> Any:
    """What must be the same: not how long it took, nor which of several layouts was found first."""
    return (result.verdict, result.reason) if hasattr(result, "verdict") else result


def test_the_same_as_here_though_a_worker_is_killed(local: Any) -> None:
    from salvage.rail.crew.cluster import cluster

    asked = tasks()
    here = {id(task): plain(result) for task, result in Here().work(do, asked)}
    with cluster(local.scheduler_address) as crew:
        workers = crew.client.run(os.getpid)
        assert len(workers) == 2
        there: dict[int, Any] = {}
        for task, result in crew.work(slow_do, asked):
            if not there:
                os.kill(next(iter(workers.values())), signal.SIGKILL)
            there[id(task)] = plain(result)
    assert there == here
    assert isinstance(there[id(asked[0])], Refused)


def test_a_photograph_gives_the_same_record_there(local: Any, demo_images: Path) -> None:
    from salvage.rail.crew.cluster import cluster

    # as holds does it here: each process alone on its core, for linear algebra on several threads rounds otherwise
    shot = Shot("cut-piece.jpg", (demo_images / "cut-piece.jpg").read_bytes(), Telling(side=150.0))
    [(_, here)] = Processes(1).work(do, [shot])
    with cluster(local.scheduler_address) as crew:
        there = {id(task): result for task, result in crew.work(do, [shot])}[id(shot)]
    assert isinstance(here, Measured)
    assert there == here


def test_no_scheduler_there(monkeypatch: pytest.MonkeyPatch) -> None:
    from salvage.rail.crew import cluster

    monkeypatch.setattr(cluster, "_PATIENCE", 1.0)
    with pytest.raises(SalvageError, match="no Dask scheduler answers"), cluster.cluster("tcp://127.0.0.1:9"):
        pass


def test_workers_of_another_version_are_refused(local: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from salvage.rail.crew import cluster

    monkeypatch.setattr(cluster, "__version__", "99.0")
    with pytest.raises(SalvageError, match=r"and this is 99\.0"), cluster.cluster(local.scheduler_address):
        pass

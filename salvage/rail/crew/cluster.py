"""Tasks done by an existing Dask cluster: the same functions as on this machine, so the same results.

Photographs and records travel with the tasks, so the cluster needs no folder of ours, only salvage in the same version.
Dask gives the task of a worker that is lost to another one; only one that ended several workers is told of as lost.
Source of the behaviour: Dask's documentation, "Resilience" (allowed-failures) and "Futures".
"""

from __future__ import annotations

import contextlib
import importlib.util
import warnings
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any, TypeVar

from salvage import __version__
from salvage.errors import SalvageError, shown
from salvage.rail.crew.pool import Lost

T = TypeVar("T")
R = TypeVar("R")

_PATIENCE = 20.0  # seconds for the scheduler to answer, and for a first worker to be there
_AHEAD = 2  # tasks handed over for each that is being done, so that no worker waits
_TRIES = 2  # how often a task that fails is begun anew; one that ends workers Dask itself gives up on


@dataclass(frozen=True, slots=True)
class Cluster:
    """A crew of the workers of a Dask cluster. client: a distributed.Client."""

    client: Any

    @property
    def size(self) -> int:
        """Threads of all workers that are there now."""
        return max(1, sum(self.client.nthreads().values()))

    def work(self, call: Callable[[T], R], tasks: Iterable[T]) -> Iterator[tuple[T, R | Lost]]:
        """See salvage.rail.crew.pool.Crew."""
        from distributed import as_completed

        left = iter(tasks)
        given: dict[str, tuple[Any, T]] = {}
        done = as_completed(loop=self.client.loop)
        try:
            self._hand_out(call, left, given, done)
            for future in done:
                _, task = given.pop(future.key)
                try:
                    result: R | Lost = future.result()
                except Exception as error:
                    result = Lost(_why(error))
                future.release()
                self._hand_out(call, left, given, done)
                yield task, result
        finally:
            if given:
                with contextlib.suppress(Exception):  # the scheduler may be gone by now
                    self.client.cancel([future for future, _ in given.values()], force=True)

    def _hand_out(
        self, call: Callable[[T], R], left: Iterator[T], given: dict[str, tuple[Any, T]], done: Any
    ) -> None:
        """Keep so many tasks with the cluster, and no more: they hold photographs."""
        while len(given) < _AHEAD * self.size:
            task = next(left, None)
            if task is None:
                return
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # that a photograph is large for a task, which it is
                future = self.client.submit(call, task, pure=False, retries=_TRIES)
            given[future.key] = future, task
            done.add(future)


def _why(error: Exception) -> str:
    name = type(error).__name__
    if name == "KilledWorker":
        return (
            "the work on it ended several workers, most likely for want of memory. Try a smaller photograph."
        )
    return f"the cluster could not do it ({name}: {shown(error)})."


@contextlib.contextmanager
def cluster(address: str) -> Iterator[Cluster]:
    """The cluster of a scheduler. Raises SalvageError where none answers, or its workers can't do this work."""
    if importlib.util.find_spec("distributed") is None:
        raise SalvageError(
            "--scheduler needs Dask, which isn't installed. Install it with: pip install 'salvage[cluster]'"
        )
    from distributed import Client

    try:
        client = Client(address, timeout=_PATIENCE, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise SalvageError(
            f"--scheduler {shown(address)}: no Dask scheduler answers there ({shown(error)}). Write it as tcp://HOST:8786."
        ) from error
    try:
        try:
            client.wait_for_workers(1, timeout=_PATIENCE)
        except TimeoutError as error:
            raise SalvageError(
                f"--scheduler {shown(address)}: it has no worker. Start some with: dask worker {shown(address)}"
            ) from error
        _same_program(client, address)
        yield Cluster(client)
    finally:
        with contextlib.suppress(Exception):
            client.close(timeout=5)


def _same_program(client: Any, address: str) -> None:
    """Raise SalvageError where a worker has no salvage or another version: results must be the same as here."""
    try:
        versions = client.run(_version, on_error="return")
    except Exception as error:
        raise SalvageError(
            f"--scheduler {shown(address)}: its workers don't answer ({shown(error)})."
        ) from error
    for worker, version in versions.items():
        if version != __version__:
            told = version if isinstance(version, str) else "none"
            raise SalvageError(
                f"--scheduler {shown(address)}: the worker {worker} has salvage {told}, and this is {__version__}. Install "
                "the same version there."
            )


def _version() -> str:
    import salvage

    return salvage.__version__

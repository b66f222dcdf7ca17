"""Tasks done by several processes of this machine, one task a process at a time.

A process that dies (there wasn't memory enough, or somebody ended it) takes only its own task with it: that is tried
once more on a new one, alone, and then told of as lost. Processes are renewed now and then, so that what a library
keeps of each photograph doesn't add up. Ctrl-C reaches the first process only, which then ends the others.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from typing import Any, Generic, Protocol, TypeVar

T = TypeVar("T")
R = TypeVar("R")

_GB = 1 << 30
NEEDED = 1.2 * _GB  # bytes a process may need for a photograph of 12 megapixels, with the libraries it loads
_TASKS_EACH = 40  # before a process is renewed
_TRIES = 2
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@dataclass(frozen=True, slots=True)
class Lost:
    """A task that could not be done. reason: in words for the person."""

    reason: str


class Crew(Protocol):
    """Whoever does tasks: processes of this machine or a cluster."""

    @property
    def size(self) -> int:
        """How many are done at once."""
        ...

    def work(self, call: Callable[[T], R], tasks: Iterable[T]) -> Iterator[tuple[T, R | Lost]]:
        """Each task with what call(task) gave, as they get done. tasks is read on only as they are needed."""
        ...


@dataclass(eq=False)
class _Hand(Generic[T]):
    """A process, and the task it is at. alone: nobody else works meanwhile. done: tasks so far."""

    process: Any
    pipe: Connection
    task: T | None = None
    alone: bool = False
    done: int = 0


@dataclass(frozen=True, slots=True)
class Processes:
    """A crew of processes of this machine. size: how many at once."""

    size: int = field(default_factory=lambda: how_many())

    def work(self, call: Callable[[T], R], tasks: Iterable[T]) -> Iterator[tuple[T, R | Lost]]:
        """See Crew."""
        shift = _Shift(self.size, call, iter(tasks))
        try:
            while shift.hand_out():
                yield from shift.results()
        finally:
            shift.end()


@dataclass(eq=False)
class _Shift(Generic[T, R]):
    """One run through some tasks. again: those whose process ended, to be tried alone; tried: how often each was."""

    size: int
    call: Callable[[T], R]
    left: Iterator[T]
    hands: list[_Hand[T]] = field(default_factory=list)
    again: deque[T] = field(default_factory=deque)
    tried: dict[int, int] = field(default_factory=dict)

    def hand_out(self) -> bool:
        """Give tasks to those who have none. False once all is done."""
        busy = [each for each in self.hands if each.task is not None]
        if any(each.alone for each in busy) or (self.again and busy):
            return True
        given = []
        if self.again:  # what ended a process has the memory to itself
            given.append(self._give(self.again.popleft(), alone=True))
        else:
            for _ in range(self.size - len(busy)):
                task = next(self.left, None)
                if task is None:
                    break
                given.append(self._give(task))
        for hand in given:  # all are started by now, and begin at once
            with contextlib.suppress(OSError):  # it has ended already, as results finds out
                hand.pipe.send(hand.task)
        return bool(busy or given)

    def results(self) -> Iterator[tuple[T, R | Lost]]:
        """Wait until somebody is done, and give what there is."""
        busy = [each for each in self.hands if each.task is not None]
        ready = wait([each.pipe for each in busy])
        for hand in busy:
            if hand.pipe not in ready or hand.task is None:
                continue
            task = hand.task
            try:
                result = hand.pipe.recv()
            except (EOFError, OSError):
                self._dismiss(hand)
                self.tried[id(task)] = self.tried.get(id(task), 0) + 1
                if self.tried[id(task)] < _TRIES:
                    self.again.append(task)
                else:
                    del self.tried[id(task)]
                    yield task, Lost(_why(hand.process.exitcode))
                continue
            self.tried.pop(id(task), None)
            hand.task, hand.alone, hand.done = None, False, hand.done + 1
            if hand.done >= _TASKS_EACH:
                self._dismiss(hand)
            yield task, result

    def end(self) -> None:
        """End all that is still at work."""
        for hand in list(self.hands):
            self._dismiss(hand)

    def _give(self, task: T, *, alone: bool = False) -> _Hand[T]:
        hand = next((each for each in self.hands if each.task is None), None)
        if hand is None:
            hand = _start(self.call)
            self.hands.append(hand)
        hand.task, hand.alone = task, alone
        return hand

    def _dismiss(self, hand: _Hand[T]) -> None:
        self.hands.remove(hand)
        _end(hand)


def _start(call: Callable[[Any], Any]) -> _Hand[Any]:
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe()
    process = context.Process(target=_serve, args=(there, call), daemon=True)
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ |= dict.fromkeys(_ONE_THREAD, "1")  # each has a core, and shares it with nobody
    try:
        process.start()
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
    there.close()
    return _Hand(process, here)


def _end(hand: _Hand[Any]) -> None:
    hand.pipe.close()
    hand.process.terminate()
    hand.process.join(5)
    if hand.process.is_alive():
        hand.process.kill()
        hand.process.join(5)


def _serve(pipe: Connection, call: Callable[[Any], Any]) -> None:
    """What each process does until its pipe is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with contextlib.suppress(ImportError):
        import cv2

        cv2.setNumThreads(1)
    while True:
        try:
            task = pipe.recv()
        except (EOFError, OSError):
            return
        try:
            result = call(task)
        except Exception as error:  # a mistake of ours on one task must not stop the others
            result = Lost(f"something went wrong inside salvage ({type(error).__name__}: {error}).")
        try:
            pipe.send(result)
        except OSError:
            return


def _why(exitcode: int | None) -> str:
    if exitcode == -signal.SIGKILL:
        return (
            "the system ended the work on it twice, most likely for want of memory. Try a smaller photograph."
        )
    return f"the work on it ended twice without an answer (status {exitcode}). Try it by itself with measure."


def how_many() -> int:
    """As many processes as there are cores, but no more than there is memory for."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    free = _free_bytes()
    return max(1, cores if free is None else min(cores, int(free / NEEDED)))


def _free_bytes() -> int | None:
    """Memory that can be had without pushing anything out, None where the system doesn't say."""
    try:
        with open("/proc/meminfo", encoding="ascii") as lines:
            told = dict(line.split(":", 1) for line in lines)
        return int(told["MemAvailable"].split()[0]) * 1024
    except (OSError, KeyError, ValueError, IndexError):
        return None

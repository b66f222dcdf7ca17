"""A second process for what takes long, so that the server answers meanwhile; it is told what to do line by line.

Server side: `Worker` starts the process, hands it one job after the other and keeps what it tells. Process side:
`python -m salvage.desk.workers.process` reads jobs as JSON lines and answers with lines of its own. It ends when the server
does, however that ended: its input is then at an end.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from dataclasses import dataclass, field
from typing import IO, Any

_KEPT = 200  # jobs remembered after their end
_numbers = itertools.count(1)


@dataclass
class Job:
    """One piece of work. state: waiting, running, done, failed or stopped; share: 0 to 1 of it done, if known.

    counts: how many things are done, of how many, and the seconds that the others may take, None if not known.
    result: once it is over, or what there is of it so far, where its task tells that. stopping: it was asked to stop.
    """

    task: str
    args: dict[str, Any]
    number: int = field(default_factory=lambda: next(_numbers))
    state: str = "waiting"
    step: str = ""
    steps_done: int = 0
    share: float | None = None
    counts: tuple[int, int, float | None] | None = None
    result: Any = None
    error: str = ""
    stopping: bool = False
    begun: float = field(default_factory=time.monotonic)

    @property
    def over(self) -> bool:
        return self.state in ("done", "failed", "stopped")

    def told(self) -> dict[str, Any]:
        """What the page gets to see."""
        return {
            "job": self.number, "task": self.task, "state": self.state, "step": self.step, "steps_done": self.steps_done,
            "share": self.share, "counts": self.counts, "result": self.result, "error": self.error,
            "seconds": round(time.monotonic() - self.begun, 2),
        }  # fmt: skip


class Worker:
    """One process that does one job after the other."""

    def __init__(self) -> None:
        self._jobs: queue.Queue[Job | None] = queue.Queue()
        self._known: dict[int, Job] = {}
        self._process: subprocess.Popen[str] | None = None
        self._now: Job | None = None
        self._lock = threading.Lock()
        self._changed = threading.Condition()
        self._closed = False
        threading.Thread(target=self._run, daemon=True).start()

    def submit(self, task: str, **args: Any) -> Job:
        """Put a job at the end of the queue."""
        job = Job(task, args)
        with self._lock:
            self._known[job.number] = job
            for old in [number for number, each in self._known.items() if each.over][:-_KEPT]:
                del self._known[old]
        self._jobs.put(job)
        return job

    def job(self, number: int) -> Job | None:
        return self._known.get(number)

    def wait(self, job: Job, seconds: float, *, steps_seen: int | None = None) -> None:
        """Wait until the job is over, or has come further than steps_seen."""
        until = time.monotonic() + seconds
        with self._changed:
            while not job.over and (left := until - time.monotonic()) > 0:
                if steps_seen is not None and job.steps_done > steps_seen:
                    return
                self._changed.wait(left)

    def stop(self, job: Job) -> None:
        """Ask for what there is of it so far; one that waits is not begun."""
        with self._lock:
            if job.state == "waiting":
                job.state = "stopped"
            elif job is self._now:
                job.stopping = True
                if self._process is not None:  # else it is about to be started, and is told then
                    self._send({"stop": job.number})
        self._tell()

    def stop_all(self, task: str) -> None:
        """Stop every job of that task."""
        for job in list(self._known.values()):
            if job.task == task and not job.over:
                self.stop(job)

    def close(self) -> None:
        """End the process at once."""
        self._closed = True
        self._jobs.put(None)
        if self._process is not None:
            self._process.kill()
            self._process.wait()

    # --- in the thread that talks to the process -----------------------------------------------------

    def _run(self) -> None:
        while (job := self._jobs.get()) is not None:
            with self._lock:
                if job.over:
                    continue
                job.state, self._now = "running", job
            try:
                self._do(job)
            except (OSError, ValueError) as error:
                self._over(job, "failed", error=f"worker: {error}")
            self._now = None

    def _do(self, job: Job) -> None:
        process = self._started()
        self._send({"number": job.number, "task": job.task, "args": job.args})
        if job.stopping:
            self._send({"stop": job.number})
        assert process.stdout is not None
        for line in process.stdout:
            told = json.loads(line)
            if told.get("number") != job.number:
                continue
            if told.keys() & {"step", "share", "part"}:
                job.step = told.get("step", job.step)
                job.share = told.get("share", job.share)
                job.counts = told.get("counts", job.counts)
                job.result = told.get("part", job.result)
                job.steps_done += 1
                self._tell()
                continue
            if "error" in told:
                self._over(job, "failed", error=told["error"])
            else:
                self._over(job, "done", result=told["result"])
            return
        self._process = None
        self._over(job, "failed", error="" if self._closed else "worker.ended")

    def _over(self, job: Job, state: str, *, result: Any = None, error: str = "") -> None:
        job.result, job.error, job.state = result, error, state
        self._tell()

    def _tell(self) -> None:
        with self._changed:
            self._changed.notify_all()

    def _started(self) -> subprocess.Popen[str]:
        if self._process is None or self._process.poll() is not None:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "salvage.desk.workers.process"],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8",
            )  # fmt: skip
        return self._process

    def _send(self, message: dict[str, Any]) -> None:
        assert self._process is not None
        assert self._process.stdin is not None
        with contextlib.suppress(BrokenPipeError):
            self._process.stdin.write(json.dumps(message) + "\n")
            self._process.stdin.flush()


# --- the process ---------------------------------------------------------------------------------------


def main() -> None:
    """Do jobs until the input ends. What libraries print goes to standard error; the answers own the output."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which then ends the input
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)
    todo: queue.Queue[dict[str, Any] | None] = queue.Queue()
    stopped: set[int] = set()
    threading.Thread(target=_listen, args=(sys.stdin, todo, stopped), daemon=True).start()
    while (message := todo.get()) is not None:
        try:
            answers.write(_answer(message, answers, stopped) + "\n")
            answers.flush()
        except (BrokenPipeError, ValueError):
            return


def _listen(lines: IO[str], todo: queue.Queue[dict[str, Any] | None], stopped: set[int]) -> None:
    for line in lines:
        message = json.loads(line)
        if "stop" in message:
            stopped.add(message["stop"])
        else:
            todo.put(message)
    # The server has ended. What is being reckoned is for nobody; files are written in one step, so none is half.
    todo.put(None)
    time.sleep(5.0)
    os._exit(0)


def _answer(message: dict[str, Any], answers: IO[str], stopped: set[int]) -> str:
    from salvage.desk.teller import Teller
    from salvage.desk.workers.papers import TASKS as OF_PAPER
    from salvage.desk.workers.rail_tasks import TASKS as OF_THE_RAIL
    from salvage.desk.workers.tasks import TASKS
    from salvage.errors import SalvageError, shown

    number = message["number"]

    def tell(**what: Any) -> None:
        answers.write(json.dumps({"number": number, **what}) + "\n")
        answers.flush()

    teller = Teller(tell, lambda: number in stopped)
    try:
        result = (TASKS | OF_THE_RAIL | OF_PAPER)[message["task"]](teller, **message["args"])
        return json.dumps({"number": number, "result": result}, allow_nan=False)
    except SalvageError as error:
        return json.dumps({"number": number, "error": str(error)})
    except MemoryError:
        return json.dumps(
            {"number": number, "error": "there is not enough memory for this. Try a smaller photograph."}
        )
    except Exception as error:  # no traceback reaches a person, and the next job is done all the same
        if os.environ.get("SALVAGE_TRACEBACK"):
            import traceback

            traceback.print_exc()
        words = f"something went wrong inside salvage ({type(error).__name__}: {shown(error)}). Your files are whole."
        return json.dumps({"number": number, "error": words})


if __name__ == "__main__":
    main()

"""The second process: jobs one after the other, told step by step; whatever happens to it is told, and the next job done."""

from __future__ import annotations

import io
import json
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_garments import COAT, draw_photo

from salvage.cloth.record.write import garment_to_json
from salvage.desk.workers.process import Worker


@pytest.fixture(scope="module")
def worker() -> Iterator[Worker]:
    running = Worker()
    yield running
    running.close()


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("desk")
    draw_photo(folder / "coat.jpg")
    (folder / "coat.json").write_text(garment_to_json(COAT), encoding="utf-8")
    return folder / "coat.json"


def test_a_job_is_done_and_told(worker: Worker, record: Path) -> None:
    job = worker.submit("marked", record=str(record), unit="mm")
    worker.wait(job, 60.0)
    assert (job.state, job.error) == ("done", "")
    assert job.result["files"] == ["coat-marked.jpg"]
    assert job.steps_done >= 1
    assert (record.parent / "coat-marked.jpg").is_file()


def test_what_cannot_be_done_is_told_in_words_and_the_next_job_is_done(worker: Worker, record: Path) -> None:
    bad = worker.submit("marked", record=str(record.with_name("none.json")), unit="mm")
    worker.wait(bad, 60.0)
    assert bad.state == "failed"
    assert "no such file" in bad.error
    wrong = worker.submit("dance")
    worker.wait(wrong, 60.0)
    assert wrong.state == "failed"
    assert "Traceback" not in wrong.error
    good = worker.submit("marked", record=str(record), unit="mm")
    worker.wait(good, 60.0)
    assert good.state == "done"


def test_a_job_that_waits_can_be_stopped(worker: Worker, record: Path) -> None:
    jobs = [worker.submit("marked", record=str(record), unit="mm") for _ in range(3)]
    worker.stop(jobs[2])
    for job in jobs:
        worker.wait(job, 60.0)
    assert [job.state for job in jobs] == ["done", "done", "stopped"]


def test_a_process_that_is_killed_is_told_and_started_again(worker: Worker, record: Path) -> None:
    job = worker.submit("marked", record=str(record), unit="mm")
    worker.wait(job, 60.0, steps_seen=0)
    assert worker._process is not None
    if not job.over:
        worker._process.kill()
        worker.wait(job, 60.0)
    else:
        worker._process.kill()
    again = worker.submit("marked", record=str(record), unit="mm")
    worker.wait(again, 60.0)
    assert again.state == "done"


class Started:
    """A process that says at once that the first job is done, and keeps what it was told."""

    def __init__(self, number: int) -> None:
        self.stdin, self.stdout = io.StringIO(), [json.dumps({"number": number, "result": {}})]

    def poll(self) -> None:
        """It is running."""

    kill = wait = poll


def test_a_job_stopped_while_its_process_is_being_started_is_stopped_then(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    being_started, go_on = threading.Event(), threading.Event()
    made: list[Started] = []

    def start(*_: object, **__: object) -> Started:
        being_started.set()
        assert go_on.wait(10.0)
        made.append(Started(job.number))
        return made[0]

    monkeypatch.setattr("salvage.desk.workers.process.subprocess.Popen", start)
    alone = Worker()
    job = alone.submit("answer")
    assert being_started.wait(10.0)
    alone.stop(job)
    go_on.set()
    alone.wait(job, 10.0)
    assert job.over
    told = [json.loads(line) for line in made[0].stdin.getvalue().splitlines()]
    assert {"stop": job.number} in told
    alone.close()

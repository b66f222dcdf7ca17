"""The rail unattended: many photographs measured, many garments matched with projects.

    pytest -m bench tests/bench/test_rail.py -s
    SALVAGE_RAIL_PHOTOS=24 SALVAGE_RAIL_GARMENTS=40 pytest -m bench tests/bench/test_rail.py -s

Photographs are made from the demo's and, where they are there, the shared rendered ones, by turning, recolouring and
reducing (fixtures/rail/vary.py); garments and projects for matching come from a generator. Everything lies in a
temporary folder.
"""

from __future__ import annotations

import json
import os
import resource
import shutil
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import active_children
from pathlib import Path

import numpy as np
import pytest
from rail_crew import full_answer
from rail_garments import garments, projects
from told import Told

from salvage.cloth.garment import Garment
from salvage.cloth.record.write import garment_to_json
from salvage.rail.answer.settle import BY_FACTS, UNSUITED
from salvage.rail.crew.pool import Processes, how_many
from salvage.rail.crew.tasks import ToAsk
from salvage.rail.match import Matched, match
from salvage.rail.rail import Rail, open_rail
from salvage.telling import Telling

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "fixtures" / "rail"))
PHOTOS = int(os.environ.get("SALVAGE_RAIL_PHOTOS", "200"))
GARMENTS = int(os.environ.get("SALVAGE_RAIL_GARMENTS", "200"))
PROJECTS = 10
CHECKED = int(os.environ.get("SALVAGE_RAIL_CHECKED", "100"))  # pairs asked of the full search too
SPEED_UP = min(8, PHOTOS)  # photographs measured with one process and with two
FULL_SECONDS = 10.0
TOLD = {
    "agree": Told("100 of 100 answers looked at agree with the full search", 1.0, 0.03),
    "memory": Told("2.5 GB at the most", 2.5, 0.3),  # two processes
}
SIDE = Telling(side=150.0)


@contextmanager
def memory() -> Iterator[dict[str, float]]:
    """GB of all processes of ours together, at most; looked at five times a second."""
    found, ended = {"peak": 0.0}, threading.Event()

    def rss(pid: int) -> float:
        try:
            return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e9
        except (OSError, IndexError, ValueError):
            return 0.0

    def watch() -> None:
        while not ended.wait(0.2):
            now = rss(os.getpid()) + sum(rss(each.pid or 0) for each in active_children())
            found["peak"] = max(found["peak"], now)

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        yield found
    finally:
        ended.set()
        watcher.join()


def sources() -> list[Path]:
    """Photographs that can be measured, all with a square of 150 mm."""
    from vary import DEMO, SOUND

    found = [DEMO / f"{name}.jpg" for name in SOUND]
    for folder in sorted((ROOT.parent / "shared" / "photos" / "rendered").glob("[0-9]*")):
        truth = json.loads((folder / "truth.json").read_text())
        if not truth["must_warn"] and truth["reference_squares"][0]["side_mm"] == SIDE.side:
            found.append(folder / "photo.jpg")
    return found


@dataclass(frozen=True)
class Hung:
    """seconds by the clock; cpu: seconds that the processes worked, which says more where others work too; peak: GB of
    all processes together; measured, bad: photographs."""

    seconds: float
    cpu: float
    peak: float
    measured: int
    bad: int


def hang(folder: Path, cores: int) -> Hung:
    with memory() as used, open_rail(folder, crew=Processes(cores)) as rail:
        begun, before = time.perf_counter(), worked()
        measured = rail.hang(SIDE)
        return Hung(time.perf_counter() - begun, worked() - before, used["peak"], measured, len(rail.bad))


def worked() -> float:
    """CPU seconds of all processes that we started and that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


@pytest.mark.bench
def test_photographs_unattended(tmp_path: Path) -> None:
    from vary import donations

    made = donations(tmp_path / "all", PHOTOS, sources())
    cores = how_many()
    done = hang(tmp_path / "all", cores)
    print(
        f"\n{len(made)} photographs, {cores} processes: {done.seconds:.0f} s, {done.seconds / len(made):.1f} s each "
        f"({done.cpu / len(made):.1f} s of CPU); {done.peak:.2f} GB at most"
    )
    print(
        f"measured {done.measured}, refused {done.bad} (of these {sum('blurred' in p.name for p in made)} are the blurred one)"
    )
    with open_rail(tmp_path / "all", crew=Processes(cores)) as rail:
        begun = time.perf_counter()
        cards = rail.cards()
        told = time.perf_counter() - begun
        print(f"what they hold: {told:.0f} s, {told / max(1, len(cards)):.1f} s each")
    with open_rail(tmp_path / "all") as rail:
        begun = time.perf_counter()
        assert rail.hang(SIDE) == 0  # what is measured isn't measured again
        assert rail.cards() == cards
        print(f"the same folder again: {time.perf_counter() - begun:.2f} s")
    assert done.measured + done.bad == len(made)
    if cores == 2:
        TOLD["memory"].at_most(done.peak)
    times = {}
    for number in (1, 2):
        folder = tmp_path / f"by {number}"
        folder.mkdir()
        for path in made[:SPEED_UP]:
            shutil.copyfile(path, folder / path.name)
        times[number] = hang(folder, number)
    print(
        f"{SPEED_UP} photographs: one process {times[1].seconds:.0f} s ({times[1].cpu:.0f} s of CPU), two "
        f"{times[2].seconds:.0f} s ({times[2].cpu:.0f} s of CPU), {times[1].seconds / times[2].seconds:.2f} times as fast"
    )


@pytest.mark.bench
def test_garments_and_projects(tmp_path: Path) -> None:
    made, wanted = garments(GARMENTS), projects(PROJECTS)
    for number, garment in enumerate(made):
        (tmp_path / f"{number:04d}.json").write_text(garment_to_json(garment))
    with open_rail(tmp_path, crew=Processes(how_many())) as rail:
        begun = time.perf_counter()
        cards = rail.cards()
        told = time.perf_counter() - begun
        begun = time.perf_counter()
        found = match(rail, cards, wanted, seconds=3600.0)
        took = time.perf_counter() - begun
        verdicts = Counter(each.verdict for each in found.answers.values())
        by_facts = sum(each.proof == BY_FACTS for each in found.answers.values())
        print(
            f"\n{len(cards)} garments × {len(wanted)} projects: {len(found.answers)} answers in {took:.0f} s (telling: {told:.0f} s)"
        )
        print(
            f"  {dict(verdicts)}; {by_facts} by the facts alone; to make: worth {found.plan.worth:g} of at most {found.could:g}"
        )
        begun = time.perf_counter()
        match(rail, cards, wanted, seconds=3600.0)
        print(f"  asked again: {time.perf_counter() - begun:.1f} s")
        agree, against, helped = compared(rail, found, made)
    print(
        f"  {agree + len(against) + helped} asked of the full search too ({FULL_SECONDS:g} s each): {agree} agree, "
        f"{len(against)} against, {helped} unsettled on one side only"
    )
    assert not against, against
    assert agree + helped > 0
    TOLD["agree"].at_least(agree / (agree + helped))


def compared(rail: Rail, found: Matched, made: Sequence[Garment]) -> tuple[int, list[str], int]:
    """A sample of the answers beside those of the whole of fit: how many agree, which contradict each other, and how
    many are settled on one side and unsettled on the other."""
    rng = np.random.default_rng(7)
    pairs = [pair for pair, each in sorted(found.answers.items()) if each.verdict != UNSUITED]
    chosen = [pairs[i] for i in rng.choice(len(pairs), min(CHECKED, len(pairs)), replace=False)]
    tasks = {}
    for g, p in chosen:
        garment = made[int(Path(found.cards[g].file).stem)]
        task = ToAsk(garment_to_json(garment), found.projects[p], FULL_SECONDS)
        tasks[id(task)] = (g, p), task
    agree, helped, against = 0, 0, []
    for task, full in rail.crew.work(full_answer, [task for _, task in tasks.values()]):
        pair = tasks[id(task)][0]
        mine = found.answers[pair].verdict
        if full == mine:
            agree += 1
        elif "unsettled" in (full, mine):
            helped += 1
        elif {full, mine} <= {"yes", "yes-with-joins"}:
            agree += 1
        else:
            against.append(
                f"{found.cards[pair[0]].name}, {found.projects[pair[1]].name}: {mine}, and fit says {full}"
            )
    return agree, against, helped

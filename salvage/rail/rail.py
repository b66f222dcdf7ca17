"""A folder of garments, opened: its records and photographs, its index, and whoever does the work.

`hang` measures the photographs that no record is about; `cards` tells what is on the rail. Each thing is written down
as soon as it is known, so that it can be stopped at any time and goes on where it was.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from salvage.cloth.doubts import carried
from salvage.cloth.garment import Garment
from salvage.cloth.record.anew.merge import merge_all
from salvage.cloth.record.file import update_garment, with_contents
from salvage.cloth.record.parse import garment_from_json
from salvage.errors import SalvageError
from salvage.files import inside
from salvage.fit.material.lay import lay_of, same_fabric
from salvage.fit.material.rectangles import longest_run
from salvage.ours import free_name
from salvage.project.project import Project
from salvage.rail.crew.pool import Crew, Lost
from salvage.rail.crew.tasks import Measured, Refused, Shot, Task, ToDraw, Told, ToTell, do, first_photograph
from salvage.rail.folder import Bad, FolderContents, Photograph, Record, brief_of, look_over, named
from salvage.rail.known.facts import Facts
from salvage.rail.known.keys import cloth_key, project_key, telling_key
from salvage.rail.known.room import may_have_room
from salvage.rail.note import note_measured, photographed, told_data, told_more
from salvage.rail.show.cards import HAIR, Card, Size, filtered
from salvage.rail.store import Kept, Store, open_store
from salvage.telling import Telling
from salvage.units import Unit

Progress = Callable[[str, int, int], None]  # what is done, how many are, of how many

COUNTING = 4.0  # seconds for how many of one project a garment gives
_UNTOLD = Telling()


def quiet(_what: str, _done: int, _of: int) -> None:
    pass


@dataclass(frozen=True, slots=True)
class Here:
    """A crew of nobody else: the work is done on the spot."""

    size: int = 1

    def work(self, call: Callable, tasks: Iterable) -> Iterator[tuple]:
        """See salvage.rail.crew.pool.Crew."""
        for task in tasks:
            yield task, call(task)


@dataclass(eq=False)
class Rail:
    """A folder of garments. home: where its records are kept; store: its index. bad: what can't be used, and why."""

    folder: Path
    home: Path
    store: Store
    found: FolderContents
    crew: Crew = field(default_factory=lambda: Here())
    bad: list[Bad] = field(default_factory=list)

    def close(self) -> None:
        """Let go of the index."""
        self.store.close()

    @property
    def records(self) -> tuple[Record, ...]:
        return self.found.records

    @property
    def photographs(self) -> tuple[Path, ...]:
        """Those that aren't measured yet."""
        return tuple(each.path for each in self.found.unmeasured())

    @property
    def notes(self) -> tuple[str, ...]:
        """What the person should know of the index."""
        return (self.store.note,) if self.store.note else ()

    # --- measuring --------------------------------------------------------------------------------

    def hang(self, told: Telling = _UNTOLD, *, again: bool = False, progress: Progress = quiet) -> int:
        """Measure every photograph that no record is about, and those measured with another telling than this.

        A record that a person measured stays as they made it. again: those that could not be measured are tried once
        more. Returns how many were measured. What can't be is added to `bad`.
        """
        if again:
            self.store.forget_refused()
        jobs = self._jobs(told)
        if not jobs:
            return 0
        shots: dict[int, _Job] = {}

        def tasks() -> Iterator[Task]:
            for job in jobs:  # read only when somebody is free, so that they aren't all in memory
                try:
                    shot = Shot(job.photo.path.name, job.photo.path.read_bytes(), job.told)
                except OSError as error:
                    self._refuse(job, f"can't be opened ({error.strerror or error}).", keep=False)
                    continue
                shots[id(shot)] = job
                yield shot

        done = 0
        progress("measuring photographs", 0, len(jobs))
        for count, (shot, result) in enumerate(self.crew.work(do, tasks()), 1):
            job = shots.pop(id(shot))
            if isinstance(result, Measured):
                done += self._write(job, result)
            elif isinstance(result, Refused):
                self._refuse(job, result.reason, keep=True)
            else:
                self._refuse(
                    job, result.reason if isinstance(result, Lost) else "gave no answer.", keep=False
                )
            progress("measuring photographs", count, len(jobs))
        bad = self.bad
        self.look_again()
        self.bad = [*self.found.bad, *(each for each in bad if each not in self.found.bad)]
        return done

    def look_again(self) -> None:
        """Read the folder anew."""
        self.found = look_over(self.folder, self.home, self.store)
        self.bad = list(self.found.bad)

    def _jobs(self, told: Telling) -> list[_Job]:
        """What is to be measured; what was refused before with the same telling is told of at once."""
        jobs = [_Job(photo, told, None) for photo in self.found.unmeasured()]
        by_content = {each.content: each for each in self.found.photographs}
        for record in self.records:
            brief = record.brief
            photo = by_content.get(brief.photos[0][1]) if len(brief.photos) == 1 else None
            if brief.told is None or brief.used or brief.rest or photo is None:
                continue
            now = told_more(brief.told, told)
            if now != brief.told:
                jobs.append(_Job(photo, now, record.path))
        left = []
        for job in jobs:
            key = telling_key(job.told) if told_data(told) else None
            reason = self.store.refused(job.photo.content, key)
            if reason is None:
                left.append(job)
            else:
                self._refuse(job, reason, keep=False)
        return left

    def _refuse(self, job: _Job, reason: str, *, keep: bool) -> None:
        if keep:
            self.store.keep_refused(job.photo.content, telling_key(job.told), reason)
        self.bad.append(Bad(named(job.photo.path, self.folder), reason))

    def _write(self, job: _Job, measured: Measured) -> bool:
        """Put what was measured into its record, with what a person changed in it kept."""
        try:
            path = job.record or self._place(job.photo)
        except SalvageError as error:
            self._refuse(job, str(error), keep=False)
            return False
        file = os.path.relpath(job.photo.path.resolve(), path.parent.resolve()).replace(os.sep, "/")
        found = _named_so(garment_from_json(measured.record), file)

        def put_in(old: Garment | None) -> Garment:
            if old is None or not job.record:
                return found
            merged = carried(old, merge_all(with_contents(old, path.parent), found).garment)
            return note_measured(merged, job.told, photographed(found))

        try:
            garment = update_garment(path, put_in)
        except SalvageError as error:
            self._refuse(job, str(error).removeprefix(f"{path}: "), keep=False)
            return False
        content = self.store.content(path)
        self.store.keep_brief(content, brief_of(garment))
        if garment is found:
            self.store.keep_picture(content, measured.picture)
        return True

    def _place(self, photo: Photograph) -> Path:
        """Where the record of a photograph goes: beside others, under its name. Raises SalvageError."""
        path = self.home / f"{photo.path.stem}.json"
        if not path.exists():
            return path
        there = next((each for each in self.records if each.path == path), None)
        if there is None:
            return free_name(path)
        files = {os.path.realpath(path.parent / file) for file, _ in there.brief.photos}
        if os.path.realpath(photo.path) not in files:
            return free_name(path)
        if there.brief.told is not None and not there.brief.touched and not there.brief.used:
            return path  # taken again, and nobody has put anything into the old record
        raise SalvageError(
            f"was taken again since {path.name} was made, and somebody has worked on that record. Measure it by itself "
            "with salvage measure, or move the record away."
        )

    # --- telling ----------------------------------------------------------------------------------

    def cards(
        self,
        unit: Unit = Unit.MM,
        *,
        projects: Sequence[Project] = (),
        seconds: float = COUNTING,
        progress: Progress = quiet,
    ) -> tuple[Card, ...]:
        """What hangs there. projects: of which the number is wanted; seconds: for one of them and one garment."""
        kept = {each.content: self.store.garment(each.content, unit) for each in self.records}
        keys = [project_key(each) for each in projects]
        wanted: list[tuple[Record, Facts | None, tuple[int, ...]]] = []
        for record in self.records:
            known = kept[record.content]
            uncounted = tuple(
                index
                for index, key in enumerate(keys)
                if not record.brief.used
                and (known is None or not self._counted(known, key, projects[index], seconds))
            )
            if known is None or uncounted:
                wanted.append((record, None if known is None else known.facts, uncounted))
        lost = self._tell(wanted, unit, projects, keys, seconds, progress)
        made = []
        for record in self.records:
            known = self.store.garment(record.content, unit)
            if known is None or record.path in lost:
                continue
            counts = [
                self.store.copies(known.cloth, key, p.name) for key, p in zip(keys, projects, strict=True)
            ]
            made.append(
                Card(
                    named(record.path, self.folder),
                    record.content,
                    known.facts,
                    () if known.facts.used else tuple(each for each in counts if each is not None),
                )
            )
        self.store.tidy(each.content for each in self.records)
        return tuple(made)

    def _counted(self, known: Kept, key: str, project: Project, seconds: float) -> bool:
        before = self.store.copies(known.cloth, key, project.name)
        return before is not None and (before.least == before.most or before.seconds >= seconds)

    def _tell(
        self,
        wanted: Sequence[tuple[Record, Facts | None, tuple[int, ...]]],
        unit: Unit,
        projects: Sequence[Project],
        keys: Sequence[str],
        seconds: float,
        progress: Progress,
    ) -> set[Path]:
        """Have facts and numbers worked out that the index lacks. Returns the records that could not be told of."""
        jobs: dict[int, tuple[Record, tuple[int, ...]]] = {}
        lost: set[Path] = set()

        def tasks() -> Iterator[Task]:
            for record, known, indices in wanted:
                try:
                    text = record.text()
                except SalvageError as error:  # it was taken away meanwhile, which stops nobody
                    lost.add(record.path)
                    self.bad.append(
                        Bad(named(record.path, self.folder), str(error).removeprefix(f"{record.path}: "))
                    )
                    continue
                task = ToTell(text, unit, known, tuple(projects[i] for i in indices), seconds)
                jobs[id(task)] = record, indices
                yield task

        what = "telling what they hold"
        if wanted:
            progress(what, 0, len(wanted))
        for count, (task, result) in enumerate(self.crew.work(do, tasks()), 1):
            record, indices = jobs.pop(id(task))
            if isinstance(result, Told) and isinstance(task, ToTell):
                cloth = cloth_key(garment_from_json(task.record))
                if task.known is None:
                    self.store.keep_garment(record.content, unit, Kept(result.facts, cloth))
                for index, copies in zip(indices, result.made, strict=True):
                    self.store.keep_copies(cloth, keys[index], copies)
            else:
                lost.add(record.path)
                reason = result.reason if isinstance(result, Refused | Lost) else "gave no answer."
                self.bad.append(Bad(named(record.path, self.folder), reason))
            progress(what, count, len(wanted))
        return lost

    def find(
        self, cards: Iterable[Card], *, least: Size | None = None, fabric: str = "", **more: Any
    ) -> tuple[Card, ...]:
        """The cards that fit all that is told, as cards.filtered; a size that the raster leaves open is looked at on
        the cloth itself."""
        there = filtered(cards, fabric=fabric, **more)
        return tuple(each for each in there if least is None or self._is_large(each, fabric, least))

    def _is_large(self, card: Card, fabric: str, least: Size) -> bool:
        if filtered([card], fabric=fabric, least=least):
            return True
        whole_garment = not fabric or same_fabric(fabric) == card.kind
        named_so = {
            same_fabric(e.fabric)
            for e in card.fabrics
            if whole_garment or same_fabric(e.fabric) == same_fabric(fabric)
        }
        if not any(
            may_have_room(e.most_room, *least) for e in card.fabrics if same_fabric(e.fabric) in named_so
        ):
            return False
        garment = next(each for each in self.records if each.content == card.content).garment()
        for cloth in lay_of([garment], plainer=False).cloths:
            if cloth.fabric in named_so:
                run = longest_run(cloth.polygon, least[0] - HAIR, cloth.grain)
                if run is not None and run.length >= least[1] - HAIR:
                    return True
        return False

    # --- pictures ---------------------------------------------------------------------------------

    def pictures(self, cards: Sequence[Card], *, progress: Progress = quiet) -> dict[str, bytes]:
        """The small marked picture of each garment, by the content of its card, where its photograph can be had."""
        by_content = {each.content: each for each in self.records}
        found = {
            each.content: jpeg for each in cards if (jpeg := self.store.picture(each.content)) is not None
        }
        wanted = [by_content[each.content] for each in cards if each.content not in found]
        of_task: dict[int, str] = {}

        def tasks() -> Iterator[Task]:
            for record in wanted:
                task = self._to_draw(record)
                if task is not None:
                    of_task[id(task)] = record.content
                    yield task

        for count, (task, result) in enumerate(self.crew.work(do, tasks()), 1):
            content = of_task.pop(id(task))
            if isinstance(result, bytes):
                self.store.keep_picture(content, result)
                found[content] = result
            progress("drawing pictures", count, len(wanted))
        return found

    def picture(self, content: str) -> bytes | None:
        """The small marked picture of one garment; None where there is none to be had."""
        known = self.store.picture(content)
        record = next((each for each in self.records if each.content == content), None)
        if known is not None or record is None:
            return known
        task = self._to_draw(record)
        drawn = None if task is None else do(task)
        if not isinstance(drawn, bytes):
            return None
        self.store.keep_picture(content, drawn)
        return drawn

    def _to_draw(self, record: Record) -> ToDraw | None:
        with contextlib.suppress(SalvageError, OSError):
            text = record.text()
            file = first_photograph(garment_from_json(text))
            # The photographs of a rail lie in its folder, wherever the records are kept.
            path = inside(record.path.parent, file, (self.folder,)) if file else None
            if path is not None and path.is_file():
                return ToDraw(text, file, path.read_bytes())
        return None


@dataclass(frozen=True, slots=True)
class _Job:
    """A photograph to be measured. record: the one it is in already, to be measured anew."""

    photo: Photograph
    told: Telling
    record: Path | None


def _named_so(garment: Garment, file: str) -> Garment:
    """The garment with its one photograph called so, as seen from the record."""
    return replace(
        garment,
        pieces=tuple(
            replace(each, photo=None if each.photo is None else replace(each.photo, file=file))
            for each in garment.pieces
        ),
        questions=tuple(replace(each, photo=file if each.photo else "") for each in garment.questions),
    )


@contextlib.contextmanager
def open_rail(folder: Path, out: Path | None = None, *, crew: Crew | None = None) -> Iterator[Rail]:
    """The rail of a folder. out: where records are kept, if not there. Raises SalvageError."""
    home = folder if out is None else out
    store = open_store(home)
    try:
        rail = Rail(folder, home, store, look_over(folder, home, store))
        rail.bad = list(rail.found.bad)
        rail.crew = rail.crew if crew is None else crew
        yield rail
    finally:
        store.close()

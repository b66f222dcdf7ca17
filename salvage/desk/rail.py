"""What the page can ask for about the rail: all garments of the folder at once. Plain data in and out."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from salvage.cloth.garment import Garment
from salvage.desk.edit import journal
from salvage.desk.samples import sample_projects
from salvage.desk.shelf import Shelf
from salvage.desk.tabs import Tabs
from salvage.desk.workers.process import Job, Worker
from salvage.units import Unit, parse_length

Data = dict[str, Any]

_SOON = 1.5  # s after which the page follows the work by its number
_DRAWING = 60.0  # s that a picture may take, behind others that are drawn or measured


class RailDesk:
    """The rail of one folder. eye: looks at photographs; hand: answers. Its methods may be called by several threads."""

    def __init__(self, shelf: Shelf, eye: Worker, hand: Worker, tabs: Tabs, unit: Callable[[], Unit]) -> None:
        self._shelf, self._eye, self._hand, self._tabs, self._unit = shelf, eye, hand, tabs, unit

    def cards(self, told: Data) -> Data:
        """Ask what hangs there, of what fits all that is told (see salvage.desk.workers.rail_tasks.cards)."""
        self._hand.stop_all("answer")
        job = self._hand.submit("rail_cards", folder=self._folder, unit=str(self._unit()), wanted=dict(told))
        return self._soon(self._hand, job)

    def picture(self, content: str) -> bytes | None:
        """The small marked picture of a garment, a JPEG; None where there is none to be had."""
        from salvage.rail.store import open_store

        for wanted in (False, True):
            if wanted:
                job = self._eye.submit("rail_picture", folder=self._folder, content=content)
                self._eye.wait(job, _DRAWING)
            store = open_store(self._shelf.folder)
            try:
                known = store.picture(content)
            finally:
                store.close()
            if known is not None:
                return known
        return None

    def hang(self, told: Data) -> Data:
        """Begin to measure all photographs that no record is about. side: of the squares beside them, as written."""
        side = str(told.get("side") or "").strip()
        if side:
            parse_length(side)
        return {"job": self._eye.submit("rail_hang", folder=self._folder, side=side).number}

    def made(self, told: Data) -> Data:
        """Begin to ask what can be made of a garment, of the projects of the folder and the samples."""
        record = self._shelf.record(str(told["record"]))
        own = {name: self._shelf.project(name) for name in self._shelf.names((".toml",))}
        projects = [[name, str(path)] for name, path in (sample_projects() | own).items()]
        self._hand.stop_all("answer")
        self._hand.stop_all("rail_made")
        job = self._hand.submit(
            "rail_made", folder=self._folder, record=str(record), projects=projects, unit=str(self._unit())
        )
        return {"job": job.number}

    def others(self, told: Data) -> Data:
        """Begin to ask from which other garments of the folder a project can be cut."""
        project = self._shelf.project(str(told["project"]))
        without = [str(each) for each in told.get("records", ())]
        self._hand.stop_all("answer")
        self._hand.stop_all("rail_others")
        job = self._hand.submit(
            "rail_others", folder=self._folder, project=str(project), unit=str(self._unit()), without=without
        )
        return {"job": job.number}

    def used(self, told: Data) -> Data:
        """Note in a garment's record that its cloth is used up, or there again. purpose: what it went into."""
        from salvage.rail.note import mark_free, mark_used

        path = self._shelf.record(str(told["record"]))
        self._tabs.require(path.name, str(told["tab"]))
        gone, purpose = bool(told["used"]), str(told.get("purpose") or "").strip()[:100]

        def noted(garment: Garment) -> Garment:
            return (
                mark_used(garment, purpose=purpose, date=date.today().isoformat())
                if gone
                else mark_free(garment)
            )

        state = journal.change(path, noted, called={"do": "used" if gone else "free"})
        return {"revision": state.revision}

    @property
    def _folder(self) -> str:
        return str(self._shelf.folder)

    def _soon(self, worker: Worker, job: Job) -> Data:
        worker.wait(job, _SOON)
        return job.told()

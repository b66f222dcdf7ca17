"""What the page can ask for about projects: those of the folder and the samples. Plain data in and out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from salvage.desk.project.helped import helped
from salvage.desk.project.table import part_kinds, project_of, project_text, table_of
from salvage.desk.project.view import drawn_rows, project_data
from salvage.desk.samples import sample_projects
from salvage.desk.shelf import Shelf, new_only
from salvage.errors import SalvageError, UsageError
from salvage.files import update
from salvage.ours import copy_as_it_is
from salvage.project.read import read_project
from salvage.units import Unit

Data = dict[str, Any]
_TRIALS = 10  # projects that are tried only stay so long that a step back finds them


class ProjectDesk:
    """The projects of one folder. Its methods may be called by several threads."""

    def __init__(self, shelf: Shelf, unit: Callable[[], Unit]) -> None:
        self._shelf, self._unit = shelf, unit

    def lines(self) -> list[Data]:
        """What the list of projects says of those in the folder."""
        return [_line(name, self._shelf.project(name)) for name in self._shelf.names((".toml",))]

    def sample_lines(self) -> list[Data]:
        """The same of the samples that don't lie there yet."""
        return [
            {**_line(name, path), "sample": True}
            for name, path in sample_projects().items()
            if not (self._shelf.folder / name).exists()
        ]

    def path(self, name: str) -> Path:
        """A project of the folder; a sample is laid there first."""
        path = self._shelf.project(name)
        if not path.exists() and name in sample_projects():
            self.take_sample(name)
        return path

    def take_sample(self, name: str) -> str:
        """Lay a sample into the folder, with its drawing."""
        path = sample_projects().get(name)
        if path is None:
            raise UsageError(f"{name}: is no sample.")
        text = path.read_text(encoding="utf-8")
        for beside in path.parent.iterdir():
            if beside.suffix in (".svg", ".dxf") and f'"{beside.name}' in text:
                copy_as_it_is(beside, self._shelf.folder / beside.name)
        copy_as_it_is(path, self._shelf.folder / name)
        return name

    def open(self, told: Data) -> Data:
        """A project as the table shows it, with its panels drawn."""
        name = str(told["project"])
        path = self.path(name)
        project = replace(read_project(path), unit=self._unit())
        return project_data(project) | {"file": name, "table": table_of(path)}

    def shapes(self, told: Data) -> Data:
        """The panels of a project of the folder or of a sample, drawn; nothing is laid into the folder."""
        name = str(told["project"])
        path = self._shelf.project(name)
        read = read_project(path if path.exists() else sample_projects().get(name, path))
        return project_data(replace(read, unit=self._unit()))

    def draw(self, told: Data) -> Data:
        """What the rows of a table look like, while it is being typed."""
        return drawn_rows(dict(told["table"]), self._shelf.folder)

    def part_kinds(self, told: Data) -> Data:
        """The common parts that can be had from finished measures."""
        return {"kinds": part_kinds()}

    def save(self, told: Data) -> Data:
        """Write a table as a project file: its own, or a new one called like the project."""
        text = project_text(told["table"])
        project_of(told["table"], self._shelf.folder)  # says what is wrong before anything is written
        name = str(told.get("file") or "")
        if name:
            path = self.kept(name)
            update(path, lambda _: text.encode())
        else:
            wanted = f"{told['table'].get('name') or 'project'}.toml"
            path = self._shelf.lay(wanted, lambda path: update(path, new_only(text.encode())))
        return self.open({"project": path.name})

    def help(self, told: Data) -> Data:
        """Do a change that would help to a copy of the project, to be tried: it is called so, and hidden until it is
        kept. edits, percent: see fit --json."""
        percent = told.get("percent")
        table = helped(
            self._shelf.project(str(told["project"])),
            list(told.get("edits", ())),
            None if percent is None else float(percent),
        )
        project_of(table, self._shelf.folder)
        name = self._shelf.free(f"{table['name']}.toml").name
        update(self._shelf.trial(name), lambda _: project_text(table).encode())
        for old in self._shelf.trials()[_TRIALS:]:
            old.unlink(missing_ok=True)
        return {"file": name}

    def keep(self, told: Data) -> Data:
        """Lay a project that was tried among the others."""
        return {"file": self.kept(str(told["project"])).name}

    def kept(self, name: str) -> Path:
        """As `path`; a project that was tried only lies among the others from now on."""
        path = self.path(name)
        if path.name == name:
            return path
        place = self._shelf.file(name, (".toml",))
        try:
            text = path.read_bytes()
        except FileNotFoundError:  # another thread has kept it meanwhile
            return place
        update(place, lambda before: text if before is None else before)
        path.unlink(missing_ok=True)
        return place


def _line(name: str, path: Path) -> Data:
    try:
        project = read_project(path)
    except SalvageError as error:
        return {"file": name, "name": name, "error": str(error)}
    return {"file": name, "name": project.name, "parts": len(project.panels) + len(project.strips)}

"""What the page can ask for, as plain data in and out: the folder, photographs, records, projects, answers, files.

This is the page's memory while it is open: worker processes, pictures made, which tab works on what. All that counts
lies in the folder's files and is written there at once, so that a server that is killed has lost nothing.
"""

from __future__ import annotations

import base64
import io
import math
import pickle
import threading
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

from PIL import Image

from salvage.cloth.garment import Garment, Reply
from salvage.cloth.record.file import read_garment, update_garment
from salvage.cloth.record.parse import garment_from_json
from salvage.desk.edit import journal
from salvage.desk.edit.actions import needs_finding
from salvage.desk.edit.frames import frame_named
from salvage.desk.edit.typed import typed_garment, with_cloth
from salvage.desk.pictures import Pictures
from salvage.desk.projects import ProjectDesk
from salvage.desk.rail import RailDesk
from salvage.desk.samples import PHOTO, SIDE, data_folder
from salvage.desk.shelf import PHOTOS, Shelf, new_only
from salvage.desk.tabs import Tabs
from salvage.desk.view import garment_view
from salvage.desk.workers.process import Job, Worker
from salvage.desk.workers.tasks import MOST_PIXELS
from salvage.errors import SalvageError, UsageError
from salvage.files import read_text, update
from salvage.ours import check_ours, copy_as_it_is, write_ours
from salvage.photo.read import FORMATS
from salvage.rail.note import used_of
from salvage.units import Unit, parse_length

Data = dict[str, Any]
SQUARES, _SQUARE_SIDE = "squares-to-print.pdf", 150.0  # mm, as the command makes them
DRAWN = (".pdf", ".svg", ".dxf")  # files of what is drawn at full size
_PATIENCE = 8.0  # s
_FIRST, _BEHIND = 1.0, 20.0  # s: an answer's first word, and the search that goes on behind it


class Desk:
    """One folder's desk. Its methods may be called by several threads."""

    def __init__(self, shelf: Shelf, *, ahead: bool = True) -> None:
        """ahead: whether the workers load at once what will be needed."""
        self.shelf = shelf
        self._ahead = ahead
        self.eye, self.hand = Worker(), Worker()
        self.pictures = Pictures()
        self.tabs = Tabs()
        self.projects = ProjectDesk(shelf, self.unit)
        self.rail = RailDesk(shelf, self.eye, self.hand, self.tabs, self.unit)
        self._asking = threading.Lock()
        self._lines: dict[str, tuple[Any, Data]] = {}
        self._read: dict[str, tuple[str, Garment]] = {}

    def start(self) -> None:
        """Let the workers load what the first photograph and the first answer would wait for."""
        if self._ahead:
            self.eye.submit("ready", what="eye")
            self.hand.submit("ready", what="hand")

    def close(self) -> None:
        self.eye.close()
        self.hand.close()

    def job(self, number: int) -> Job | None:
        return self.eye.job(number) or self.hand.job(number)

    def worker_of(self, job: Job) -> Worker:
        return self.eye if self.eye.job(job.number) is job else self.hand

    # --- the folder --------------------------------------------------------------------------------

    def folder(self) -> Data:
        """What lies in the folder, and what was remembered."""
        photos = self.shelf.names(PHOTOS)
        return {
            "folder": self.shelf.folder.resolve().name,
            "garments": [self._garment_line(name) for name in self.shelf.names((".json",))],
            "photos": photos,
            "projects": self.projects.lines(),
            "samples": self.projects.sample_lines(),
            "settings": {"units": "mm", "side": "", **self.shelf.settings()},
        }

    def _garment_line(self, name: str) -> Data:
        """What the list of garments says of a record; read again only where the file is another by now."""
        try:
            path = self.shelf.record(name)
            status = path.stat()
            key = (status.st_mtime_ns, status.st_size)
            if self._lines.get(name, (None,))[0] != key:
                self._lines[name] = (key, self._read_line(name, path))
            return self._lines[name][1]
        except OSError as error:
            return {"file": name, "name": name, "error": f"can't be opened ({error.strerror})."}

    def _read_line(self, name: str, path: Path) -> Data:
        try:
            garment = read_garment(path)
        except SalvageError as error:
            return {"file": name, "name": name, "error": str(error)}
        photos = list(dict.fromkeys(piece.photo.file for piece in garment.pieces if piece.photo is not None))
        return {
            "file": name,
            "name": garment.name,
            "pieces": len(garment.pieces),
            "used": used_of(garment) is not None,
            "asked": sum(each.answer is Reply.OPEN for each in garment.questions),
            "photos": photos,
            "fabrics": list(dict.fromkeys(piece.fabric for piece in garment.pieces)),
        }

    def remember(self, told: Data) -> Data:
        """Remember the square's side, as it was written, and the units."""
        kept: Data = {}
        if "units" in told:
            kept["units"] = str(Unit(told["units"]))
        if "side" in told:
            side = str(told["side"]).strip()
            if side:
                parse_length(side)
            kept["side"] = self._with_unit(side)  # what a bare number means now, it means after a change too
        return self.shelf.remember(**kept)

    def take_sample(self, told: Data) -> Data:
        """Lay a sample into the folder: the demonstration photograph, or a project with its drawing."""
        if told.get("photo"):
            copy_as_it_is(data_folder("demo_images") / PHOTO, self.shelf.folder / PHOTO)
            return {"photo": PHOTO, "side": SIDE}
        return {"project": self.projects.take_sample(str(told["project"]))}

    def _with_unit(self, length: str) -> str:
        """A length as it was written, with the unit that is meant where none was."""
        return f"{length} {self.unit()}" if length and length[-1].isdigit() else length

    def unit(self) -> Unit:
        """The units that were chosen."""
        try:
            return Unit(self.shelf.settings().get("units", "mm"))
        except ValueError:
            return Unit.MM

    # --- photographs -------------------------------------------------------------------------------

    def take_photo(self, name: str, data: bytes) -> Data:
        """Put a photograph into the folder, under a free name. Raises SalvageError for what is none."""
        _require_picture(name or "photo", data)
        wanted = name if name.lower().endswith(PHOTOS) else f"{name or 'photo'}.jpg"
        same = next((each for each in self.shelf.names(PHOTOS) if _holds(self.shelf.photo(each), data)), None)
        if same is not None:
            return {"photo": same, "known": True}
        path = self.shelf.lay(wanted, lambda path: update(path, new_only(data)))
        return {"photo": path.name, "known": False}

    def picture(self, photo: str, most_px: int, box: tuple[int, ...] | None) -> bytes:
        """A photograph of the folder, reduced, or a part of it."""
        path = self.shelf.photo(photo)
        if box is None:
            return self.pictures.reduced(path, most_px)
        if len(box) != 4:
            raise UsageError("a part of a picture is left, top, right, bottom.")
        return self.pictures.part(path, (box[0], box[1], box[2], box[3]), min(most_px, 1600))

    def size(self, told: Data) -> Data:
        """Width and height of a photograph, px."""
        width, height = self.pictures.size_px(self.shelf.photo(str(told["photo"])))
        return {"width": width, "height": height}

    def squares(self, told: Data) -> Data:
        """Lay two reference squares, to print, into the folder."""
        out = self.shelf.folder / SQUARES
        check_ours(out)
        from salvage.report.paper.squares import square_pdf

        write_ours(out, square_pdf(side=_SQUARE_SIDE, count=2))
        return {"files": [{"name": SQUARES}]}

    def check(self, told: Data) -> Data:
        """Begin to look whether a photograph is good enough."""
        path = self.shelf.photo(str(told["photo"]))
        return {
            "job": self.eye.submit(
                "check", photo=str(path), side=str(told.get("side", "")), **self._hints(told)
            ).number
        }

    def measure(self, told: Data) -> Data:
        """Begin to measure a photograph, into its record or into a new one."""
        path = self.shelf.photo(str(told["photo"]))
        record = told.get("record") or self._record_of(path.name) or self.shelf.free(f"{path.stem}.json").name
        job = self.eye.submit(
            "measure", photo=str(path), record=str(self.shelf.record(str(record))), side=str(told.get("side", "")),
            name=str(told.get("name", "")), **self._hints(told),
        )  # fmt: skip
        return {"job": job.number, "record": record}

    def _hints(self, told: Data) -> Data:
        names = ("square_at", "cloth_at", "floor_at", "kind", "layers", "fabric")
        hints = {name: told[name] for name in names if told.get(name)}
        known = [[*row[:4], self._with_unit(str(row[4]).strip())] for row in told.get("known", ())]
        return hints | ({"known": known} if known else {})

    def _record_of(self, photo: str) -> str | None:
        """The record that a photograph was measured into before."""
        lines = (self._garment_line(name) for name in self.shelf.names((".json",)))
        return next((each["file"] for each in lines if photo in each.get("photos", ())), None)

    # --- records -----------------------------------------------------------------------------------

    def garment(self, told: Data) -> Data:
        """A garment as the page draws it."""
        path = self.shelf.record(str(told["record"]))
        return self._view(path, journal.state_of(path), str(told.get("tab", "")))

    def state(self, told: Data) -> Data:
        """Whether the record is still the one that the page shows, and whether this tab may change it."""
        path = self.shelf.record(str(told["record"]))
        if told.get("leave"):
            self.tabs.leave(path.name, str(told["tab"]))
            return {}
        held = False if told.get("look") else not self.tabs.holds(path.name, str(told["tab"]))
        return {"revision": journal.revision_of(read_text(path, "a garment record")), "held": held}

    def take_over(self, told: Data) -> Data:
        """Give this tab the place of the one that changes the record."""
        path = self.shelf.record(str(told["record"]))
        self.tabs.holds(path.name, str(told["tab"]), take=True)
        return self.garment(told)

    def edit(self, told: Data) -> Data:
        """Do one action and save it; where it needs the finder again, that is begun."""
        action = dict(told["action"])
        view = self._changed(told, lambda path, expects: journal.edit(path, action, expects=expects))
        if needs_finding(action):
            path = self.shelf.record(str(told["record"]))
            view["job"] = self.eye.submit(
                "refind", record=str(path), photo=str(action.get("photo", ""))
            ).number
        return view

    def undo(self, told: Data) -> Data:
        return self._changed(told, lambda path, expects: journal.undo(path, expects=expects))

    def redo(self, told: Data) -> Data:
        return self._changed(told, lambda path, expects: journal.redo(path, expects=expects))

    def _changed(self, told: Data, work: Callable[[Path, str | None], journal.State]) -> Data:
        path = self.shelf.record(str(told["record"]))
        tab = str(told["tab"])
        self.tabs.require(path.name, tab)
        expects = told.get("expects")
        return self._view(path, work(path, None if expects is None else str(expects)), tab)

    def _view(self, path: Path, state: journal.State, tab: str) -> Data:
        self._read[path.name] = (state.revision, state.garment)
        there = set(self.shelf.names(PHOTOS))
        view = garment_view(state.garment, self.unit())
        for photo in view["photos"]:
            photo["there"] = photo["file"] in there
        return view | {
            "record": path.name,
            "revision": state.revision,
            "held": not self.tabs.holds(path.name, tab),
            "undo": state.undo,
            "redo": state.redo,
        }

    def cloth(self, told: Data) -> Data:
        """Put cloth that was typed in into a record of its own, or with record into that one."""
        if told.get("record"):
            path = self.shelf.record(str(told["record"]))
            self.tabs.require(path.name, str(told["tab"]))
            journal.change(
                path, lambda garment: with_cloth(garment, told, self.unit()), called={"do": "cloth typed"}
            )
            return {"record": path.name}
        garment = typed_garment(told, self.unit())
        path = self.shelf.lay(f"{garment.name}.json", lambda path: update_garment(path, new_only(garment)))
        return {"record": path.name}

    def tape(self, told: Data) -> Data:
        """The distance between two places on a photograph, with its plus-minus."""
        from salvage.report.say.summary import tape_line

        garment = read_garment(self.shelf.record(str(told["record"])))
        (ax, ay), (bx, by) = told["px"]
        if told.get("photo") == "":  # typed-in cloth lies on plain ground, a pixel a millimetre
            edge = max((each.plus_minus.edge for each in garment.pieces if each.photo is None), default=0.0)
            length, plus_minus = math.dist((ax, ay), (bx, by)), edge
        else:
            frame = frame_named(garment, told.get("photo"))
            length, plus_minus = frame.plane.length([float(ax), float(ay)], [float(bx), float(by)])
        line = tape_line((ax, ay), (bx, by), length, plus_minus, self.unit())
        return {
            "length": round(length, 2),
            "plus_minus": round(plus_minus, 2),
            "said": line.partition(": ")[2],
        }

    # --- the answer --------------------------------------------------------------------------------

    def answer(self, told: Data) -> Data:
        """Ask for the answer: a first word at once, and then, with improve, what a longer search finds."""
        records = [str(self.shelf.record(str(each))) for each in told["records"]]
        project = str(self.projects.path(str(told["project"])))
        longer = bool(told.get("improve"))
        with self._asking:
            self.hand.stop_all("answer")
            job = self.hand.submit(
                "answer", records=records, garments=[self._packed(Path(each)) for each in records], project=project,
                unit=str(self.unit()), pins=list(told.get("pins", ())), seconds=_BEHIND if longer else _FIRST, improve=longer,
            )  # fmt: skip
        if not longer:
            self.hand.wait(job, _FIRST)
        return job.told()

    def _packed(self, path: Path) -> str:
        """The garment in a record, as the worker takes it: reading the text once more would double the wait."""
        text = read_text(path, "a garment record (.json)")
        revision = journal.revision_of(text)
        if self._read.get(path.name, ("",))[0] != revision:
            self._read[path.name] = (revision, garment_from_json(text, str(path)))
        return base64.b64encode(pickle.dumps(self._read[path.name][1])).decode()

    def stop(self, told: Data) -> Data:
        """Stop a job; what it has so far comes."""
        job = self.job(int(told["job"]))
        if job is not None:
            self.worker_of(job).stop(job)
        return {}

    def drag(self, told: Data) -> Data:
        """A panel dragged on the photograph: where it lies then, and why it may not."""
        from_px, to_px = told["from_px"], told["to_px"]
        self.hand.stop_all("answer")  # whoever drags a panel doesn't wait for a better layout
        job = self.hand.submit(
            "drag", placement=dict(told["placement"]), from_px=list(from_px), to_px=list(to_px), turn=float(told.get("turn", 0)),
        )  # fmt: skip
        self.hand.wait(job, _PATIENCE)
        if job.state != "done":
            raise SalvageError(job.error or "that took too long. Try once more.")
        return {"placement": job.result}

    # --- files -------------------------------------------------------------------------------------

    def report(self, told: Data) -> Data:
        """Begin to write the report, the cutting chart and the marked picture. large, grey: how it is printed."""
        records = [str(self.shelf.record(str(each))) for each in told["records"]]
        project = self.projects.kept(str(told["project"]))
        large, grey = bool(told.get("large")), bool(told.get("grey"))
        looks = ("-large" if large else "") + ("-grey" if grey else "")
        out = self.shelf.folder / f"{Path(records[0]).stem}-{project.stem}{looks}.html"
        job = self.hand.submit(
            "report", records=records, project=str(project), out=str(out), unit=str(self.unit()), large=large, grey=grey,
        )  # fmt: skip
        return {"job": job.number}

    def templates(self, told: Data) -> Data:
        """Begin to draw at full size: the panels, or with layout all of the layout. ending: of the file; paper: that
        it is tiled on, "" for one sheet."""
        records = [str(self.shelf.record(str(each))) for each in told.get("records", ())]
        project = self.projects.kept(str(told["project"]))
        layout, ending, paper = bool(told.get("layout")), str(told["ending"]), str(told.get("paper") or "")
        if ending not in DRAWN:
            raise UsageError(f"{ending}: choose one of {', '.join(DRAWN)}.")
        name = f"{Path(records[0]).stem}-{project.stem}-layout" if layout else f"template-{project.stem}"
        sheet = f"-{paper}" if paper and ending == ".pdf" and not layout else ""
        out = self.shelf.file(f"{name}{sheet}{ending}", DRAWN)
        job = self.hand.submit(
            "templates", records=records, project=str(project), out=str(out), unit=str(self.unit()), layout=layout, paper=paper,
        )  # fmt: skip
        return {"job": job.number}

    def cut(self, told: Data) -> Data:
        """Begin to note that it was cut: the garments of the answer are used up, what is left of each is kept."""
        records = [str(self.shelf.record(str(each))) for each in told["records"]]
        for each in records:
            self.tabs.require(Path(each).name, str(told["tab"]))
        project = self.projects.kept(str(told["project"]))
        return {
            "job": self.hand.submit(
                "cut", records=records, project=str(project), unit=str(self.unit())
            ).number
        }

    def files(self, told: Data) -> Data:
        """Those of the named files that are there, for fetching."""
        names = [str(each) for each in told["names"]]
        return {"files": [{"name": name} for name in names if self.result(name).is_file()]}

    def result(self, name: str) -> Path:
        return self.shelf.file(name, (".html", ".csv", ".json", ".toml", *DRAWN, *PHOTOS))


def _holds(path: Path, data: bytes) -> bool:
    try:
        return path.stat().st_size == len(data) and path.read_bytes() == data
    except OSError:
        return False


def _require_picture(name: str, data: bytes) -> None:
    """Raise SalvageError for what is no picture of a kind that is read, or has too many pixels; nothing is unpacked."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=FORMATS) as image:
                width, height = image.size
    except Image.DecompressionBombError as error:
        raise SalvageError(f"{name}: has more pixels than any telephone takes. Save it smaller.") from error
    except Exception as error:  # Pillow raises all sorts for what it can't read
        raise SalvageError(
            f"{name}: not a picture that can be read. Give a photograph as JPEG, PNG, HEIC, WebP or TIFF."
        ) from error
    if width * height > MOST_PIXELS:
        raise SalvageError(f"{name}: has {width} x {height} pixels. Save it smaller.")

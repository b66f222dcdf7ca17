"""What the page asks of the rail: what is begun with whom, what is stopped for it, and what is noted in a record."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any, cast

import pytest
from desk_garments import COAT

from salvage.cloth.record.file import read_garment
from salvage.cloth.record.write import garment_to_json
from salvage.desk.edit import journal
from salvage.desk.rail import RailDesk
from salvage.desk.samples import sample_projects
from salvage.desk.shelf import Shelf
from salvage.desk.tabs import Elsewhere, Tabs
from salvage.desk.workers.process import Job, Worker
from salvage.desk.workers.rail_tasks import TASKS
from salvage.errors import UsageError
from salvage.rail.note import used_of
from salvage.rail.store import open_store
from salvage.units import Unit


class Listing:
    """A worker that does nothing but say what it was asked; `does` is done when it is waited for."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, Any]] = []
        self.does: Any = None

    def submit(self, task: str, **args: Any) -> Job:
        assert task in TASKS
        self.asked.append((task, args))
        return Job(task, args)

    def stop_all(self, task: str) -> None:
        self.asked.append(("stop", task))

    def wait(self, job: Job, seconds: float) -> None:
        assert 0 < seconds <= 60
        if self.does is not None:
            self.does()


@pytest.fixture
def eye() -> Listing:
    return Listing()


@pytest.fixture
def hand() -> Listing:
    return Listing()


@pytest.fixture
def desk(tmp_path: Path, eye: Listing, hand: Listing) -> RailDesk:
    (tmp_path / "coat.json").write_text(garment_to_json(COAT), encoding="utf-8")
    (tmp_path / "mine.toml").write_text('name = "mine"\n[[panel]]\nname = "a"\nsize = [50, 60]\n')
    workers = cast(Worker, eye), cast(Worker, hand)
    return RailDesk(Shelf(tmp_path), *workers, Tabs(), lambda: Unit.CM)


def test_cards_are_asked_of_the_hand_with_all_that_is_wanted(
    desk: RailDesk, hand: Listing, eye: Listing, tmp_path: Path
) -> None:
    told = desk.cards({"text": "coat", "sort": "name"})
    assert hand.asked == [
        ("stop", "answer"),
        ("rail_cards", {"folder": str(tmp_path), "unit": "cm", "wanted": {"text": "coat", "sort": "name"}}),
    ]
    assert (told["state"], told["task"]) == ("waiting", "rail_cards")
    assert eye.asked == []


@pytest.mark.parametrize("side", ["150mm", "", "  "])
def test_hanging_looks_at_photographs(desk: RailDesk, eye: Listing, tmp_path: Path, side: str) -> None:
    assert desk.hang({"side": side})["job"] > 0
    assert eye.asked == [("rail_hang", {"folder": str(tmp_path), "side": side.strip()})]


def test_a_side_that_is_no_length_is_said_before_anything_is_begun(desk: RailDesk, eye: Listing) -> None:
    with pytest.raises(UsageError):
        desk.hang({"side": "wide"})
    assert eye.asked == []


def test_what_can_be_made_is_asked_of_own_projects_and_samples(
    desk: RailDesk, hand: Listing, tmp_path: Path
) -> None:
    (tmp_path / "tool_roll.toml").write_text((tmp_path / "mine.toml").read_text())
    desk.made({"record": "coat.json"})
    *stopped, (task, args) = hand.asked
    assert stopped == [("stop", "answer"), ("stop", "rail_made")]
    assert (task, args["record"], args["unit"]) == ("rail_made", str(tmp_path / "coat.json"), "cm")
    paths = dict(args["projects"])
    assert set(paths) == {*sample_projects(), "mine.toml"}
    assert paths["mine.toml"] == str(tmp_path / "mine.toml")
    assert paths["tool_roll.toml"] == str(tmp_path / "tool_roll.toml")  # one's own goes before the sample
    with pytest.raises(UsageError):
        desk.made({"record": "../coat.json"})


def test_other_garments_are_asked_without_those_that_were(
    desk: RailDesk, hand: Listing, tmp_path: Path
) -> None:
    desk.others({"project": "mine.toml", "records": ["coat.json"]})
    assert hand.asked[:2] == [("stop", "answer"), ("stop", "rail_others")]
    assert hand.asked[2] == (
        "rail_others",
        {
            "folder": str(tmp_path), "project": str(tmp_path / "mine.toml"), "unit": "cm", "without": ["coat.json"],
        },
    )  # fmt: skip


def test_used_up_is_noted_undone_and_free_again(desk: RailDesk, tmp_path: Path) -> None:
    path = tmp_path / "coat.json"
    before = path.read_bytes()
    told = {"record": "coat.json", "tab": "one"}
    first = desk.used(told | {"used": True, "purpose": "  Bag " + "x" * 200})
    used = used_of(read_garment(path))
    assert used is not None
    assert (used.date, used.purpose) == (date.today().isoformat(), ("Bag " + "x" * 200)[:100])
    assert read_garment(path).pieces == COAT.pieces
    again = desk.used(told | {"used": False})
    assert used_of(read_garment(path)) is None
    assert first["revision"] != again["revision"]
    assert journal.undo(path).undo == {"do": "used"}
    assert used_of(read_garment(path)) == used
    journal.undo(path)
    assert path.read_bytes() == before


def test_another_tab_can_not_mark_it(desk: RailDesk, tmp_path: Path) -> None:
    desk.used({"record": "coat.json", "tab": "one", "used": False})
    before = (tmp_path / "coat.json").read_bytes()
    with pytest.raises(Elsewhere):
        desk.used({"record": "coat.json", "tab": "two", "used": True})
    assert (tmp_path / "coat.json").read_bytes() == before


def test_a_picture_that_is_known_is_not_drawn_again(desk: RailDesk, eye: Listing, tmp_path: Path) -> None:
    def draw() -> None:
        with open_store(tmp_path) as store:
            store.keep_picture("c0ffee", b"\xff\xd8drawn")

    eye.does = draw
    assert desk.picture("c0ffee") == b"\xff\xd8drawn"
    assert eye.asked == [("rail_picture", {"folder": str(tmp_path), "content": "c0ffee"})]
    assert desk.picture("c0ffee") == b"\xff\xd8drawn"
    assert len(eye.asked) == 1


def test_a_picture_that_can_not_be_had_is_none(desk: RailDesk, eye: Listing) -> None:
    assert desk.picture("beef") is None
    assert len(eye.asked) == 1

"""The rail's work for the page: the same garments and answers as the rooms themselves give."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from rail_crew import MadeUp, draw
from rail_garments import cloth
from shapely.geometry import box

from salvage.cloth.record.write import garment_to_json
from salvage.desk.teller import Teller
from salvage.desk.workers.rail_tasks import TASKS, _least, cards, hang, made, others, picture
from salvage.errors import UsageError
from salvage.rail.crew import pool
from salvage.rail.note import mark_used
from salvage.rail.store import open_store
from salvage.units import Unit

SIZES = {"small": (150, 200), "large": (400, 500), "sheet": (300, 900)}
POUCH = 'name = "Pouch"\n[[panel]]\nname = "body"\nsize = [140, 190]\n'
BAG = 'name = "Bag"\n[[panel]]\nname = "body"\nsize = [380, 480]\n'


class Page:
    """A page that listens, and may want no more after so many words."""

    def __init__(self, stop_after: int | None = None) -> None:
        self.told: list[dict[str, Any]] = []
        self.stop_after = stop_after
        self.teller = Teller(lambda **what: self.told.append(what), self._stopped)

    def _stopped(self) -> bool:
        return self.stop_after is not None and len(self.told) >= self.stop_after


@pytest.fixture(scope="module")
def pile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that nobody changes, so that what its index knows is worked out once."""
    tmp_path = tmp_path_factory.mktemp("pile")
    for name, size in SIZES.items():
        garment = replace(cloth(name, box(0, 0, *size)), kind="denim" if name == "sheet" else "")
        (tmp_path / f"{name}.json").write_text(garment_to_json(garment))
    gone = mark_used(cloth("gone", box(0, 0, 600, 600)), purpose="Bag")
    (tmp_path / "gone.json").write_text(garment_to_json(gone))
    padded = replace(cloth("down", box(0, 0, 300, 300)), kind="padded")
    (tmp_path / "down.json").write_text(garment_to_json(padded))
    (tmp_path / "spoilt.json").write_text('{"format": "salvage garment 1"')
    (tmp_path / "pouch.toml").write_text(POUCH)
    (tmp_path / "bag.toml").write_text(BAG)
    (tmp_path / "again.toml").write_text(POUCH)  # two projects of one name are two
    (tmp_path / "wrong.toml").write_text("name = ")
    cards(Page().teller, str(tmp_path), "mm", {})
    return tmp_path


def shown(pile: Path, **wanted: Any) -> list[str]:
    told = cards(Page().teller, str(pile), "mm", wanted)
    assert {each["file"] for each in told["cards"]} == {f"{each}.json" for each in (*SIZES, "gone", "down")}
    return [each.removesuffix(".json") for each in told["shown"]]


def test_cards_by_all_that_can_be_wanted(pile: Path) -> None:
    assert shown(pile) == ["sheet", "large", "small", "down", "gone"]  # by area, what nobody can use last
    assert shown(pile, sort="name") == ["large", "sheet", "small", "down", "gone"]
    assert shown(pile, sort="beauty") == ["sheet", "large", "small", "down", "gone"]
    assert shown(pile, text="SMA") == ["small"]
    assert shown(pile, used="yes") == ["gone"]
    assert shown(pile, used="no", sort="name") == ["large", "sheet", "small", "down"]
    assert shown(pile, cloth="kind:denim") == ["sheet"]
    assert shown(pile, cloth="fabric:lining") == []
    assert shown(pile, used="no", least=["", "600"]) == ["sheet"]
    assert shown(pile, used="no", least=["35cm", ""]) == ["large"]
    assert shown(pile, used="no", least=["300mm", "900mm"]) == ["sheet"]  # to the millimetre
    with pytest.raises(UsageError):
        shown(pile, least=["wide", ""])


def test_of_a_size_half_told_the_other_half_is_as_small_as_you_like() -> None:
    assert _least(["", "60cm"], Unit.MM) == (1.0, 600.0)
    assert _least([" 10 ", None], Unit.INCH) == (254.0, 1.0)
    assert _least(["", " "], Unit.MM) is _least(None, Unit.MM) is None


def test_sums_are_of_what_is_shown_and_a_spoilt_file_is_named(pile: Path) -> None:
    told = cards(Page().teller, str(pile), "mm", {"text": "e"})
    assert [each["file"] for each in told["cards"] if each["used"]] == ["gone.json"]
    assert told["shown"] == ["sheet.json", "large.json", "gone.json"]
    assert told["totals"] == [["shell", f"{(400 * 500 + 300 * 900) / 100:,.0f} cm²"]]
    assert (told["kinds"], told["fabrics"], told["waiting"]) == (["denim", "padded"], ["shell"], [])
    assert [each["file"] for each in told["bad"]] == ["spoilt.json"]


def test_how_far_it_is_is_told_with_the_time_left(tmp_path: Path) -> None:
    for n in range(2):
        (tmp_path / f"{n}.json").write_text(garment_to_json(cloth(f"{n}", box(0, 0, 60 + n, 60))))
    page = Page()
    cards(page.teller, str(tmp_path), "mm", {})
    counts = [each["counts"] for each in page.told if "counts" in each]
    assert [done for done, _, _ in counts] == list(range(counts[0][0], counts[-1][1] + 1))
    assert counts[-1][:2] == (2, 2)
    assert all(left is None or left >= 0 for _, _, left in counts)


def test_what_can_be_made_of_one(pile: Path) -> None:
    page = Page()
    files = [[each, str(pile / each)] for each in ("pouch.toml", "bag.toml", "wrong.toml", "again.toml")]
    told = made(page.teller, str(pile), str(pile / "small.json"), files, "mm")
    assert told["of"] == 3
    verdicts = {each["project"]: each["verdict"] for each in told["answers"]}
    assert verdicts == {"pouch.toml": "yes", "again.toml": "yes", "bag.toml": "no"}
    parts = [each["part"]["answers"] for each in page.told if "part" in each]
    assert [len(each) for each in parts] == sorted(len(each) for each in parts)
    assert parts[-1] == told["answers"]
    stopped = Page(stop_after=0)
    assert made(stopped.teller, str(pile), str(pile / "large.json"), files, "mm")["of"] == 3


def test_from_which_others_a_project_can_be_cut(pile: Path) -> None:
    page = Page()
    told = others(page.teller, str(pile), str(pile / "pouch.toml"), "mm", ["large.json"])
    assert [each["file"] for each in told["found"]] == ["sheet.json", "small.json"]  # most cloth first
    assert {each["verdict"] for each in told["found"]} == {"yes"}
    assert told["asked"] == 2  # none that is used up, not suited or asked already
    only = others(Page().teller, str(pile), str(pile / "bag.toml"), "mm", [])
    assert [each["file"] for each in only["found"]] == ["large.json"]
    assert only["asked"] == 3


@contextmanager
def _crew(monkeypatch: pytest.MonkeyPatch, crew: MadeUp) -> Iterator[None]:
    with monkeypatch.context() as patch:
        patch.setattr(pool, "Processes", lambda: crew)
        yield


def test_photographs_are_hung_and_what_was_done_stays_when_the_page_stops(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for n, name in enumerate(("a.png", "b bad.png", "c.png")):
        draw(tmp_path / name, 20 * n)
    crew = MadeUp()
    with _crew(monkeypatch, crew):
        stopped = hang(Page(stop_after=1).teller, str(tmp_path), "150mm")
    assert stopped["measured"] == 0
    assert "a.png" not in stopped["waiting"]
    with _crew(monkeypatch, crew):
        told = hang(Page().teller, str(tmp_path), "150mm")
    assert told["measured"] == 1
    assert [each["file"] for each in told["bad"]] == ["b bad.png"]
    hung = cards(Page().teller, str(tmp_path), "mm", {})
    assert sorted(each["name"] for each in hung["cards"]) == ["a", "c"]


@pytest.mark.parametrize(("side", "told"), [("6in", 152.4), ("  ", None)])
def test_the_side_is_told_to_who_measures(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, side: str, told: float | None
) -> None:
    draw(tmp_path / "a.png", 40)
    seen: list[Any] = []

    class Noting(MadeUp):
        def work(self, call: Any, tasks: Any) -> Any:
            for task, result in super().work(call, tasks):
                seen.append(task.told.side)
                yield task, result

    with _crew(monkeypatch, Noting()):
        hang(Page().teller, str(tmp_path), side)
    assert seen == ([None] if told is None else pytest.approx([told]))


def test_a_picture_is_drawn_into_the_index_or_there_is_none(tmp_path: Path) -> None:
    assert picture(Page().teller, str(tmp_path), "beef") == {"drawn": False}
    with open_store(tmp_path) as store:
        store.keep_picture("beef", b"\xff\xd8")
    assert picture(Page().teller, str(tmp_path), "beef") == {"drawn": True}


def test_each_task_is_known_by_its_name() -> None:
    assert set(TASKS) == {f"rail_{each}" for each in ("cards", "picture", "hang", "made", "others")}

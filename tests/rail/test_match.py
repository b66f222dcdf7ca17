"""Many garments and many projects: answers as fit gives them, a plan that nothing betters, and no work done twice."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from rail_garments import cloth, rectangle
from shapely.geometry import box

from salvage.cloth.record.write import garment_to_json
from salvage.fit.fit import fit_project
from salvage.project.project import Project
from salvage.rail.answer.settle import BY_FACTS, UNSUITED, Settled
from salvage.rail.crew.tasks import ToAsk
from salvage.rail.match import Matched, Wish, match
from salvage.rail.rail import open_rail
from salvage.rail.show.table import match_csv, match_lines

GARMENTS = {
    "small": cloth("small", box(0, 0, 210, 210)),
    "large": cloth("large", box(0, 0, 500, 500)),
    "tiny": cloth("tiny", box(0, 0, 90, 90)),
}
POUCH = Project("Pouch", (rectangle("body", 200, 200),))
BAG = Project("Bag", (rectangle("body", 400, 400),))


@dataclass
class Counting:
    """A crew that counts what it is asked. answers: instead of the fit room's, by (garment's name, project's name);
    stop_after: so many questions, as if somebody pressed Ctrl-C."""

    size: int = 1
    asked: list[tuple[str, bool]] = field(default_factory=list)
    answers: dict[str, Settled] = field(default_factory=dict)
    stop_after: int | None = None

    def work(self, call: Callable[[Any], Any], tasks: Iterable[Any]) -> Iterator[tuple[Any, Any]]:
        for task in tasks:
            if isinstance(task, ToAsk):
                if self.stop_after is not None and len(self.asked) >= self.stop_after:
                    raise KeyboardInterrupt
                self.asked.append((task.project.name, task.quick))
                if task.project.name in self.answers:
                    yield task, self.answers[task.project.name]
                    continue
            yield task, call(task)


@pytest.fixture
def pile(tmp_path: Path) -> Path:
    for name, garment in GARMENTS.items():
        (tmp_path / f"{name}.json").write_text(garment_to_json(garment))
    return tmp_path


def matched(pile: Path, projects: list[Project], crew: Counting, **more: Any) -> Matched:
    with open_rail(pile, crew=crew) as rail:
        return match(rail, rail.cards(), projects, **more)


def test_a_padded_garment_on_the_rail_is_told_and_keeps_no_other_from_being_matched(pile: Path) -> None:
    padded = replace(cloth("down jacket", box(0, 0, 900, 900)), kind="padded")
    (pile / "down.json").write_text(garment_to_json(padded))
    found = matched(pile, [BAG], Counting())
    verdicts = {found.cards[g].name: each.verdict for (g, _), each in found.answers.items()}
    assert (verdicts["down jacket"], verdicts["large"]) == (UNSUITED, "yes")
    assert made(found) == {"large": "Bag"}
    told = [line for line in match_lines(found, ["Bag"]) if line.startswith("  down jacket, Bag: ")]
    assert [line.lower().count("not suited") for line in told] == [1]


def made(found: Matched) -> dict[str, str]:
    return {found.cards[g].name: found.projects[p].name for g, p in found.plan.pairs}


def test_answers_and_plan(pile: Path) -> None:
    crew = Counting()
    found = matched(pile, [POUCH, BAG], crew)
    for (g, p), asked in found.answers.items():
        garment = GARMENTS[found.cards[g].name]
        assert asked.verdict == fit_project([garment], found.projects[p], seconds=2).verdict
    assert made(found) == {"small": "Pouch", "large": "Bag"}
    assert found.plan.worth == found.could == 2
    assert len(crew.asked) == 3  # what is too large by the facts is asked of nobody
    assert sum(each.proof == BY_FACTS for each in found.answers.values()) == 3


def test_asked_again_it_asks_nobody(pile: Path) -> None:
    matched(pile, [POUCH, BAG], Counting())
    crew = Counting()
    assert made(matched(pile, [POUCH, BAG], crew)) == {"small": "Pouch", "large": "Bag"}
    assert crew.asked == []


def test_stopped_it_goes_on_from_there(pile: Path) -> None:
    first = matched(pile, [POUCH, BAG], Counting(stop_after=2))
    assert first.stopped
    assert first.open == 1
    crew = Counting()
    assert made(matched(pile, [POUCH, BAG], crew)) == {"small": "Pouch", "large": "Bag"}
    assert len(crew.asked) == 1


def test_without_time_nothing_is_asked_and_that_is_said(pile: Path) -> None:
    crew = Counting()
    found = matched(pile, [POUCH, BAG], crew, seconds=0.0)
    assert crew.asked == []
    assert found.late
    assert found.could == 2
    text = "\n".join(match_lines(found, ["Pouch", "Bag"]))
    assert "goes on from here" in text
    assert "2 at the most" in text


def test_worth_and_wanted(pile: Path) -> None:
    found = matched(pile, [POUCH, BAG], Counting(), wishes=[Wish(5.0, None), Wish(1.0, None)])
    assert made(found) == {"small": "Pouch", "large": "Pouch"}
    assert found.plan.worth == 10
    found = matched(pile, [POUCH, BAG], Counting(), wishes=[Wish(5.0, 1), Wish(1.0, 0)])
    assert made(found) == {"small": "Pouch"}  # the large one stays on the rail


def test_time_goes_first_where_it_could_change_the_plan(pile: Path) -> None:
    """Both are open after the quick look; only the one that is worth something is looked at closely first."""
    unsettled = {name: Settled(name, "unsettled", "not found", 1.0) for name in ("Pouch", "Bag")}
    crew = Counting(answers=unsettled)
    found = matched(pile, [POUCH, BAG], crew, wishes=[Wish(0.0), Wish(3.0)], seconds=30.0)
    closely = [name for name, quick in crew.asked if not quick]
    assert closely[0] == "Bag"
    assert found.could == 3
    assert not found.plan.pairs


def test_a_garment_used_up_is_left_out(pile: Path) -> None:
    from salvage.cloth.record.file import update_garment
    from salvage.rail.note import mark_used

    update_garment(pile / "large.json", mark_used)  # type: ignore[arg-type]
    found = matched(pile, [POUCH, BAG], Counting())
    assert [each.name for each in found.cards] == ["small", "tiny"]
    assert made(found) == {"small": "Pouch"}


def test_tables(pile: Path) -> None:
    found = matched(pile, [POUCH, BAG], Counting())
    lines = match_lines(found, ["Pouch", "Bag"])
    assert "To make 2 projects, each garment once:" in lines[0]
    assert any(line.split() == ["tiny", "no", "no"] for line in lines)
    assert any("no other choice makes more" in line for line in lines)
    rows = match_csv(found, ["Pouch", "Bag"]).split("\r\n")
    assert rows[0].startswith("garment,file,project,answer,to make")
    assert len(rows) == 1 + 6 + 1

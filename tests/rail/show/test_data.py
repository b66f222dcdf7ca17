"""The rail as data: every garment, every answer and every file that can't be used is in it, and it is plain JSON."""

from __future__ import annotations

import json
from typing import Any

from rail_garments import cloth, rectangle
from shapely.geometry import box

from salvage.project.project import Project
from salvage.rail.answer.assign import Assignment
from salvage.rail.answer.settle import Settled
from salvage.rail.folder import Bad
from salvage.rail.known.facts import facts_of
from salvage.rail.match import Matched
from salvage.rail.show.cards import Card
from salvage.rail.show.data import match_data, rail_data, unused_data
from salvage.units import Unit

CARDS = tuple(
    Card(f"{name}.json", name * 8, facts_of(cloth(name, box(0, 0, side, side))))
    for name, side in (("small", 150), ("large", 400))
)
BAD = (Bad("notes.json", "is no record."), Bad("a.jpg", "blurred."))


def plain(data: Any) -> Any:
    return json.loads(json.dumps(data))


def test_garments_in_their_order_and_what_can_not_be_used() -> None:
    told = plain(rail_data(CARDS, BAD, Unit.MM))
    assert (told["format"], told["units"]) == ("salvage rail 1", "mm")
    assert [(each["file"], each["area"]) for each in told["garments"]] == [
        ("small.json", 150**2), ("large.json", 400**2),
    ]  # fmt: skip
    assert told["unused"] == [
        {"file": "notes.json", "reason": "is no record."}, {"file": "a.jpg", "reason": "blurred."},
    ]  # fmt: skip


def test_which_from_which_by_the_files_and_the_names_told() -> None:
    projects = tuple(Project(name, (rectangle("a", 9, 9),)) for name in ("Bag", "Roll"))
    answers = {
        (1, 1): Settled("Roll", "yes", "fits.", 1.234, spare=7.126),
        (0, 1): Settled("Roll", "unsettled"),
        (0, 0): Settled("Bag", "no", "too small."),
        (1, 0): Settled("Bag", "unsettled"),
    }
    found = Matched(CARDS, projects, answers, Assignment(((1, 1),), 2.0), 5.0, stopped=True)
    told = plain(match_data(found, ["bag.toml", "roll.toml"], [("x.toml", "has no panel.")]))
    assert told["make"] == [{"garment": "large.json", "project": "roll.toml"}]
    assert (told["worth"], told["worth_at_most"], told["open"], told["stopped"]) == (2.0, 5.0, 2, True)
    assert [
        (each["garment"], each["name"], each["project"], each["verdict"]) for each in told["answers"]
    ] == [
        ("small.json", "small", "bag.toml", "no"),
        ("small.json", "small", "roll.toml", "unsettled"),
        ("large.json", "large", "bag.toml", "unsettled"),
        ("large.json", "large", "roll.toml", "yes"),
    ]
    assert (told["answers"][3]["spare"], told["answers"][0]["spare"]) == (7.13, None)
    assert told["unused"] == [{"file": "x.toml", "reason": "has no panel."}]
    assert unused_data(()) == []

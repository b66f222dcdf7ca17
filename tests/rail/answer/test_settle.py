"""One garment and one project: what the facts refuse has no layout, and the rest is what fit says."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rail_garments import cloth, garment, project, rectangle
from shapely.geometry import box

from salvage.fit.answer import Verdict
from salvage.fit.fit import fit_project
from salvage.project.project import Grain, Join, Project, Strip
from salvage.rail.answer.ask import made_of
from salvage.rail.answer.copies import copies_of, times
from salvage.rail.answer.settle import BY_FACTS, UNSUITED, by_facts, settle
from salvage.rail.known.facts import facts_from_data, facts_of, facts_to_data
from salvage.rail.store import in_memory

SHEET = cloth("sheet", box(0, 0, 300, 500))


def one(width: float, length: float, **more: object) -> Project:
    return Project("one", (rectangle("body", width, length, **more),), cutting_gap=0.0)


@settings(max_examples=8)
@given(
    st.integers(0, 5000), st.lists(st.tuples(st.integers(0, 5000), st.floats(0, 1)), min_size=4, max_size=8)
)
def test_the_facts_never_refuse_what_fit_lays_out(number: int, asked: list[tuple[int, float]]) -> None:
    """Where the facts say no, no layout is found; that what they say no to is refused by proof the bench looks at."""
    this = garment(number)
    facts = facts_of(this)
    for wanted in (project(other, large) for other, large in asked):
        told = by_facts(facts, wanted)
        if told is not None and told.verdict != UNSUITED:
            answer = fit_project([this], wanted, seconds=1.0, brief=True)
            assert answer.verdict in (Verdict.NO, Verdict.UNSETTLED), told.reason


@pytest.mark.parametrize(
    ("wanted", "says_no"),
    [
        (one(300, 500), False),  # exactly the sheet
        (one(310, 480), False),  # might: the raster's cells are 10 mm
        (one(321, 400), True),
        (one(500, 300), True),  # the length must run along the grain
        (one(500, 300, grain=Grain.EITHER), False),
        (one(500, 300, grain=Grain.ACROSS), False),
        (one(300, 500, grain=Grain.ACROSS), True),
        (one(420, 320, rotations=(45.0,)), False),  # other angles are none of the raster's business
        (one(321, 400, off_grain=3.0), False),
        (one(330, 400, joins=1), False),  # may be pieced
        (one(150, 300, cut=4), True),  # 180 000 of 150 000 mm^2
        (Project("strip", (), (Strip("tie", 40, 600, join=Join.NONE),)), True),
        (Project("strip", (), (Strip("tie", 40, 600, join=Join.BIAS),)), False),
    ],
)
def test_what_the_facts_say(wanted: Project, says_no: bool) -> None:
    told = by_facts(facts_of(SHEET), wanted)
    assert (told is not None) is says_no
    if told is not None:
        assert told.verdict == "no"
        assert told.proof == BY_FACTS
        assert told.reason.endswith(".")


def test_a_missing_fabric_is_named() -> None:
    told = by_facts(facts_of(SHEET), one(50, 50, fabric="lining"))
    assert told is not None
    assert "none of it" in told.reason


def test_padded_cloth_is_not_suited_whatever_its_size() -> None:
    padded = cloth("coat", box(0, 0, 900, 900))
    padded = type(padded)(padded.name, padded.pieces, kind="padded")
    assert settle(padded, one(50, 50), seconds=1).verdict == UNSUITED
    told = by_facts(facts_of(padded), one(50, 50))
    assert told is not None
    assert told.verdict == UNSUITED
    assert (told.yes, told.settled) == (False, True)
    assert copies_of(padded, one(50, 50), seconds=1).most == 0


def test_settled_by_the_fit_room() -> None:
    asked = settle(SHEET, one(200, 300), seconds=2)
    assert asked.yes
    assert asked.settled
    assert settle(SHEET, one(310, 490), seconds=2).verdict == "no"


def test_of_several_fabrics_the_worst_holds() -> None:
    both = Project("both", (rectangle("a", 100, 100), rectangle("b", 100, 100, fabric="lining")))
    assert settle(SHEET, both, seconds=2).verdict == "no"


def test_a_piece_that_is_not_there_is_a_no_with_the_reason() -> None:
    asked = settle(SHEET, one(50, 50, pieces=("left sleeve",)), seconds=1)
    assert asked.verdict == "no"
    assert "left sleeve" in asked.reason


def test_how_many_copies() -> None:
    counted = copies_of(SHEET, one(100, 100), seconds=8)  # 3 across and 5 along, no gap
    assert counted.most == 15
    assert 8 <= counted.least <= 15
    assert copies_of(SHEET, one(290, 480), seconds=3).words == "1"
    none = copies_of(SHEET, one(400, 400), seconds=3)
    assert (none.least, none.most) == (0, 0)
    assert none.why


def test_times_asks_for_each_thing_so_often() -> None:
    wanted = Project("p", (rectangle("a", 10, 10, cut=2, many=True),), (Strip("s", 40, 100, longest=True),))
    thrice = times(wanted, 3)
    assert (thrice.panels[0].cut, thrice.strips[0].cut) == (6, 3)
    assert not thrice.panels[0].many
    assert not thrice.strips[0].longest


def test_facts_come_back_from_plain_data() -> None:
    facts = facts_of(garment(3))
    assert facts_from_data(facts_to_data(facts)) == facts


def test_what_can_be_made_comes_with_known_answers_first() -> None:
    wanted = [one(200, 300), one(400, 400)]
    with in_memory() as store:
        first = list(made_of(SHEET, wanted, seconds=2, store=store))
        assert [each.verdict for each in first] == ["no", "yes"]
        assert [each.verdict for each in made_of(SHEET, wanted, seconds=2, store=store)] == ["yes", "no"]

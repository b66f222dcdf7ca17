"""Numbers left open: as many squares as a board has, as long a strip as a cloth."""

from __future__ import annotations

from typing import Any

import pytest
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.ask import Plan
from salvage.fit.layout.arrange import arrange
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout, nothing_laid
from salvage.fit.layout.most import copies_left_open, is_open, lengths_left_open, most, one_more
from salvage.fit.material.lay import Lay, lay_of
from salvage.project.project import Join, Panel, Project, Strip


def lay(*sizes: tuple[float, float]) -> Lay:
    pieces = [
        Piece(f"p{n}", box(0, 0, w, h), usable=MultiPolygon([box(0, 0, w, h)]))
        for n, (w, h) in enumerate(sizes)
    ]
    return lay_of([Garment("coat", tuple(pieces))])


def square(name: str, side: float, **more: Any) -> Panel:
    return Panel(name, ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side)), **more)


TIE = Strip("tie", 30.0, 100.0, longest=True, join=Join.NONE)


def found(cloth: Lay, *items: Panel | Strip) -> Layout | None:
    project = Project("p", tuple(each for each in items if isinstance(each, Panel)),
                      tuple(each for each in items if isinstance(each, Strip)))  # fmt: skip
    return most(cloth, project, Budget.start(1.2))


def test_what_is_left_open_is_told() -> None:
    closed = Project("p", (square("a", 10, cut=2),), (Strip("s", 20.0, 100.0),))
    assert (is_open(closed), copies_left_open(closed), lengths_left_open(closed)) == (False, {}, {})
    many = Project(
        "p", (square("a", 10, cut=2, mirrored=True, many=True),), (Strip("s", 20.0, 90.0, many=True), TIE)
    )
    assert is_open(many)
    assert copies_left_open(many) == {"a": 2, "s": 1}
    assert lengths_left_open(many) == {"tie": 100.0}
    assert is_open(Project("p", (), (TIE,)))


@pytest.mark.parametrize(("size", "wanted"), [((300, 200), 6), ((399, 100), 3), ((100, 100), 1)])
def test_as_many_squares_as_the_board_has(size: tuple[float, float], wanted: int) -> None:
    layout = found(lay(size), square("a", 100, many=True))
    assert layout is not None
    assert layout.complete
    assert copies_left_open(layout.project) == {"a": wanted}
    assert len(layout.placed) == wanted


def test_none_where_not_the_least_fits() -> None:
    assert found(lay((99, 500)), square("a", 100, many=True)) is None


def test_pairs_are_counted_whole() -> None:
    """Five squares' room holds two pairs."""
    layout = found(lay((500, 100)), square("a", 100, cut=2, mirrored=True, many=True))
    assert layout is not None
    assert copies_left_open(layout.project) == {"a": 4}
    assert sum(each.flipped for each in layout.placed) == 2


def test_what_is_asked_for_comes_first() -> None:
    """A board of 300 x 200 with two fixed squares of it gone has four left."""
    layout = found(lay((300, 200)), square("b", 100, cut=2), square("a", 100, many=True))
    assert layout is not None
    assert copies_left_open(layout.project) == {"a": 4}


def test_a_strip_becomes_as_long_as_the_cloth_but_for_what_is_not_worth_knowing() -> None:
    """A hundredth of its length, or 5 mm."""
    layout = found(lay((30, 640)), TIE)
    assert layout is not None
    assert 640 - 6.4 <= lengths_left_open(layout.project)["tie"] <= 640


def test_one_more_is_one_copy_or_one_pair() -> None:
    single = Project("p", (square("b", 10, cut=5), square("a", 10, cut=3, many=True)))
    more = one_more(single)
    assert more is not None
    assert [each.cut for each in more.panels] == [5, 4]
    pair = one_more(Project("p", (square("a", 10, cut=4, mirrored=True, many=True),)))
    assert pair is not None
    assert pair.panels[0].cut == 6


@pytest.mark.parametrize(
    "project",
    [
        Project("p", (square("a", 10),)),
        Project("p", (square("a", 10, many=True), square("b", 10, many=True))),
        Project("p", (square("a", 10, many=True),), (TIE,)),
        Project("p", (square("a", 10, many=True),), (Strip("s", 20.0, 90.0, many=True),)),
    ],
)
def test_what_one_more_would_be_is_not_always_plain(project: Project) -> None:
    assert one_more(project) is None


def test_no_number_is_tried_for_which_there_is_no_cloth(monkeypatch: pytest.MonkeyPatch) -> None:
    """By area alone five squares' room holds two pairs, so more are never laid out."""
    asked: list[int] = []

    def noted(cloth: Lay, project: Project, budget: Budget) -> Layout:
        asked.append(project.panels[0].cut)
        return arrange(cloth, project, budget)

    monkeypatch.setattr("salvage.fit.layout.most.arrange", noted)
    layout = found(lay((500, 100)), square("a", 100, cut=2, mirrored=True, many=True))
    assert layout is not None
    assert asked == [2, 4]


@pytest.mark.parametrize("room", [2, 3, 4, 5, 6])
def test_what_is_left_between_is_tried_one_by_one(room: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A search that lays all of what it is asked for up to some number, and nothing of more than that."""

    def laid(cloth: Lay, project: Project, budget: Budget) -> Layout:
        if project.panels[0].cut > room:
            return nothing_laid(cloth, project, Plan.whole(project))
        return arrange(cloth, project, budget)

    monkeypatch.setattr("salvage.fit.layout.most.arrange", laid)
    layout = found(lay((300, 200)), square("a", 100, many=True))
    assert layout is not None
    assert copies_left_open(layout.project) == {"a": room}
    assert len(layout.placed) == room


def test_a_strip_is_made_longer_with_all_else_laid_anew_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where what the others leave as they lie holds no more than the shortest."""
    monkeypatch.setattr(
        "salvage.fit.layout.most.with_other_strip",
        lambda layout, project, *_: nothing_laid(layout.asked.lay, project, Plan.whole(project)),
    )
    layout = found(lay((30, 640)), TIE)
    assert layout is not None
    assert 640 - 6.4 <= lengths_left_open(layout.project)["tie"] <= 640

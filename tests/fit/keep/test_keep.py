"""Panels that keep something, with a stub that answers for all else: what it is asked, and what its answer makes of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece
from salvage.cloth.usable import usable
from salvage.fit.answer import Answer, Placement, Verdict
from salvage.fit.keep.keep import fit_keeping, keeps_something, without_kept
from salvage.project.project import Around, Edge, Panel, Project

POCKET = box(140, 200, 260, 330)
FRONT = Piece(
    "front", box(0, 0, 420, 560), blocked=(Blocked(BlockedKind.POCKET, POCKET, 3.0, what="pocket"),)
)
COAT = Garment(
    "coat", (FRONT, Piece("back", box(0, 0, 300, 300), usable=MultiPolygon([box(0, 0, 300, 300)])))
)


def panel(name: str, w: float, h: float, **more: Any) -> Panel:
    return Panel(name, ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)), **more)


BAG = panel("bag", 260, 300, around=Around("pocket", (130.0, 140.0), 8.0))


class Stub:
    """Lays one panel in the corner of the back, or says what it is told to."""

    def __init__(self, verdict: Verdict = Verdict.YES) -> None:
        self.verdict, self.asked = verdict, list[tuple[Sequence[Garment], Project]]()

    def __call__(self, garments: Sequence[Garment], project: Project, seconds: float, brief: bool) -> Answer:
        self.asked.append((garments, project))
        if not self.verdict.is_yes:
            return Answer(self.verdict, ("No.",))
        (one,) = project.panels
        xs, ys = zip(*one.outline, strict=True)
        shape = box(10, 10, 10 + max(xs) - min(xs), 10 + max(ys) - min(ys))
        laid = Placement(one.name, 1, None, 0, "back", 1, 0.0, False, shape)
        return Answer(Verdict.YES, ("Fits.",), (laid,), spare=10.0, plus_minus=1.0)


def answered(stub: Stub, *panels: Panel, garment: Garment = COAT) -> Answer:
    return fit_keeping([garment], Project("p", panels, cutting_gap=3.0), stub, seconds=3.0)


def test_what_keeps_something_is_known_and_left_out_of_the_rest() -> None:
    hem = panel("skirt", 100, 100, edge=Edge("hem"))
    plain = Project("p", (panel("a", 10, 10),))
    assert [keeps_something(each) for each in (plain, Project("p", (BAG,)), Project("p", (hem,)))] == [
        False,
        True,
        True,
    ]
    assert [each.name for each in without_kept(Project("p", (BAG, *plain.panels, hem))).panels] == ["a"]


def test_the_rest_is_asked_about_without_the_cloth_that_is_taken_and_the_gap_round_it() -> None:
    stub = Stub()
    answer = answered(stub, BAG, panel("flap", 200, 150))
    assert answer.verdict is Verdict.YES
    laid = {each.panel: each for each in answer.placements}
    assert laid.keys() == {"bag", "flap"}
    assert laid["bag"].shape.covers(POCKET)
    garments, project = stub.asked[0]
    assert [each.name for each in project.panels] == ["flap"]
    front, back = garments[0].pieces
    left = usable(front)
    assert left.distance(laid["bag"].shape) == pytest.approx(3.0, abs=1e-3)
    assert left.area < usable(FRONT).area - 260 * 300 + POCKET.area + 3 * 2 * 253 * 6
    assert back == COAT.pieces[1]


def test_the_tighter_of_both_is_the_spare_of_the_whole() -> None:
    """On a front 266 wide the bag has 3 mm to each side, while all else has 10."""
    narrow = Piece("front", box(67, 0, 333, 560), blocked=FRONT.blocked)
    answer = answered(Stub(), BAG, panel("flap", 200, 150), garment=Garment("coat", (narrow, COAT.pieces[1])))
    assert answer.spare is not None
    assert answer.spare == pytest.approx(3.0, abs=0.6)
    wide = answered(Stub(), BAG, panel("flap", 200, 150))
    assert wide.spare is not None
    assert wide.spare <= 10.0


def test_a_no_of_the_rest_alone_is_a_no_and_an_unsettled_rest_leaves_it_open() -> None:
    refused = Stub(Verdict.NO)
    assert answered(refused, BAG, panel("flap", 900, 900)).verdict is Verdict.NO
    # asked at last with the whole garment, for what is laid elsewhere may be in the way
    garments, project = refused.asked[-1]
    assert garments[0] == COAT
    assert [each.name for each in project.panels] == ["flap"]
    open_ = answered(Stub(Verdict.UNSETTLED), BAG, panel("flap", 200, 150))
    assert open_.verdict is Verdict.UNSETTLED
    assert "flap" in open_.not_placed


def test_what_lies_on_each_other_is_not_given() -> None:
    class Wrong(Stub):
        def __call__(
            self, garments: Sequence[Garment], project: Project, seconds: float, brief: bool
        ) -> Answer:
            laid = Placement("flap", 1, None, 0, "back", 1, 0.0, False, box(200, 200, 400, 350))
            return Answer(Verdict.YES, ("Fits.",), (laid,), spare=10.0, plus_minus=1.0)

    answer = answered(Wrong(), BAG, panel("flap", 200, 150))
    assert answer.verdict is Verdict.UNSETTLED
    assert answer.placements == ()


def test_where_nothing_else_is_asked_for_nobody_is_asked() -> None:
    stub = Stub()
    answer = answered(stub, BAG)
    assert answer.verdict is Verdict.YES
    assert stub.asked == []
    assert [each.panel for each in answer.placements] == ["bag"]


def test_a_thing_that_is_not_there_is_named() -> None:
    answer = answered(Stub(Verdict.UNSETTLED), panel("bag", 260, 300, around=Around("zip")))
    assert answer.verdict is Verdict.UNSETTLED
    assert "no zip is known" in answer.reasons[0]

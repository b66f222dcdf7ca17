"""What is asked of the rest beside a panel round a pocket, and how its answer is put together with that."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
from shapely.geometry import box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece
from salvage.cloth.usable import usable
from salvage.fit.answer import Answer, Placement, Verdict
from salvage.fit.keep.rest import with_rest
from salvage.fit.keep.ways import Laid, ways
from salvage.project.project import Around, Panel, Project

POCKET = Blocked(BlockedKind.POCKET, box(140, 200, 260, 330), 3.0, what="pocket")
COAT = Garment("coat", (Piece("front", box(0, 0, 420, 560), blocked=(POCKET,), layers=2),))
GAP = 4.0


def panel(name: str, w: float, h: float, **more: Any) -> Panel:
    return Panel(name, ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)), **more)


BAG = panel("bag", 260, 300, around=Around("pocket", (130.0, 140.0), 8.0))
FLAP = panel("flap", 60, 40)


def laid(bag: Panel = BAG) -> tuple[Laid, ...]:
    return next(ways([COAT], [(bag, 1)], GAP, []))


def asked_and_answered(*placements: Placement, bag: Panel = BAG) -> tuple[Sequence[Garment], Project, Answer]:
    asked: list[tuple[Sequence[Garment], Project]] = []

    def ask(garments: Sequence[Garment], project: Project, seconds: float, brief: bool) -> Answer:
        asked.append((garments, project))
        return Answer(Verdict.YES, ("Fits.",), placements, spare=10.0, plus_minus=0.0)

    project = Project("p", (FLAP, bag), cutting_gap=GAP)
    answer = with_rest([COAT], project, Project("p", (FLAP,), cutting_gap=GAP), laid(bag), ask, 1.0)
    ((garments, rest),) = asked
    return garments, rest, answer


def flap(x: float, y: float) -> Placement:
    return Placement("flap", 1, None, 0, "front", 1, 0.0, False, box(x, y, x + 60, y + 40))


def test_the_rest_gets_what_the_panel_and_the_gap_leave_of_the_first_layer() -> None:
    (one,) = laid()
    garments, rest, _ = asked_and_answered(flap(10, 10))
    (front,) = garments[0].pieces
    assert front.layers == 1
    assert usable(front).distance(one.place.shape) == pytest.approx(GAP, abs=1e-3)
    assert [each.name for each in rest.panels] == ["flap"]


def test_what_both_lay_is_one_answer_in_the_order_of_the_project() -> None:
    _, _, answer = asked_and_answered(flap(10, 10))
    assert [each.panel for each in answer.placements] == ["flap", "bag"]
    assert answer.is_yes
    (one,) = laid()
    assert answer.spare == min(10.0, one.place.room)


def test_a_layout_that_the_checker_refuses_is_none() -> None:
    (one,) = laid()
    x, y, _, _ = one.place.shape.bounds
    _, _, answer = asked_and_answered(flap(x + 5, y + 5))  # under the bag
    assert answer.verdict is Verdict.UNSETTLED
    assert answer.placements == ()
    assert "the checker accepts" in answer.reasons[0]


def test_the_other_parts_of_a_pieced_panel_are_asked_about_under_their_own_names() -> None:
    """Longer than the front is high beside the pocket: pieced, and what keeps nothing may come from anywhere."""
    tall = panel("bag", 260, 700, around=Around("pocket"), joins=1, seam_allowance=10.0)
    (one,) = laid(tall)
    assert one.part is not None
    _, rest, answer = asked_and_answered(bag=tall)
    names = [each.name for each in rest.panels]
    assert names == ["flap", f"bag 1, part {3 - one.part}"]
    assert all(each.around is None and each.joins == 0 for each in rest.panels)
    assert answer.verdict is Verdict.UNSETTLED  # the stub lays neither

"""What of a garment can be saved: sorts, sizes along the grain, and what is left out."""

from __future__ import annotations

import pytest
from shapely.geometry import LineString, Point, Polygon, box

from salvage.cloth.garment import LIKE, Blocked, BlockedKind, FoundBy, Garment, Piece
from salvage.cloth.savings import Saving, SavingKind, savings
from salvage.fit.answer import Placement
from salvage.report.say.savings import saving_data, saving_lines, savings_table
from salvage.units import Unit


def blocked(kind: BlockedKind, shape: Polygon | LineString, what: str, **more: object) -> Blocked:
    return Blocked(kind, shape, 3.0, what=what, **more)  # type: ignore[arg-type]


def coat(*things: Blocked, grain: float = 90.0) -> Garment:
    cuff = Piece("left cuff", box(700, 0, 760, 240))
    return Garment("coat", (Piece("front", box(0, 0, 500, 700), blocked=things, grain=grain), cuff))


ZIP = blocked(BlockedKind.CLOSURE, box(20, 0, 32, 410), "zip")
BUTTONS = tuple(
    blocked(BlockedKind.CLOSURE, Point(60, 80 * k).buffer(7), "button", id=f"b{k}") for k in (1, 2, 3)
)
BUCKLE = blocked(BlockedKind.CLOSURE, box(100, 600, 130, 640), "belt buckle")
POCKET = blocked(BlockedKind.POCKET, box(200, 100, 320, 240), "patch pocket")
HEM = blocked(BlockedKind.HEM, LineString([(0, 40), (500, 40)]), "hem")


def by_kind(garment: Garment) -> dict[SavingKind, list[Saving]]:
    found: dict[SavingKind, list[Saving]] = {}
    for each in savings(garment):
        found.setdefault(each.kind, []).append(each)
    return found


def test_each_sort_with_what_a_sewer_asks_of_it() -> None:
    found = by_kind(coat(ZIP, *BUTTONS, BUCKLE, POCKET, HEM))
    assert [each.length for each in found[SavingKind.ZIP]] == [pytest.approx(410)]
    assert len(found[SavingKind.BUTTON]) == 3
    assert [each.name for each in found[SavingKind.BUCKLE]] == ["belt buckle"]
    assert [each.size for each in found[SavingKind.POCKET]] == [pytest.approx((120, 140))]
    assert [each.size for each in found[SavingKind.CUFF]] == [pytest.approx((60, 240))]
    assert [each.length for each in found[SavingKind.HEM]] == [pytest.approx(500)]


def test_a_size_is_width_across_and_length_along_the_grain() -> None:
    (pocket,) = by_kind(coat(POCKET, grain=0.0))[SavingKind.POCKET]
    assert pocket.size == pytest.approx((140, 120))


@pytest.mark.parametrize(
    "thing",
    [
        blocked(BlockedKind.CLOSURE, box(20, 0, 32, 410), "zip", confidence=0.3),
        blocked(BlockedKind.HEM, LineString([(0, 40), (500, 40)]), "hem", found_by=FoundBy.TRADE),
        blocked(BlockedKind.HEM, LineString([(0, 40), (500, 40)]), "hem" + LIKE, confidence=0.7),
        blocked(BlockedKind.HEM, LineString([(0, 40), (50, 40)]), "hem"),
        blocked(BlockedKind.SEAM, LineString([(0, 40), (500, 40)]), "seam"),
    ],
)
def test_what_may_not_be_there_is_not_offered(thing: Blocked) -> None:
    assert [str(each.kind) for each in savings(coat(thing))] == ["cuff"]


def test_what_is_not_sure_says_so() -> None:
    doubtful = blocked(BlockedKind.CLOSURE, box(20, 0, 32, 410), "zip", confidence=0.6)
    assert saving_lines(savings(coat(doubtful)), Unit.MM)[0] == "zip: 410 mm (front; not sure, look)"
    assert saving_data([coat(doubtful)])[0]["sure"] is False


def test_alike_ones_are_told_together() -> None:
    assert saving_lines(savings(coat(ZIP, *BUTTONS)), Unit.MM) == [
        "zip: 410 mm (front)",
        "3 buttons (front)",
        "cuff: 60 × 240 mm (left cuff)",
    ]


def test_what_a_panel_keeps_or_cuts_through_is_not_there_any_more() -> None:
    garment = coat(POCKET, HEM, *BUTTONS)
    laid = Placement("front", 1, None, 0, "front", 1, 0.0, False, box(150, 60, 400, 300))
    on_hem = Placement("apron", 1, None, 0, "front", 1, 0.0, False, box(200, 0, 500, 60))
    names = [row[0] for row in savings_table([garment], Unit.MM, [laid]).rows]
    assert names == ["3 buttons", "cuff", "hem"]
    names = [row[0] for row in savings_table([garment], Unit.MM, [laid, on_hem]).rows]
    assert names == ["3 buttons", "cuff"]
    elsewhere = Placement("front", 1, None, 1, "front", 1, 0.0, False, box(150, 60, 400, 300))
    assert len(savings_table([garment], Unit.MM, [elsewhere]).rows) == 4

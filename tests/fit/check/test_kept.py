"""Panels that keep something of the garment, asked one by one."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import LineString, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece
from salvage.fit.answer import Placement
from salvage.fit.check.kept import keeps, kept_faults
from salvage.project.project import Around, Edge, Panel

POCKET = Blocked(BlockedKind.POCKET, box(100, 100, 160, 180), 3.0, what="welt pocket", number=4)
SEAM = Blocked(BlockedKind.SEAM, LineString([(300, 0), (300, 400)]), 6.0)
HEM = Blocked(BlockedKind.HEM, LineString([(0, 20), (600, 20)]), 6.0)
FRONT = Piece("front", box(0, 0, 600, 400), blocked=(POCKET, SEAM, HEM), layers=2)
COAT = Garment("coat", (FRONT,))
CORNERS = ((0.0, 0.0), (120.0, 0.0), (120.0, 140.0), (0.0, 140.0))


def round_it(**about: object) -> Panel:
    return Panel("bag", CORNERS, around=Around(**{"what": "pocket", **about}))  # type: ignore[arg-type]


def at(x: float, y: float, layer: int = 1) -> Placement:
    return Placement("bag", 1, None, 0, "front", layer, 0.0, False, box(x, y, x + 120, y + 140))


@pytest.mark.parametrize(
    ("word", "right"), [("pocket", True), ("welt", True), ("4", True), ("5", False), ("zip", False)]
)
def test_it_is_meant_by_kind_by_a_word_or_by_number(word: str, right: bool) -> None:
    assert keeps(FRONT, round_it(what=word), at(70, 70), 0.0) is right
    assert (kept_faults([COAT], round_it(what=word), [at(70, 70)]) == []) is right


def test_only_the_layer_that_shows_has_it() -> None:
    assert not keeps(FRONT, round_it(), at(70, 70, layer=2), 0.0)
    assert kept_faults([COAT], round_it(), [at(70, 70, layer=2)])


def test_all_else_stays_blocked() -> None:
    """Round the pocket and over the seam beside it; or with the pocket half inside."""
    assert not keeps(
        FRONT,
        replace(round_it(), outline=((0, 0), (220, 0), (220, 140), (0, 140))),
        Placement("bag", 1, None, 0, "front", 1, 0.0, False, box(90, 70, 310, 210)),
        0.0,
    )
    assert kept_faults([COAT], round_it(), [at(130, 70)])


def test_a_seam_close_beside_it_keeps_its_margin() -> None:
    """2 mm off, so that within its margin there is no cutting round the pocket; 20 mm off there is."""
    tight = Placement("bag", 1, None, 0, "front", 1, 0.0, False, box(98, 98, 162, 182))
    for off, right in ((2.0, False), (20.0, True)):
        beside = Blocked(BlockedKind.SEAM, LineString([(160 + off, 0), (160 + off, 400)]), 6.0)
        assert keeps(replace(FRONT, blocked=(POCKET, beside)), round_it(), tight, 0.0) is right, off


def test_its_middle_lies_where_the_project_wants_it() -> None:
    """The middle of the pocket is at (130, 140), in a panel placed at (70, 70) so at (60, 70)."""
    assert kept_faults([COAT], round_it(at=(60.0, 70.0), tolerance=1.0), [at(70, 70)]) == []
    assert kept_faults([COAT], round_it(at=(60.0, 70.0), tolerance=1.0), [at(68.5, 70)])
    assert kept_faults([COAT], round_it(at=(60.0, 70.0), tolerance=1.0), [at(70, 71.5)])


def test_a_side_lies_on_the_edge_beside_the_stitching_of_a_hem() -> None:
    on_hem = Panel("bag", CORNERS, edge=Edge("hem", "bottom"))
    assert kept_faults([COAT], on_hem, [at(20, 0)]) == []
    assert kept_faults([COAT], on_hem, [at(20, 6)])
    (fault,) = kept_faults([COAT], replace(on_hem, edge=Edge("hem", "top")), [at(20, 0)])
    assert "with its top on" in fault

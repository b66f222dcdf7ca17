"""Pieces parted by a drawn seam, and hung together again where none is left."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import affinity
from shapely.geometry import LineString, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece
from salvage.cloth.record.together import hung_together, parts_along, together_along

LEFT, RIGHT = Piece("left", box(0, 0, 200, 300)), Piece("right", box(200, 0, 300, 300))
EDGE = LineString([(200, 0), (200, 300)])


def areas(line: list[tuple[float, float]], piece: Piece = LEFT) -> list[float]:
    return [round(part.area) for part in parts_along(piece, LineString(line))]


def test_a_seam_across_parts_a_piece_and_one_inside_does_not() -> None:
    assert areas([(0, 100), (200, 100)]) == [200 * 200, 200 * 100]
    assert areas([(10, 100), (190, 100)]) == [
        200 * 200,
        200 * 100,
    ]  # 10 mm short of the edge: meant to meet it
    assert areas([(60, 100), (140, 100)]) == [200 * 300]
    assert areas([(400, 100), (500, 100)]) == [200 * 300]


def test_a_seam_may_end_on_another_seam() -> None:
    across = Blocked(BlockedKind.SEAM, LineString([(0, 150), (200, 150)]), 6.0)
    piece = replace(LEFT, blocked=(across,))
    # it hangs together across the old seam still, so only the upper part left of the new one falls off
    assert areas([(100, 150), (100, 300)], piece) == [200 * 300]
    assert areas([(0, 250), (200, 250)], piece) == [200 * 250, 200 * 50]


def test_pieces_with_a_common_edge_hang_together_as_the_largest() -> None:
    (whole,) = hung_together([RIGHT, LEFT], EDGE)
    assert whole.name == "left"
    assert whole.outline.area == pytest.approx(300 * 300, rel=1e-4)


@pytest.mark.parametrize(
    "right",
    [
        replace(RIGHT, fabric="lining"),
        replace(RIGHT, outline=affinity.translate(RIGHT.outline, 5, 0)),
        replace(RIGHT, grain=0.0, by_person=("grain",)),
        replace(RIGHT, blocked=(Blocked(BlockedKind.SEAM, EDGE, 6.0),)),
    ],
    ids=["another fabric", "a gap between", "a person's word", "a seam that is still there"],
)
def test_what_stays_apart(right: Piece) -> None:
    assert hung_together([LEFT, right], EDGE) == [LEFT, right]


def test_each_piece_stays_in_its_place() -> None:
    other = Piece("pocket", box(0, 400, 50, 450))
    coat = Garment("coat", (RIGHT, other, LEFT))
    after = together_along(coat, [0, 2], EDGE)
    assert [each.name for each in after.pieces] == ["left", "pocket"]
    assert together_along(coat, [0, 1], EDGE) == coat

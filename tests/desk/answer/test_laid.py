"""What is said of placements alone."""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon, box

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.desk.answer.laid import area_left, clearance, plus_minus_on, turn_of_grain, turned
from salvage.fit.answer import Placement

COAT = Garment(
    "coat",
    (Piece("back", box(0, 0, 300, 200), plus_minus=PlusMinus(edge=2.0)), Piece("side", box(0, 0, 90, 90))),
)


def laid(shape: Polygon, piece: str = "back") -> Placement:
    return Placement("a", 1, None, 0, piece, 1, 0.0, False, shape)


def test_cloth_is_used_up_to_nothing_and_never_less() -> None:
    """Thirds of a piece come to a hair more than the whole by rounding."""
    thirds = tuple(laid(box(90 / 3 * n, 0, 90 / 3 * (n + 1) + 1e-9, 90), "side") for n in range(3))
    left = area_left([Garment("coat", COAT.pieces[1:])], thirds)
    assert left["shell"].area == 0.0
    assert area_left([COAT], thirds)["shell"].area == pytest.approx(300 * 200, abs=1e-3)


def test_how_far_the_cloth_could_shrink_is_by_the_tightest() -> None:
    assert clearance(
        [COAT], (laid(box(20, 30, 120, 150)), laid(box(5, 10, 50, 60), "side"))
    ) == pytest.approx(5)
    assert clearance([COAT], (laid(box(250, 30, 310, 90)),)) == 0.0  # off the cloth
    assert clearance([COAT], ()) == 0.0


def test_the_plus_minus_is_of_the_cloth_that_is_used() -> None:
    assert plus_minus_on([COAT], (laid(box(5, 10, 50, 60), "side"),)) == 0.0
    assert plus_minus_on([COAT], (laid(box(20, 30, 120, 150)),)) == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("before", "after", "nap", "turn"),
    [(90, 0, False, -90), (80, 100, False, 20), (10, 170, False, -20), (10, 170, True, 160)],
)
def test_grain_turns_the_short_way_unless_there_is_a_nap(
    before: float, after: float, nap: bool, turn: float
) -> None:
    one, other = (Piece("p", box(0, 0, 9, 9), grain=grain, one_way=nap) for grain in (before, after))
    assert turn_of_grain(one, other) == pytest.approx(turn)


def test_quarter_turns_are_exact() -> None:
    assert turned(box(1, 2, 4, 3), 90.0, (1.0, 2.0)).equals(box(0, 2, 1, 5))
    assert turned(box(1, 2, 4, 3), 360.0, (7.0, 7.0)).equals(box(1, 2, 4, 3))

"""What a placement says, turned back to how the project draws it."""

from __future__ import annotations

import pytest
from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Placement
from salvage.fit.check.placed import as_drawn, copies_fault, label, piece_of, same_shape

L_SHAPE = Polygon([(0, 0), (100, 0), (100, 40), (40, 40), (40, 120), (0, 120)])


def placement(shape: Polygon, *, garment: int = 0, piece: str = "back", **more: object) -> Placement:
    said = {"part": None, "angle": 0.0, "flipped": False, **more}
    return Placement("body", 1, said["part"], garment, piece, 1, said["angle"], said["flipped"], shape)  # type: ignore[arg-type]


@pytest.mark.parametrize("angle", [0.0, 37.0, 90.0, 200.0])
@pytest.mark.parametrize("flipped", [False, True])
def test_turning_back_undoes_mirror_turn_and_move(angle: float, flipped: bool) -> None:
    shape = affinity.scale(L_SHAPE, -1, 1, origin=(0, 0)) if flipped else L_SHAPE
    lies = affinity.translate(affinity.rotate(shape, angle, origin=(0, 0)), 31, -12)
    assert same_shape(as_drawn(placement(lies, angle=angle, flipped=flipped)), L_SHAPE, 1e-9)
    assert not same_shape(as_drawn(placement(lies, angle=angle + 1, flipped=flipped)), L_SHAPE, 1e-3)
    assert not same_shape(as_drawn(placement(lies, angle=angle, flipped=not flipped)), L_SHAPE, 1e-3)


def test_the_same_corners_in_another_order_are_another_shape() -> None:
    """A square with a fifth point in its middle: the notch runs in from one side or from another."""
    square = [(0, 0), (10, 0), (10, 10), (0, 10)]
    from_below = Polygon([square[0], (5, 5), *square[1:]])
    from_left = Polygon([*square, (5, 5)])
    assert set(from_below.exterior.coords) == set(from_left.exterior.coords)
    assert not same_shape(from_left, from_below, 1e-5)


def test_a_piece_is_one_by_its_name() -> None:
    coat = Garment(
        "coat", (Piece("back", box(0, 0, 9, 9)), Piece("side", box(0, 0, 5, 5)), Piece("side", L_SHAPE))
    )
    assert piece_of([coat], placement(L_SHAPE)) is coat.pieces[0]
    assert piece_of([coat], placement(L_SHAPE, piece="side")) is None
    assert piece_of([coat], placement(L_SHAPE, piece="collar")) is None
    assert piece_of([coat], placement(L_SHAPE, garment=1)) is None
    assert piece_of([coat], placement(L_SHAPE, garment=-1)) is None


def test_copies_are_numbered_from_one() -> None:
    assert copies_fault("body", 1, [placement(L_SHAPE)]) == []
    assert copies_fault("body", 2, [placement(L_SHAPE)]) == [
        "body: copies [1] are there, 1 to 2 are asked for"
    ]


def test_a_part_is_told_by_its_number() -> None:
    assert label(placement(L_SHAPE)) == "body 1"
    assert label(placement(L_SHAPE, part=2)) == "body 1, part 2"

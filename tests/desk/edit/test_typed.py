"""Cloth that was typed in: what it becomes, and what is wrong with it in words."""

from __future__ import annotations

from typing import Any

import pytest
from desk_garments import COAT
from shapely.geometry import Polygon

from salvage.cloth.record.file import garment_from_json, garment_to_json
from salvage.cloth.usable import usable
from salvage.desk.edit.typed import typed_garment, with_cloth
from salvage.errors import UsageError
from salvage.units import Unit

REMNANT: dict[str, Any] = {
    "name": "remnant",
    "width": "40",
    "length": "1 m",
    "fabric": "cotton",
    "layers": "2",
}


def typed(*rows: dict[str, Any], unit: Unit = Unit.CM, **more: Any) -> Any:
    return typed_garment({"name": "drawer", "pieces": rows or [REMNANT | {"length": "100"}], **more}, unit)


def test_a_rectangle_of_the_unit_chosen_with_its_plus_minus() -> None:
    garment = typed(measured="3 mm", kind="denim")
    (piece,) = garment.pieces
    low_x, low_y, high_x, high_y = piece.outline.bounds
    assert (high_x - low_x, high_y - low_y) == (400.0, 1000.0)
    assert (piece.fabric, piece.layers, piece.grain, piece.plus_minus.edge) == ("cotton", 2, 90.0, 3.0)
    assert garment.kind == "denim"
    assert usable(piece).equals(piece.outline)
    assert garment_from_json(garment_to_json(garment)) == garment


def test_a_shape_by_its_corners_and_pieces_beside_each_other() -> None:
    garment = typed(
        {"name": "a", "corners": "0,0 40,0 40,60; 0,30"}, {"name": "a", "width": "10", "length": "20"}
    )
    first, second = garment.pieces
    assert first.outline.equals(Polygon([(0, 0), (400, 0), (400, 600), (0, 300)]))
    assert first.outline.distance(second.outline) > 20
    assert first.name != second.name
    assert 0 not in {first.number, second.number}


def test_pile_has_a_nap_unless_nobody_says_what_it_is() -> None:
    assert typed(kind="pile").pieces[0].one_way
    assert not typed().pieces[0].one_way


def test_more_cloth_for_a_garment_leaves_the_rest_of_it_as_it_is() -> None:
    garment = with_cloth(COAT, {"pieces": [REMNANT | {"length": "100"}]}, Unit.CM)
    assert garment.pieces[:-1] == COAT.pieces
    assert garment.pieces[-1].photo is None


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"width": "40"}, "length is not given"),
        ({"width": "40", "length": "5 mm"}, "not between"),
        ({"width": "wide", "length": "40"}, "wide"),
        ({"corners": "0,0 40,0"}, "3 to"),
        ({"corners": "0,0 40,40 40,0 0,40"}, "crosses itself"),
        ({"corners": "0;0 40"}, "no corner"),
        ({"width": "40", "length": "40", "layers": "0"}, "layers"),
    ],
)
def test_what_is_wrong_is_said_in_words(row: dict[str, Any], said: str) -> None:
    with pytest.raises(UsageError, match=said):
        typed(row)

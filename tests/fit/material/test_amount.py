"""How much usable cloth there is: layers count, fabrics are told apart whatever their letters."""

from __future__ import annotations

import pytest
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.material.amount import fabrics_of, usable_area


def piece(name: str, width: float, fabric: str = "shell", layers: int = 1) -> Piece:
    cloth = box(0, 0, width, 100)
    return Piece(name, cloth, fabric=fabric, layers=layers, usable=MultiPolygon([cloth]))


COAT = Garment(
    "coat", (piece("back", 300), piece("sleeve", 50, "Shell ", layers=2), piece("lining", 70, "lining"))
)
BAG = Garment("bag", (piece("side", 20, "LINING"),))


def test_layers_count_and_a_fabric_is_chosen() -> None:
    assert usable_area([COAT], "shell") == pytest.approx(300 * 100 + 2 * 50 * 100)
    assert usable_area([COAT, BAG], "lining") == pytest.approx(70 * 100 + 20 * 100)
    assert usable_area([COAT, BAG]) == pytest.approx(30_000 + 10_000 + 7_000 + 2_000)
    assert usable_area([COAT], "felt") == 0


def test_fabrics_are_spelled_as_first_met() -> None:
    assert list(fabrics_of([COAT, BAG]).values()) == ["shell", "lining"]
    assert list(fabrics_of([BAG, COAT]).values()) == ["LINING", "shell"]

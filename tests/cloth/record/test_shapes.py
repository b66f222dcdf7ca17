"""Shapes of a record as they are taken in: what is blocked may only grow by mending, what is usable only shrink."""

from __future__ import annotations

from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Polygon, box, mapping

from salvage.cloth.record.shapes import as_blocking, as_geometry, as_outline, as_stroke, as_usable
from salvage.errors import SalvageError

BOW_TIE = [[[0, 0], [100, 100], [100, 0], [0, 100], [0, 0]]]
PLACES = st.tuples(st.integers(0, 300), st.integers(0, 300))


def polygon(rings: Any) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": rings}


@settings(max_examples=60)
@given(st.lists(PLACES, min_size=3, max_size=8, unique=True))
def test_all_that_a_drawn_ring_goes_round_is_blocked(corners: list[tuple[int, int]]) -> None:
    """Counted as a person sees it: wherever the ring winds round a place, once or more, in either direction."""
    blocked = as_blocking(polygon([[*corners, corners[0]]]), "here")
    ring = shapely.make_valid(Polygon(corners))
    assert ring.difference(blocked).area == pytest.approx(0.0, abs=1e-6)
    assert blocked.is_valid


def test_a_crossing_outline_is_refused_and_a_hair_of_crossing_mended() -> None:
    with pytest.raises(SalvageError, match="crosses itself"):
        as_outline(polygon(BOW_TIE), "here")
    hair = [[[0, 0], [300, 0], [300, 300], [0, 300], [0, 1], [-1, 0], [0, 0]]]
    crossing = [[[0, 0], [300, 0], [300, 300], [1, 300], [-1, 301], [-1, 299], [0, 300], [0, 0]]]
    for rings in (hair, crossing):
        outline = as_outline(polygon(rings), "here")
        assert outline.is_valid
        assert outline.area <= 300 * 300 + 2


def test_holes_of_an_outline_stay_holes_and_may_not_take_it_all() -> None:
    edge = [[0, 0], [300, 0], [300, 300], [0, 300], [0, 0]]
    hole = [[100, 100], [200, 100], [200, 200], [100, 200], [100, 100]]
    assert as_outline(polygon([edge, hole]), "here").area == 300 * 300 - 100 * 100
    with pytest.raises(SalvageError, match="holes are as large"):
        as_outline(polygon([edge, edge]), "here")


@pytest.mark.parametrize(
    "shape", [LineString([(0, 0), (9, 9)]), MultiPolygon([box(0, 0, 9, 9), box(20, 0, 29, 9)])]
)
def test_an_outline_is_one_polygon(shape: Any) -> None:
    with pytest.raises(SalvageError, match="outline is one Polygon"):
        as_outline(mapping(shape), "here")


@settings(max_examples=60)
@given(st.lists(PLACES, min_size=3, max_size=7, unique=True))
def test_usable_cloth_never_lies_beyond_the_outline(corners: list[tuple[int, int]]) -> None:
    outline = box(50, 50, 200, 250)
    usable = as_usable(polygon([[*corners, corners[0]]]), outline, "here")
    assert usable.difference(outline).area == pytest.approx(0.0, abs=1e-9)
    drawn = shapely.make_valid(Polygon(corners))
    assert usable.difference(drawn.buffer(1e-6)).area == pytest.approx(0.0, abs=1e-6)


def test_usable_cloth_can_be_none() -> None:
    assert as_usable({"type": "MultiPolygon", "coordinates": []}, box(0, 0, 9, 9), "here").is_empty


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"type": "Polygon", "coordinate": []}, "Did you mean 'coordinates'"),
        ({"type": "Circle", "coordinates": []}, "Write one of Point"),
        (polygon([[[0, 0], [20_001, 0], [0, 9]]]), "beyond 20 m"),
        (polygon([[[0, 0], [float("nan"), 0], [0, 9]]]), "is no number"),
        (polygon([[0, 0]]), "don't make a Polygon"),
        ("POLYGON", "not a GeoJSON geometry"),
    ],
)
def test_what_is_no_shape_is_said(data: Any, said: str) -> None:
    with pytest.raises(SalvageError, match=said):
        as_geometry(data, "coat.json: pieces 1")


def test_heights_are_left_out() -> None:
    assert as_geometry({"type": "Point", "coordinates": [3, 4, 5]}, "here").coords[:] == [(3.0, 4.0)]


def test_a_lone_place_is_a_stroke_of_one() -> None:
    assert as_stroke([3, 4], "here") == ((3.0, 4.0),)
    assert as_stroke([[3, 4], [5, 6]], "here") == ((3.0, 4.0), (5.0, 6.0))
    for wrong in ([], [[1, 2, 3]], [[1, 2], 3]):
        with pytest.raises(SalvageError, match="not a stroke"):
            as_stroke(wrong, "here")

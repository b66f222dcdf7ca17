"""Where a panel may lie that keeps something: looked at with shapely alone, whichever way it lies."""

from __future__ import annotations

from typing import Any

import pytest
from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece
from salvage.fit.keep.places import as_drawn, hem_line, places_on_edge, places_round
from salvage.fit.keep.things import Thing, things_for
from salvage.project.project import Around, Edge, Grain, Panel

POCKET = box(140, 200, 240, 320)


def thing(kind: BlockedKind, shape: Any, panel: Panel, *, grain: float = 90.0) -> Thing:
    piece = Piece("front", box(0, 0, 400, 560), grain=grain, blocked=(Blocked(kind, shape, 6.0),))
    return things_for([Garment("coat", (piece,))], panel)[0]


def panel(width: float, length: float, **more: Any) -> Panel:
    return Panel("bag", ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)


@pytest.mark.parametrize("flipped", [False, True])
@pytest.mark.parametrize("grain", [Grain.ALONG, Grain.EITHER])
@pytest.mark.parametrize("allowance", [0.0, 10.0])
def test_the_pocket_lies_whole_within_the_stitching_where_it_is_wanted(
    flipped: bool, grain: Grain, allowance: float
) -> None:
    around = Around("pocket", (90.0, 150.0), 12.0)
    bag = panel(220, 240, grain=grain, seam_allowance=allowance, around=around, flip=True)
    kept = thing(BlockedKind.POCKET, POCKET, bag)
    found = list(places_round(bag, Polygon(bag.outline), around, kept, flipped=flipped))
    angles = {round(each.placed.angle) % 360 for each in found}
    assert angles <= ({0, 180} if grain is Grain.ALONG else {0, 90, 180, 270})
    assert {0, 180} <= angles
    for each in found:
        assert kept.piece.outline.covers(each.shape)
        assert each.shape.buffer(-allowance + 1e-6, join_style="mitre").covers(POCKET)
        moved = affinity.translate(POCKET, -each.placed.x, -each.placed.y)
        middle = as_drawn(moved, each.placed.angle, flipped=flipped).envelope.centroid
        assert max(abs(middle.x - 90), abs(middle.y - 150)) <= 12.0 + 1e-6
        assert each.room == pytest.approx(each.shape.distance(kept.piece.outline.exterior), abs=0.5)


def test_the_last_place_of_a_turn_has_the_most_room() -> None:
    around = Around("pocket", (110.0, 120.0), 85.0)
    bag = panel(220, 240, around=around)
    kept = thing(BlockedKind.POCKET, box(60, 70, 160, 190), bag)
    found = places_round(bag, Polygon(bag.outline), around, kept, flipped=False)
    rooms = [each.room for each in found if each.placed.angle == 0]
    assert len(rooms) > 2
    assert rooms[-1] >= max(rooms) - 1e-9
    assert rooms[-1] > min(rooms)


@pytest.mark.parametrize("flipped", [False, True])
def test_wherever_it_may_lie_the_panel_keeps_on_the_cloth_and_the_pocket_off_its_seams(flipped: bool) -> None:
    around = Around("pocket")
    bag = panel(220, 240, seam_allowance=30.0, around=around, flip=True)
    kept = thing(BlockedKind.POCKET, box(35, 40, 115, 120), bag)
    found = list(places_round(bag, Polygon(bag.outline), around, kept, flipped=flipped))
    assert len(found) > 3
    for each in found:
        assert kept.piece.outline.covers(each.shape)
        assert each.shape.exterior.distance(kept.shape) >= 30.0 - 1e-6


def test_a_pocket_larger_than_the_panel_has_no_place() -> None:
    around = Around("pocket", None, 0.0)
    bag = panel(90, 240, around=around)
    assert not list(
        places_round(bag, Polygon(bag.outline), around, thing(BlockedKind.POCKET, POCKET, bag), flipped=False)
    )


def test_there_and_back() -> None:
    shape = Polygon([(0, 0), (30, 0), (0, 10)])
    for angle in (0.0, 90.0, 33.0):
        for flipped in (False, True):
            drawn = affinity.scale(shape, -1, 1, origin=(0, 0)) if flipped else shape
            laid = affinity.rotate(drawn, angle, origin=(0, 0))
            assert as_drawn(laid, angle, flipped=flipped).symmetric_difference(shape).area < 1e-9


HEM = box(0, 0, 400, 20)


@pytest.mark.parametrize("shape", [HEM, LineString([(0, 20), (400, 20)])])
def test_the_edge_along_a_hem_is_found_from_its_area_and_from_its_stitching(shape: Any) -> None:
    flap = panel(150, 100, edge=Edge("hem", "bottom"))
    line = hem_line(thing(BlockedKind.HEM, shape, flap))
    assert line is not None
    assert line.length == pytest.approx(400, abs=1.0)
    assert line.coords[0][0] < line.coords[-1][0]  # counter-clockwise: along the bottom to the right
    assert max(abs(y) for _, y in line.coords) < 1e-6


@pytest.mark.parametrize("side", ["bottom", "top", "left", "right"])
def test_the_side_lies_on_the_hems_edge(side: str) -> None:
    flap = panel(150, 100, edge=Edge("hem", side), grain=Grain.EITHER)
    kept = thing(BlockedKind.HEM, HEM, flap)
    found = list(places_on_edge(flap, Edge("hem", side), kept, flipped=False))
    assert found
    x0, y0, x1, y1 = 0.0, 0.0, 150.0, 100.0
    ends = {
        "bottom": [(x0, y0), (x1, y0)], "top": [(x0, y1), (x1, y1)],
        "left": [(x0, y0), (x0, y1)], "right": [(x1, y0), (x1, y1)],
    }[side]  # fmt: skip
    for each in found:
        laid = affinity.translate(
            affinity.rotate(LineString(ends), each.placed.angle, origin=(0, 0)), each.placed.x, each.placed.y
        )
        assert max(abs(y) for _, y in laid.coords) < 0.1
        assert kept.ground.covers(each.shape)


@pytest.mark.parametrize(
    ("side", "grain", "there"),
    [
        ("left", Grain.ALONG, False),
        ("bottom", Grain.ACROSS, False),
        ("bottom", Grain.ALONG, True),
        ("left", Grain.ACROSS, True),
    ],
)
def test_the_side_follows_the_hem_only_where_the_grain_lets_it(side: str, grain: Grain, there: bool) -> None:
    flap = panel(150, 100, edge=Edge("hem", side), grain=grain)
    found = list(places_on_edge(flap, Edge("hem", side), thing(BlockedKind.HEM, HEM, flap), flipped=False))
    assert bool(found) is there


def test_a_side_longer_than_the_hem_has_no_place() -> None:
    flap = panel(150, 100, edge=Edge("hem", "bottom"))
    short = thing(BlockedKind.HEM, box(100, 0, 220, 20), flap)
    assert not list(places_on_edge(flap, Edge("hem", "bottom"), short, flipped=False))
    flap = panel(410, 100, edge=Edge("hem", "bottom"))
    assert not list(
        places_on_edge(flap, Edge("hem", "bottom"), thing(BlockedKind.HEM, HEM, flap), flipped=False)
    )


def test_a_hem_inside_the_cloth_has_no_edge() -> None:
    flap = panel(150, 100, edge=Edge("hem", "bottom"))
    assert hem_line(thing(BlockedKind.HEM, LineString([(50, 300), (350, 300)]), flap)) is None

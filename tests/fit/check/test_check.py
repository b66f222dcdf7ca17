"""The checker finds each fault that a layout can have, and nothing in a right one."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import MultiPolygon, Point, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece
from salvage.fit.answer import Placement
from salvage.fit.check.check import check
from salvage.project.project import Grain, Join, Panel, Project, Strip

L_OUTLINE = ((0.0, 0.0), (100.0, 0.0), (100.0, 40.0), (40.0, 40.0), (40.0, 120.0), (0.0, 120.0))


def garment(*, grain: float = 90.0, one_way: bool = False, layers: int = 1) -> Garment:
    """A 600 x 700 back with a hole in it, and a plain 300 x 300 sleeve."""
    hole = Blocked(BlockedKind.WORN, Point(450, 500).buffer(40), 3.0)
    back = Piece("back", box(0, 0, 600, 700), grain=grain, one_way=one_way, layers=layers, blocked=(hole,))
    sleeve = Piece("sleeve", box(0, 0, 300, 300), usable=MultiPolygon([box(10, 10, 290, 290)]))
    return Garment("coat", (back, sleeve))


def panel(name: str, width: float = 100, length: float = 120, **more: object) -> Panel:
    return Panel(name, ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)  # type: ignore[arg-type]


def placed(
    outline: Polygon,
    x: float,
    y: float,
    *,
    panel: str = "body",
    copy: int = 1,
    part: int | None = None,
    piece: str = "back",
    angle: float = 0.0,
    flipped: bool = False,
    layer: int = 1,
) -> Placement:
    """The outline mirrored, turned and moved, as the record of a layout."""
    shape = affinity.scale(outline, -1, 1, origin=(0, 0)) if flipped else outline
    shape = affinity.translate(affinity.rotate(shape, angle, origin=(0, 0)), x, y)
    return Placement(panel, copy, part, 0, piece, layer, angle, flipped, shape)


RECT = box(0, 0, 100, 120)
ONE = Project("one", (panel("body"),))


def test_right_layout_has_no_faults() -> None:
    assert check([garment()], ONE, [placed(RECT, 20, 20)]) == ()


@pytest.mark.parametrize(
    ("placement", "fault"),
    [
        (placed(RECT, 501, 20), "leaves the usable cloth"),
        (placed(RECT, 400, 450), "leaves the usable cloth"),  # on the hole
        (placed(RECT, 395, 338), "leaves the usable cloth"),  # in the margin round the hole
        (placed(RECT, 20, 20, piece="sleeve", layer=2), "no layer 2"),
        (placed(RECT, 20, 20, piece="collar"), "no one piece called collar"),
        (placed(box(0, 0, 100, 119.9), 20, 20), "not of the size"),
        (placed(RECT, 300, 20, angle=90.0), "degrees from the grain"),
        (placed(RECT, 300, 20, flipped=True), "1 copies are mirrored, 0 should be"),
        (placed(RECT, 20, 20, copy=2), r"copies \[2\] are there"),
        (placed(RECT, 20, 20, part=1), "has one part only"),
    ],
)
def test_fault_is_found(placement: Placement, fault: str) -> None:
    faults = " / ".join(check([garment()], ONE, [placement]))
    assert re.search(fault, faults), faults


def test_shrunk_cloth_is_what_counts_when_asked() -> None:
    layout = [placed(RECT, 4, 4)]
    assert check([garment()], ONE, layout, shrunk_by=3.9) == ()
    assert check([garment()], ONE, layout, shrunk_by=4.1)


def test_cloth_that_only_touches_its_outline_along_a_line_is_no_cloth_there() -> None:
    """Drawn as usable: one stretch on the piece, one that lies beside it and shares an edge with it."""
    cloth = MultiPolygon([box(0, 0, 300, 300), box(500, 0, 700, 300)])
    coat = Garment("coat", (Piece("back", box(0, 0, 500, 500), usable=cloth),))
    assert check([coat], ONE, [placed(RECT, 20, 20)]) == ()
    assert any("leaves" in fault for fault in check([coat], ONE, [placed(RECT, 520, 20)]))


def test_unknown_and_missing_panels_are_found() -> None:
    assert check([garment()], ONE, [])
    assert any("no such panel" in f for f in check([garment()], ONE, [placed(RECT, 9, 9, panel="strap")]))


def test_a_partial_layout_may_leave_out_but_not_overlap() -> None:
    project = Project("three", (panel("body", cut=3),))
    two = [placed(RECT, 10, 10), placed(RECT, 120, 10, copy=2)]
    assert check([garment()], project, two)
    assert check([garment()], project, two, partial=True) == ()
    assert check([garment()], project, [two[0], placed(RECT, 100, 10, copy=2)], partial=True)


def test_fabric_must_match_whatever_its_capitals() -> None:
    layout = [placed(RECT, 20, 20)]
    assert check([garment()], Project("p", (panel("body", fabric=" Shell"),)), layout) == ()
    assert any(
        "must be cut from lining" in f
        for f in check([garment()], Project("p", (panel("body", fabric="lining"),)), layout)
    )


@pytest.mark.parametrize("gap", [0.0, 3.0])
def test_overlap_and_gap(gap: float) -> None:
    project = Project("two", (panel("body", cut=2),), cutting_gap=gap)
    apart = [placed(RECT, 10, 10), placed(RECT, 110 + gap, 10, copy=2)]
    assert check([garment()], project, apart) == ()
    close = [apart[0], placed(RECT, 110 + gap - 0.01, 10, copy=2)]
    assert len(check([garment()], project, close)) == 1


def test_two_layers_are_two_cloths() -> None:
    project = Project("two", (panel("body", cut=2),))
    layout = [placed(RECT, 10, 10), placed(RECT, 10, 10, copy=2, layer=2)]
    assert check([garment(layers=2)], project, layout) == ()
    assert check([garment(layers=1)], project, layout)


@pytest.mark.parametrize(
    ("grain", "one_way", "angle", "right"),
    [
        (Grain.ALONG, False, 7.0, True),
        (Grain.ALONG, False, 187.0, True),
        (Grain.ALONG, True, 187.0, False),
        (Grain.ACROSS, True, 97.0, True),
        (Grain.ACROSS, False, 7.0, False),
        (Grain.EITHER, True, 187.0, False),
        (Grain.EITHER, True, 277.0, True),
        (Grain.BIAS, False, 142.0, True),
        (Grain.BIAS, True, 142.0, False),
        (Grain.BIAS, True, 322.0, True),
        (Grain.ANY, True, 33.0, True),
    ],
)
def test_grain_rule(grain: Grain, one_way: bool, angle: float, right: bool) -> None:
    """The table of the design, on cloth whose grain stands at 97 degrees."""
    project = Project("p", (panel("body", grain=grain),))
    layout = [placed(RECT, 250, 250, angle=angle)]
    assert (check([garment(grain=97.0, one_way=one_way)], project, layout) == ()) is right


def test_off_grain_and_list_of_turns() -> None:
    layout = [placed(RECT, 250, 250, angle=3.0)]
    assert check([garment()], Project("p", (panel("body", off_grain=3.0),)), layout) == ()
    assert check([garment()], Project("p", (panel("body", off_grain=2.9),)), layout)
    assert check([garment()], Project("p", (panel("body", rotations=(3.0, 80.0)),)), layout) == ()


def test_mirrored_pair_needs_one_of_each() -> None:
    outline = Polygon(L_OUTLINE)
    project = Project("pair", (Panel("body", L_OUTLINE, cut=2, mirrored=True),))
    right = [placed(outline, 10, 10), placed(outline, 400, 10, copy=2, flipped=True)]
    assert check([garment()], project, right) == ()
    assert check([garment()], project, [right[0], placed(outline, 400, 10, copy=2)])
    lying = replace(placed(outline, 400, 10, copy=2), flipped=True)  # says mirrored, is not
    assert check([garment()], project, [right[0], lying])


# --- joins -------------------------------------------------------------------------------------------


PIECED = Project("p", (panel("body", 200, 300, joins=1, seam_allowance=10.0),))


def parts(first: float, second: float, *, along: bool = False) -> list[Placement]:
    sizes = [(first, 300), (second, 300)] if along else [(200, first), (200, second)]
    return [placed(box(0, 0, *size), 5 + 260 * i, 5, part=i + 1) for i, size in enumerate(sizes)]


def test_parts_with_allowance_make_the_panel() -> None:
    assert check([garment()], PIECED, parts(110, 210)) == ()
    assert check([garment()], PIECED, parts(90, 130, along=True)) == ()


@pytest.mark.parametrize(
    "layout",
    [
        parts(100, 200),  # no allowance
        parts(110, 209),  # too short
        parts(49, 271),  # a part under 40 mm when sewn
        [replace(each, part=1) for each in parts(110, 210)],
        parts(110, 210)[:1],
    ],
)
def test_wrong_parts_are_found(layout: list[Placement]) -> None:
    assert check([garment()], PIECED, layout)


def test_more_joins_than_allowed_are_found() -> None:
    whole = Project("p", (panel("body", 200, 300, seam_allowance=10.0),))
    assert any("has 1 joins, 0 are allowed" in each for each in check([garment()], whole, parts(110, 210)))


def test_parts_of_a_shaped_panel_in_order() -> None:
    outline = ((0.0, 0.0), (200.0, 0.0), (120.0, 300.0), (40.0, 300.0))
    project = Project("p", (Panel("body", outline, joins=1, seam_allowance=10.0),))
    low, high = (Polygon(outline).intersection(box(0, *ends)) for ends in ((0, 200, 160), (140, 200, 300)))
    right = [placed(low, 5, 5, part=1), placed(high, 250, 5, part=2)]
    assert check([garment()], project, right) == ()
    assert check([garment()], project, [replace(right[0], part=2), replace(right[1], part=1)])


# --- strips ------------------------------------------------------------------------------------------


def strip(**more: object) -> Project:
    settings_ = {"cut_width": 40.0, "length": 500.0, "seam_allowance": 10.0, **more}
    return Project("s", (), (Strip("tie", **settings_),))  # type: ignore[arg-type]


def lengths(*sizes: float, width: float = 40.0) -> list[Placement]:
    numbers = [None] if len(sizes) == 1 else list(range(1, len(sizes) + 1))
    return [
        placed(box(0, 0, width, size), 5 + 60 * i, 5, panel="tie", part=number)
        for i, (size, number) in enumerate(zip(sizes, numbers, strict=True))
    ]


@pytest.mark.parametrize(
    ("project", "layout", "right"),
    [
        (strip(), lengths(500), True),
        (strip(), lengths(300, 240), True),  # on the bias a join costs the cut width
        (strip(), lengths(300, 200), False),
        (strip(join=Join.STRAIGHT), lengths(300, 220), True),  # straight, two allowances
        (strip(join=Join.STRAIGHT), lengths(300, 240), False),
        (strip(join=Join.NONE), lengths(300, 240), False),
        (strip(), lengths(450, 90), False),  # shorter than the shortest
        (strip(), lengths(500, width=39.9), False),
        (strip(), lengths(260, 170, 150), True),
    ],
)
def test_strip(project: Project, layout: list[Placement], right: bool) -> None:
    assert (check([garment()], project, layout) == ()) is right


@settings(deadline=None, max_examples=40)
@given(st.floats(-200, 800), st.floats(-200, 900), st.floats(0, 360))
def test_inside_agrees_with_distance_to_the_edge(x: float, y: float, angle: float) -> None:
    """A second way: no corner outside, and the edge of the cloth does not cross the panel."""
    project = Project("p", (panel("body", grain=Grain.ANY),))
    layout = [placed(RECT, x, y, angle=angle)]
    hole = Point(450, 500).buffer(43, quad_segs=200)
    shape = layout[0].shape
    a, b, c, d = shape.bounds
    in_box = a >= 0 and b >= 0 and c <= 600 and d <= 700
    clear = shape.distance(Point(450, 500)) - 43.0
    if abs(clear) < 0.02 or min(abs(a), abs(b), abs(600 - c), abs(700 - d)) < 1e-3:
        return
    assert (check([garment()], project, layout) == ()) is (in_box and not shape.intersects(hole))

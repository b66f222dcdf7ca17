"""Joins where the cloth wants them: panels covered by slabs, strips shared out among tracks, both few in number."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Polygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.ask import Plan
from salvage.fit.check.check import check
from salvage.fit.cutting.cover import Coverer, laid
from salvage.fit.cutting.joins import parts_of
from salvage.fit.cutting.sharing import Demand, greedy_share, least_joins, share_out
from salvage.fit.cutting.strips import length_to_cut
from salvage.fit.cutting.tracks import tracks_of
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.fill import filled
from salvage.fit.layout.found import Layout, nothing_laid
from salvage.fit.material.lay import lay_of
from salvage.fit.search.place import Outline, Stretch, fits, place_of
from salvage.project.project import Join, Panel, Project, Strip


def stretch(polygon: Polygon, *angles: float) -> Stretch:
    return Stretch(0, polygon, angles or (0.0,))


def rectangle(width: float, length: float, **more: object) -> Panel:
    return Panel("body", ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)  # type: ignore[arg-type]


def cloths(*polygons: Polygon) -> Garment:
    pieces = [Piece(f"s{n}", each, usable=MultiPolygon([each])) for n, each in enumerate(polygons)]
    return Garment("g", tuple(pieces))


def cut_from(project: Project, *polygons: Polygon) -> Layout:
    garment = cloths(*polygons)
    lay = lay_of([garment])
    layout = filled(nothing_laid(lay, project, Plan.whole(project)), Budget.start(20.0))
    assert check([garment], project, layout.placements(), partial=not layout.complete) == ()
    return layout


def test_a_place_is_found_where_two_notches_leave_just_enough() -> None:
    cloth = box(0, 0, 300, 200).difference(box(0, 0, 100, 120)).difference(box(160.5, 80, 300, 200))
    square = Outline(box(0, 0, 60, 200))
    angle, x, y = place_of(square, stretch(cloth)) or (0.0, 0.0, 0.0)
    assert cloth.buffer(1e-6).covers(laid(square.polygon, (angle, x, y)))
    assert not fits(Outline(box(0, 0, 61, 200)), stretch(cloth))


def test_a_shape_exactly_as_large_as_the_cloth_has_its_place() -> None:
    assert place_of(Outline(box(0, 0, 300, 400)), stretch(box(5, 5, 305, 405))) == pytest.approx((0, 5, 5))


@settings(deadline=None, max_examples=40)
@given(st.data())
def test_a_panel_hidden_in_pieces_is_found_again(data: st.DataObject) -> None:
    width, length = data.draw(st.floats(60, 150)), data.draw(st.floats(300, 500))
    shape = data.draw(st.sampled_from(["rectangle", "kite"]))
    ring = {
        "rectangle": ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)),
        "kite": ((width / 2, 0.0), (width, length / 2), (width / 2, length), (0.0, length / 2)),
    }[shape]
    panel = Panel(
        "body", ring, joins=2, seam_allowance=data.draw(st.sampled_from([0.0, 6.0])), narrowest_part=20.0
    )
    shares = sorted([data.draw(st.floats(0.25, 0.45)), data.draw(st.floats(0.55, 0.75))])
    marks = [0.0, *(each * length for each in shares), length]
    outline, a = Polygon(ring), panel.seam_allowance
    bits = [
        outline.intersection(box(-1, low - (a if low else 0), 1000, high + (a if high < length else 0)))
        for low, high in itertools.pairwise(marks)
    ]
    order = data.draw(st.permutations(range(3)))
    stretches = [Stretch(n, bits[k].buffer(0.05, join_style="mitre"), (0.0,)) for n, k in enumerate(order)]
    coverer = Coverer(panel, 0.0)
    cover = coverer.covers(stretches, 2)
    assert cover is not None
    assert cover.piecing is not None
    parts = parts_of(panel, cover.piecing)
    assert parts is not None
    for part, (cloth, *at) in zip(parts, cover.laid, strict=True):
        assert stretches[cloth].polygon.buffer(1e-6).covers(laid(part, tuple(at)))  # type: ignore[arg-type]


def test_two_parts_may_lie_on_one_cloth() -> None:
    project = Project("p", (rectangle(100, 200, joins=1, seam_allowance=5.0),))
    layout = cut_from(project, box(0, 0, 205, 120))
    assert layout.complete
    assert layout.plan.joins() == 1


def test_a_mirrored_pair_is_pieced_as_a_pair() -> None:
    ring = ((0.0, 0.0), (100.0, 0.0), (60.0, 200.0), (0.0, 200.0))
    project = Project("p", (Panel("front", ring, cut=2, mirrored=True, joins=1),))
    layout = cut_from(
        project, box(0, 0, 101, 115), box(0, 0, 101, 115), box(0, 0, 90, 110), box(0, 0, 90, 110)
    )
    assert layout.complete
    assert sorted(each.flipped for each in layout.placements()) == [False, False, True, True]


def test_a_strip_takes_no_more_joins_than_it_must() -> None:
    strip = Strip("tie", 30.0, 700.0, join=Join.STRAIGHT, shortest=50.0, seam_allowance=5.0)
    layout = cut_from(
        Project("p", (), (strip,)),
        *(box(0, 0, 31, 180) for _ in range(6)),
        box(0, 0, 31, 405),
        box(0, 0, 31, 306),
    )
    assert layout.complete
    assert layout.plan.joins() == 1


def test_the_integer_program_finds_what_longest_first_does_not() -> None:
    # longest first gives the first strip 300 + 200 and leaves 120 + 110 for the second, which needs 280
    one = Strip("one", 30.0, 410.0, join=Join.STRAIGHT, shortest=50.0, seam_allowance=0.0)
    two = Strip("two", 30.0, 320.0, join=Join.STRAIGHT, shortest=50.0, seam_allowance=0.0)
    demands = [Demand(one, 0, 1), Demand(two, 1, 1)]
    tracks = [
        track
        for n, length in enumerate((300.0, 200.0, 120.0, 110.0))
        for track in tracks_of(n, n, box(0, 0, 30, length + 0.1), 0.0, (one, two), 0.0)
    ]
    cuts = share_out(demands, tracks, 0.0, seconds=None)
    assert cuts is not None
    assert len(cuts) == 4
    for number, demand in enumerate(demands):
        mine = [cut.length for cut in cuts if cut.copy == number]
        assert sum(mine) == pytest.approx(length_to_cut(demand.strip, len(mine)), abs=1e-3)
    assert least_joins(demands, tracks) == 2


@settings(deadline=None, max_examples=25)
@given(
    st.lists(st.tuples(st.floats(32, 120), st.floats(60, 400)), min_size=1, max_size=5),
    st.sampled_from([0.0, 3.0]),
)
def test_whatever_is_cut_from_the_tracks_keeps_apart(sizes: list[tuple[float, float]], gap: float) -> None:
    strip = Strip("tie", 30.0, 300.0, cut=2, join=Join.BIAS, shortest=60.0)
    project = Project("p", (), (strip,), cutting_gap=gap)
    cut_from(project, *(box(0, 0, *size) for size in sizes))  # looks at it with the checker


def test_greedy_says_which_strips_it_could_not_cut() -> None:
    strip = Strip("tie", 30.0, 300.0, join=Join.NONE)
    demands = [Demand(strip, 0, 1), Demand(strip, 0, 2)]
    tracks = tracks_of(0, 0, box(0, 0, 35, 400), 0.0, (strip,), 0.0)
    cuts = greedy_share(demands, tracks, 0.0, lambda: False)
    assert [cut.copy for cut in cuts] == [0]

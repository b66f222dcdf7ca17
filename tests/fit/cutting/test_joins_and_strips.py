"""Parts make their panel again, lengths make their strip again."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from salvage.fit.cutting.joins import (
    JoinWay,
    Piecing,
    bands,
    extent,
    near_middle,
    parts_of,
    piecings,
    refined,
)
from salvage.fit.cutting.sizes import scaled
from salvage.fit.cutting.strips import (
    cost_of_join,
    equal_lengths,
    least_segments,
    length_to_cut,
    most_lengths,
    shared_out,
)
from salvage.project.project import Join, Panel, Project, Strip


def rectangle(width: float, length: float, **more: object) -> Panel:
    return Panel("body", ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)  # type: ignore[arg-type]


@st.composite
def convex_panels(draw: st.DrawFn) -> Panel:
    """Panels with 4 to 9 corners on an ellipse, somewhere on the plane."""
    corners = sorted(draw(st.sets(st.integers(0, 35), min_size=5, max_size=9)))
    a, b = draw(st.floats(120, 400)), draw(st.floats(120, 400))
    ring = tuple(
        (a / 2 * math.cos(math.radians(10 * k)) + 50, b / 2 * math.sin(math.radians(10 * k)) - 80)
        for k in corners
    )
    return Panel(
        "body", ring, joins=2, seam_allowance=draw(st.sampled_from([0.0, 6.0, 10.0])), narrowest_part=20.0
    )


@settings(deadline=None, max_examples=60)
@given(convex_panels())
def test_parts_overlap_by_two_allowances_and_cover_the_panel(panel: Panel) -> None:
    outline = Polygon(panel.outline)
    ways = piecings(panel)
    left, low, right, high = outline.bounds
    assert ways or min(right - left, high - low) < 4 * panel.narrowest_part
    for piecing in ways:
        parts = parts_of(panel, piecing)
        assert parts is not None
        assert unary_union(parts).symmetric_difference(outline).area < 1e-6 * outline.area
        band = parts[0].intersection(parts[1])
        if panel.seam_allowance:
            assert extent(band, piecing.way) == pytest.approx(2 * panel.seam_allowance, abs=1e-6)
        else:
            assert band.area < 1e-6
        for more in refined(panel, piecing):
            assert len(parts_of(panel, more) or ()) == 3


@settings(deadline=None, max_examples=40)
@given(convex_panels(), st.data())
def test_every_piecing_has_a_part_with_a_band_in_it(panel: Panel, data: st.DataObject) -> None:
    """What a proof about bands says of all piecings: here piecings at random, found by a second way."""
    way = data.draw(st.sampled_from(list(JoinWay)))
    size = extent(Polygon(panel.outline), way)
    at = tuple(sorted(data.draw(st.lists(st.floats(0.1, 0.9), min_size=1, max_size=2, unique=True))))
    parts = parts_of(panel, Piecing(way, tuple(size * each for each in at)))
    bodies = bands(panel, way)
    assert bodies is not None  # a convex panel is never in bits
    if parts is not None:
        let_out = [part.buffer(1e-6) for part in parts]
        assert any(part.covers(body) for part in let_out for body in bodies)


def test_bands_of_a_rectangle_are_its_share_with_an_allowance() -> None:
    panel = rectangle(200, 300, joins=1, seam_allowance=10.0)
    across = bands(panel, JoinWay.ACROSS)
    assert across is not None
    for body in across:
        left, bottom, right, top = body.bounds
        assert right - left == pytest.approx(200)
        assert 150 * 0.85 < top - bottom <= 160


def test_join_positions_away_from_the_middle_come_first() -> None:
    found = piecings(rectangle(200, 300, joins=1, seam_allowance=10.0))
    middle = [near_middle(box(0, 0, 200, 300), each) for each in found]
    assert middle == sorted(middle)
    assert not middle[0]


def test_a_run_of_cloth_is_used_in_full() -> None:
    panel = rectangle(200, 300, joins=1, seam_allowance=10.0)
    found = piecings(panel, [(JoinWay.ACROSS, 250.0)])
    assert any(parts_of(panel, each)[0].bounds[3] == pytest.approx(250.0) for each in found)  # type: ignore[index]


def test_no_part_is_narrower_than_the_narrowest() -> None:
    panel = rectangle(200, 300, joins=1, narrowest_part=40.0)
    assert parts_of(panel, Piecing(JoinWay.ACROSS, (39.0,))) is None
    assert parts_of(panel, Piecing(JoinWay.ACROSS, (41.0,))) is not None


# --- strips ------------------------------------------------------------------------------------------


@st.composite
def strips(draw: st.DrawFn) -> Strip:
    return Strip(
        "tie",
        cut_width=draw(st.floats(20, 120)),
        length=draw(st.floats(200, 3000)),
        join=draw(st.sampled_from([Join.BIAS, Join.STRAIGHT])),
        shortest=draw(st.floats(60, 250)),
        seam_allowance=draw(st.sampled_from([0.0, 6.0, 10.0])),
    )


def sewn(strip: Strip, lengths: tuple[float, ...]) -> float:
    """Length after joining, worked out join by join."""
    total = lengths[0]
    for each in lengths[1:]:
        total = total + each - (strip.cut_width if strip.join is Join.BIAS else 2 * strip.seam_allowance)
    return total


@settings(deadline=None, max_examples=80)
@given(strips(), st.lists(st.floats(60, 1500), min_size=1, max_size=8))
def test_lengths_come_to_the_strip(strip: Strip, runs: list[float]) -> None:
    runs.sort(reverse=True)
    for count in range(1, most_lengths(strip) + 1):
        assert sewn(strip, equal_lengths(strip, count)) == pytest.approx(strip.length)
    shared = shared_out(strip, runs)
    if shared is not None:
        assert sewn(strip, shared) == pytest.approx(strip.length)
        assert all(length <= run + 1e-9 for length, run in zip(shared, runs, strict=False))
        assert len(shared) == 1 or min(shared) >= strip.shortest - 1e-9
        slack = [run - length for run, length in zip(runs, shared, strict=False)]
        held = [left for left, length in zip(slack, shared, strict=True) if length > strip.shortest + 1e-6]
        assert len(shared) == 1 or max(held, default=0) == pytest.approx(min(held, default=0), abs=1e-6)


@settings(deadline=None, max_examples=80)
@given(strips(), st.data(), st.sampled_from([0.0, 3.0]))
def test_least_segments_is_less_than_any_way_of_joining_has_room_for(
    strip: Strip, data: st.DataObject, gap: float
) -> None:
    short, least = least_segments(strip, gap)
    count = data.draw(st.integers(1, most_lengths(strip)))
    lengths = []
    rest = length_to_cut(strip, count)
    for i in range(count - 1):
        room = rest - (count - 1 - i) * strip.shortest
        if room < strip.shortest:
            return
        lengths.append(data.draw(st.floats(strip.shortest, room)))
        rest -= lengths[-1]
    lengths.append(rest)
    if count > 1 and rest < strip.shortest:
        return
    held = sum(int((length + gap) / (short + gap) + 1e-9) for length in lengths)
    assert least <= held


def test_bias_join_costs_the_cut_width() -> None:
    """Common practice: strips of cut width w joined at 45 degrees lose w of length at each join."""
    assert cost_of_join(Strip("tie", 38.0, 900.0)) == 38.0
    assert length_to_cut(Strip("tie", 38.0, 900.0), 3) == 900.0 + 2 * 38.0


# --- sizes -------------------------------------------------------------------------------------------


def test_scaling_changes_finished_sizes_and_keeps_allowances() -> None:
    project = Project(
        "p",
        (rectangle(220, 320, seam_allowance=10.0, finished=(200.0, 300.0)),),
        (Strip("tie", 80.0, 520.0, finished_width=20.0, folds=4, seam_allowance=10.0),),
    )
    half = scaled(project, 50.0)
    assert half is not None
    assert Polygon(half.panels[0].outline).bounds == pytest.approx((0, 0, 120, 170))
    assert half.panels[0].finished == pytest.approx((100, 150))
    assert half.strips[0].length == pytest.approx(270)
    assert half.strips[0].cut_width == pytest.approx(40)


def test_scaling_a_shaped_panel_scales_its_sewn_outline() -> None:
    outline = ((0.0, 0.0), (200.0, 0.0), (120.0, 300.0), (40.0, 300.0))
    panel = Panel("body", outline, seam_allowance=10.0)
    double = scaled(Project("p", (panel,)), 200.0)
    assert double is not None
    sewn_before = Polygon(outline).buffer(-10, join_style="mitre")
    sewn_after = Polygon(double.panels[0].outline).buffer(-10, join_style="mitre")
    assert sewn_after.area == pytest.approx(4 * sewn_before.area, rel=1e-6)


def test_scaling_by_100_changes_nothing() -> None:
    outline = ((0.0, 0.0), (200.0, 0.0), (120.0, 300.0), (40.0, 300.0))
    same = scaled(Project("p", (Panel("body", outline, seam_allowance=10.0),)), 100.0)
    assert same is not None
    assert Polygon(same.panels[0].outline).symmetric_difference(Polygon(outline)).area < 1e-6

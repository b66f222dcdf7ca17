"""The places where things touch, against the corners of the free room as shapely works it out whole."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box
from small_tasks import Small, Spots, small

from salvage.fit.kernels.calls import find_spots, lay_by_contact, put

BLOB = Polygon([(0, 0), (40, -5), (55, 25), (30, 45), (-5, 30)])
WEDGE = Polygon([(0, 0), (50, 0), (30, 25), (5, 30)])
BEND = Polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)])


def free(asked: Small, o: int) -> shapely.Geometry:
    """Where the middle of orientation o may lie on ground 0: within the hull, in no obstacle, on nothing laid."""
    taken = []
    for i in asked.laid():
        at = float(asked.state.x[i]), float(asked.state.y[i])
        taken += [
            shapely.affinity.translate(each, *at) for each in asked.no_fit(int(asked.state.orientation[i]), o)
        ]
    ring = asked.task.orientations[o].ring
    for wall in asked.task.grounds[0].obstacles:
        taken.append(
            Polygon(shapely.MultiPoint((wall[:, None] - ring[None]).reshape(-1, 2)).convex_hull.exterior)
        )
    return asked.within(0, o).difference(shapely.union_all(taken))


def corners_of(area: shapely.Geometry) -> list[tuple[float, float]]:
    """Corners that really bend."""
    found = []
    for part in shapely.get_parts(area):
        if not isinstance(part, Polygon) or part.area < 1e-6:
            continue
        for ring in (part.exterior, *part.interiors):
            points = np.array(ring.simplify(1e-7).coords)[:-1]
            before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
            size = np.hypot(*before.T) * np.hypot(*after.T)
            bend = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]) / size
            short = np.minimum(np.hypot(*before.T), np.hypot(*after.T)) < 1e-3
            found += [
                tuple(p) for p, b, s in zip(points.tolist(), bend, short, strict=True) if b > 1e-3 and not s
            ]
    return found


def spots_of(asked: Small) -> list[tuple[int, int, float, float, float]]:
    spots = Spots.of(asked)
    find_spots(asked.t, asked.s, spots.rings.packed, spots.packed, 0)
    return spots.rows()


@settings(max_examples=25)
@given(st.tuples(st.floats(30, 90), st.floats(30, 110)), st.tuples(st.floats(110, 170), st.floats(30, 110)))
def test_spots_are_the_corners_of_the_free_room(one: tuple[float, float], two: tuple[float, float]) -> None:
    """Two things lie there, on a cloth with a slanting side and a hole; a third of a third kind is to be laid."""
    cloth = Polygon([(0, 0), (200, 0), (220, 140), (0, 140)]).difference(box(95, 60, 105, 75))
    asked = small([cloth], [BLOB, BEND, WEDGE])
    put(asked.t, asked.s, 0, 0, 0, *one)
    put(asked.t, asked.s, 1, 0, 1, *two)
    there = free(asked, 2)
    rows = spots_of(asked)
    assert {(kind, o) for kind, o, *_ in rows} <= {(2, 2)}
    at = [(x, y) for _, _, x, y, _ in rows]
    for place in at:
        assert there.distance(Point(place)) < 1e-6
        assert there.boundary.distance(Point(place)) < 1e-6
    cloud = shapely.MultiPoint(at)
    missed = [place for place in corners_of(there) if cloud.distance(Point(place)) > 1e-3]
    assert missed == []


def along(shape: Polygon, others: Sequence[Polygon], cloth: Polygon) -> float:
    """mm of an outline that lie along the cloth's edge or another's outline; exact on whole millimetres."""
    edges = [cloth.boundary, *(each.exterior for each in others)]
    return sum(float(shape.exterior.intersection(edge).length) for edge in edges)


def test_contact_is_the_length_that_lies_along_something() -> None:
    cloth = box(0, 0, 160, 130).difference(box(60, 60, 80, 100))
    asked = small([cloth], [box(0, 0, 40, 30), box(0, 0, 20, 50)], counts=[1, 2])
    put(asked.t, asked.s, 0, 0, 0, 20.0, 15.0)
    put(asked.t, asked.s, 1, 0, 1, 50.0, 25.0)
    rows = spots_of(asked)
    assert len(rows) > 8
    told = {}
    for _, o, x, y, contact in rows:
        shape = shapely.set_precision(asked.lying(o, x, y), 0.5)
        wanted = along(shape, [asked.item(0), asked.item(1)], cloth)
        told[round(x, 3), round(y, 3)] = contact
        assert contact == pytest.approx(wanted, abs=1e-6), (x, y)
    # By hand: on the floor beside the second, 20 of floor and 50 of side; in the far corner 20 and 50 of the cloth's.
    assert told[70.0, 25.0] == pytest.approx(70.0)
    assert told[150.0, 105.0] == pytest.approx(70.0)


def test_an_edge_that_is_flush_at_both_ends_counts_for_more_where_that_is_wanted() -> None:
    """Two rectangles of 20 x 50 side by side on the floor: their sides of 50 are flush, the 20 of floor aren't."""
    asked = small([box(0, 0, 160, 120)], [box(0, 0, 20, 50)], counts=[2])
    put(asked.t, asked.s, 0, 0, 0, 50.0, 25.0)
    spots = Spots.of(asked)
    spots.rings.taste[:] = 0.0, 1.0
    find_spots(asked.t, asked.s, spots.rings.packed, spots.packed, 0)
    told = {(round(x, 3), round(y, 3)): contact for _, _, x, y, contact in spots.rows()}
    assert told[70.0, 25.0] == pytest.approx(20.0 + 2 * 50.0)
    assert told[10.0, 25.0] == pytest.approx(20.0 + 50.0)


def test_edges_in_contact_may_be_the_gap_apart_but_not_farther() -> None:
    asked = small([box(0, 0, 160, 120)], [box(0, 0, 20, 50)], 3.0, counts=[2])
    put(asked.t, asked.s, 0, 0, 0, 50.0, 25.0)
    told = {(round(x, 3), round(y, 3)): contact for _, _, x, y, contact in spots_of(asked)}
    assert told[73.0, 25.0] == pytest.approx(70.0)
    assert all(abs(x - 50.0) >= 23.0 - 1e-6 or abs(y - 25.0) >= 53.0 - 1e-6 for x, y in told)


@settings(max_examples=20)
@given(st.integers(0, 10**6), st.sampled_from([0.0, 2.0]))
def test_spots_brought_up_to_date_are_those_found_anew(seed: int, gap: float) -> None:
    rng = np.random.default_rng(seed)
    asked = small(
        [box(0, 0, 200, 140).difference(box(90, 60, 100, 80))], [BLOB, BEND, WEDGE], gap, counts=[1, 1, 2]
    )
    spots = Spots.of(asked)
    find_spots(asked.t, asked.s, spots.rings.packed, spots.packed, 0)
    for _ in range(3):
        size = float(rng.uniform(0.0, 1.0))
        assert lay_by_contact(asked.t, asked.s, spots.rings.packed, spots.packed, size, 0.1, 1) == 1
        assert asked.faults() == []
        kept, anew = ({(k, o, round(x, 3), round(y, 3)): c for k, o, x, y, c in rows}
                      for rows in (spots.rows(), spots_of(asked)))  # fmt: skip
        near = {
            key[:2]: shapely.MultiPoint([each[2:] for each in kept if each[:2] == key[:2]]) for key in kept
        }
        for (k, o, x, y), contact in anew.items():
            assert near[k, o].distance(Point(x, y)) < 2e-3
            if (k, o, x, y) in kept:
                assert kept[k, o, x, y] == pytest.approx(contact, abs=1e-6)


def test_a_place_kept_gains_the_contact_with_what_was_laid_beside_it() -> None:
    """A square in one corner of four: in the two beside it a third side is in contact, 150 of 200; not in the last."""
    asked = small([box(0, 0, 100, 100)], [box(0, 0, 50, 50)], counts=[4])
    spots = Spots.of(asked)
    find_spots(asked.t, asked.s, spots.rings.packed, spots.packed, 0)
    assert sorted(round(row[4], 6) for row in spots.rows()) == [100.0] * 4
    assert lay_by_contact(asked.t, asked.s, spots.rings.packed, spots.packed, 0.0, 0.0, 1) == 1
    assert sorted(round(row[4], 6) for row in spots.rows()) == [100.0, 150.0, 150.0]


def test_the_place_of_most_contact_for_its_outline_is_taken() -> None:
    """Size apart, a square of 30 in a niche of its width has three sides of four in contact: the bar has half."""
    niche = box(0, 0, 150, 100).difference(box(0, 60, 60, 100)).difference(box(90, 60, 150, 100))
    asked = small([niche], [box(0, 0, 60, 20), box(0, 0, 30, 30)])
    spots = Spots.of(asked)
    find_spots(asked.t, asked.s, spots.rings.packed, spots.packed, 0)
    assert lay_by_contact(asked.t, asked.s, spots.rings.packed, spots.packed, 0.0, 0.0, 1) == 1
    assert asked.laid() == [1]
    assert (asked.state.x[1], asked.state.y[1]) == pytest.approx((75.0, 85.0))


def test_size_counts_before_contact_where_it_is_to() -> None:
    niche = box(0, 0, 150, 100).difference(box(0, 60, 60, 100)).difference(box(90, 60, 150, 100))
    asked = small([niche], [box(0, 0, 60, 20), box(0, 0, 30, 30)])
    spots = Spots.of(asked)
    find_spots(asked.t, asked.s, spots.rings.packed, spots.packed, 0)
    assert lay_by_contact(asked.t, asked.s, spots.rings.packed, spots.packed, 10.0, 0.0, 1) == 1
    assert asked.laid() == [0]


def test_what_is_laid_in_one_go_ends_with_the_items_or_the_cloth() -> None:
    full = small([box(0, 0, 60, 40)], [box(0, 0, 20, 20)], counts=[8])
    spots = Spots.of(full)
    find_spots(full.t, full.s, spots.rings.packed, spots.packed, 0)
    assert lay_by_contact(full.t, full.s, spots.rings.packed, spots.packed, 1.0, 0.0, 100) == 6
    assert full.faults() == []
    roomy = small([box(0, 0, 300, 300)], [box(0, 0, 20, 20)], counts=[3])
    spots = Spots.of(roomy)
    find_spots(roomy.t, roomy.s, spots.rings.packed, spots.packed, 0)
    assert lay_by_contact(roomy.t, roomy.s, spots.rings.packed, spots.packed, 1.0, 0.0, 100) == 3
    assert spots.rows() == []  # nothing is left to be laid

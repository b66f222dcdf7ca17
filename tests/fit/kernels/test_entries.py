"""No-fit polygons against the hull of all differences of corners, which shapely finds without merging any edges."""

from __future__ import annotations

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon, box
from small_tasks import differences, small

from salvage.fit.kernels.calls import fill_entries, lay
from salvage.fit.kernels.packed import TABLES_FIELDS, Packed

seeds = st.integers(0, 10**6)


def convex(seed: int, corners: int = 7) -> np.ndarray:
    """A convex ring, counter-clockwise; every third of them with sides along x and y, so that edges are parallel."""
    rng = np.random.default_rng(seed)
    if seed % 3 == 0:
        w, h = rng.integers(5, 40, 2)
        return np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)])
    hull = shapely.MultiPoint(rng.uniform(-30, 30, (corners, 2))).convex_hull
    return shapely.get_coordinates(shapely.geometry.polygon.orient(hull, 1.0))[:-1]


@settings(max_examples=60)
@given(seeds, st.sampled_from([0.0, 2.5]))
def test_an_entry_is_the_hull_of_all_differences(seed: int, gap: float) -> None:
    rings = [convex(seed), convex(seed + 1), convex(seed + 3)]
    first = np.concatenate([[0], np.cumsum([len(ring) for ring in rings])])
    points = np.concatenate(rings)
    pairs = [
        (0, 1),
        (1, 2),
        (2, 0),
        (0, 2),
    ]  # the last two as if against an obstacle, to which no gap is kept
    room = 4 * len(points)
    box_, edges = np.zeros((4, 4)), [np.zeros(room) for _ in range(5)]
    counts = fill_entries(
        2, np.array([a for a, _ in pairs]), np.array([b for _, b in pairs]), first, points[:, 0], points[:, 1], gap,
        box_, *edges,
    )  # fmt: skip
    ex, ey, nx, ny, c = edges
    for k, (a, b) in enumerate(pairs):
        wanted = differences(rings[a], rings[b])
        mine = slice(counts[k], counts[k + 1])
        found = Polygon(np.column_stack([ex[mine], ey[mine]]))
        assert found.exterior.is_ccw
        assert found.hausdorff_distance(wanted) < 1e-9
        assert len(found.exterior.coords) == len(wanted.exterior.coords)  # parallel edges are one
        grown = gap if k < 2 else 0.0
        left, bottom, right, top = wanted.bounds
        np.testing.assert_allclose(
            box_[k], (left - grown, bottom - grown, right + grown, top + grown), atol=1e-9
        )
        # Each edge's normal points out, is 1 long, and its line goes through both its ends.
        ends = np.roll(np.column_stack([ex[mine], ey[mine]]), -1, axis=0)
        normals = np.column_stack([nx[mine], ny[mine]])
        np.testing.assert_allclose(np.hypot(*normals.T), 1.0)
        np.testing.assert_allclose((normals * ends).sum(axis=1), c[mine], atol=1e-9)
        centre = np.array(wanted.centroid.coords[0])
        assert (normals @ centre < c[mine]).all()


def _field(packed: Packed, name: str, size: int) -> np.ndarray:
    start = int(packed._words[3 + TABLES_FIELDS.index(name)])
    kind = packed.f if name in ("ex", "ey") else packed.i
    return kind[start : start + size]


def test_an_edge_is_dead_only_where_it_lies_within_another_entry() -> None:
    """Of a star laid beside a star: the edges that the search has looked at, each against every other entry whole."""
    turns = np.arange(14) * np.pi / 7
    far = np.where(np.arange(14) % 2, 20.0, 60.0)
    star = Polygon(np.column_stack([far * np.cos(turns), far * np.sin(turns)]))
    asked = small([box(0, 0, 300, 300)], [star], counts=[2])
    corner = np.array([1.0, 0.5, -1.0, -1.0])
    assert lay(asked.t, asked.s, 0, 0, corner)
    assert lay(asked.t, asked.s, 1, 0, corner)
    entries = asked.no_fit(0, 0)
    first = _field(asked.t, "ent_first", len(entries) + 1)
    x, y, live = (_field(asked.t, name, first[-1]) for name in ("ex", "ey", "live"))
    kinds = set()
    for k, _ in enumerate(entries):
        ring = range(first[k], first[k + 1])
        for e in ring:
            after = e + 1 if e + 1 in ring else ring[0]
            edge = LineString([(x[e], y[e]), (x[after], y[after])])
            if live[e] < 0:
                continue  # never looked at
            within = any(other.buffer(-1e-6).covers(edge) for b, other in enumerate(entries) if b != k)
            assert within == (live[e] == 0)
            kinds.add(int(live[e]))
    assert kinds == {0, 1}

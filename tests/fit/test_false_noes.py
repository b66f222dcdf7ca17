"""Questions that once were answered no though a layout exists: each cause kept as a question of our own."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece, PlusMinus
from salvage.fit.answer import Verdict
from salvage.fit.check.check import check
from salvage.fit.fit import fit_project
from salvage.fit.geometry.convex import convex_parts
from salvage.fit.geometry.ground import obstacles_of
from salvage.fit.proof.prove import prove
from salvage.fit.question import Cloth, Question, Shape
from salvage.fit.say.proofs import of_missing_fabric
from salvage.project.project import Panel, Project
from salvage.shapes import polygons_of

STEPS = 3000


def garment(*stretches: Polygon, plus_minus: float = 0.0, **more: Any) -> Garment:
    pieces = tuple(
        Piece(
            f"piece {n}",
            each.buffer(5),
            usable=MultiPolygon([each]),
            plus_minus=PlusMinus(0.0, plus_minus),
            **more,
        )
        for n, each in enumerate(stretches)
    )
    return Garment("coat", pieces)


def rect(w: float, h: float) -> tuple[tuple[float, float], ...]:
    return ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h))


# --- panels that may be turned over, with angles that don't mirror into each other ------------------


@pytest.mark.parametrize("how", ["flip", "mirrored"])
def test_a_panel_turned_over_is_counted_as_it_lies_then(how: str) -> None:
    """Turned by 30 the drawn square stands upright, turned over it stands on end: the lattice is another."""
    square = affinity.rotate(box(0, 0, 100, 100), -30, origin=(0, 0))
    outline = tuple(square.exterior.coords)[:-1]
    on_end = affinity.rotate(affinity.scale(square, -1, 1, origin=(0, 0)), 30, origin=(0, 0))
    pair = on_end.union(affinity.translate(on_end, *np.diff(on_end.exterior.coords[:2], axis=0)[0]))
    cloths = [pair.buffer(0.2, join_style="mitre")]
    cloths.append(cloths[0] if how == "flip" else box(0, 0, 200.2, 100.2))
    shape = Shape(
        "p", outline, count=4, turns=(30.0,), may_flip=how == "flip", mirrored_pair=how == "mirrored"
    )
    question = Question(tuple(Cloth(str(n), c) for n, c in enumerate(cloths)), (shape,))
    assert prove(question) is None


# --- limits that rested on what was supposed, and dropped, before -----------------------------------


def wavy(polygon: Polygon, by: float = 0.4) -> Polygon:
    """The same with a fine wave along its edge, outwards only."""
    ring = np.asarray(polygon.exterior.segmentize(4.0).coords)[:-1]
    out = np.asarray(polygon.centroid.coords[0])
    away = (ring - out) / np.hypot(*(ring - out).T)[:, None]
    wave = by * (1 + np.sin(np.arange(len(ring)) * 1.7))
    return Polygon(ring + away * wave[:, None])


def test_limits_do_not_outlive_the_facts_they_rest_on() -> None:
    cloths = tuple(
        Cloth(str(n), wavy(each)) for n, each in enumerate((box(0, 0, 100.5, 290.5), box(0, 0, 100.5, 100.5)))
    )
    question = Question(cloths, (Shape("k", rect(100, 100), count=2), Shape("m", rect(80, 190))))
    assert prove(question) is None


# --- scraps that a narrow or pointed part fits -------------------------------------------------------


@pytest.mark.parametrize("length", [400.0, 430.0])
def test_scraps_count_where_a_narrow_part_fits_them(length: float) -> None:
    cloth = garment(box(0, 0, 20.5, 380.5), box(0, 0, 20.5, 60.5))
    answer = fit_project([cloth], Project("p", (Panel("belt", rect(20, length), joins=1),)), steps=STEPS)
    assert answer.verdict is not Verdict.NO


def test_scraps_count_where_the_tip_of_a_triangle_fits_them() -> None:
    triangle = ((0.0, 0.0), (150.0, 0.0), (75.0, 150.0))
    low, tip = (Polygon(triangle).intersection(each) for each in (box(0, 0, 150, 105), box(0, 105, 150, 150)))
    cloth = garment(low.buffer(0.4, join_style="mitre"), tip.buffer(0.4, join_style="mitre"))
    answer = fit_project([cloth], Project("p", (Panel("q", triangle, joins=1),)), steps=STEPS)
    assert answer.verdict is not Verdict.NO


# --- cloth thinned or pulled in on its way to a proof -----------------------------------------------


def test_a_spare_below_the_plus_minus_is_no_no() -> None:
    side = 282.0
    circle = Point(300, 300).buffer(side / math.sqrt(2) + 0.4, quad_segs=30)
    answer = fit_project(
        [garment(circle, plus_minus=2.0)], Project("p", (Panel("sq", rect(side, side)),)), steps=STEPS
    )
    assert answer.verdict is not Verdict.NO


@pytest.mark.parametrize("seam", [False, True])
def test_cloth_typed_in_exactly_as_large_as_the_panel_holds_it(seam: bool) -> None:
    line = Blocked(BlockedKind.SEAM, LineString([(100, 0), (100, 400)]), 6.0)
    piece = Piece("back", box(0, 0, 300, 400), blocked=(line,) if seam else ())
    width = 194.0 if seam else 300.0
    answer = fit_project(
        [Garment("coat", (piece,))], Project("p", (Panel("sq", rect(width, 400)),)), steps=STEPS
    )
    assert answer.verdict is Verdict.YES


def test_a_small_panel_finds_a_small_cloth() -> None:
    answer = fit_project(
        [garment(box(0, 0, 9.5, 9.5))], Project("p", (Panel("patch", rect(9, 9)),)), steps=STEPS
    )
    assert answer.verdict is Verdict.YES


def test_a_fabric_of_which_all_is_blocked_is_not_said_to_be_missing() -> None:
    stain = Blocked(BlockedKind.WORN, box(-5, -5, 60, 60), 0.0)
    coat = Garment("coat", (Piece("back", box(0, 0, 50, 50), blocked=(stain,)),))
    answer = fit_project([coat], Project("p", (Panel("a", rect(10, 10)),)), steps=STEPS)
    assert answer.verdict is Verdict.NO
    assert answer.reasons == (of_missing_fabric("shell", [coat]),)
    assert "all of it is blocked" in answer.reasons[0]


# --- names -------------------------------------------------------------------------------------------


def test_a_panel_called_like_a_piece_is_not_taken_for_it() -> None:
    """The piece "front" is where the panel "back" finds no place; the panel "front" is not in the way."""
    cloth = Garment("coat", (Piece("front", box(0, 0, 100, 100)), Piece("back", box(0, 0, 100, 90))))
    project = Project("p", (Panel("front", rect(50, 50)), Panel("back", rect(120, 20))))
    answer = fit_project([cloth], project, steps=STEPS)
    assert answer.verdict is Verdict.NO
    assert answer.proof is not None
    assert answer.proof.panels == ("back",)
    assert answer.proof.pieces == ("front", "back")
    assert len(answer.reasons) == 1


# --- layouts that were lost --------------------------------------------------------------------------


@pytest.mark.parametrize("apart", [1.0, 2.5])
def test_panels_on_two_stretches_of_a_piece_keep_the_gap(apart: float) -> None:
    usable = MultiPolygon([box(0, 0, 100.2, 100.2), box(100.2 + apart, 0, 204 + apart, 100.2)])
    coat = Garment("coat", (Piece("back", box(-5, -5, 215, 105), usable=usable),))
    project = Project("p", (Panel("sq", rect(100, 100), cut=2),), cutting_gap=3.0)
    answer = fit_project([coat], project, steps=STEPS)
    assert answer.verdict is Verdict.YES
    assert check([coat], project, answer.placements) == ()


def test_the_same_corners_in_another_order_are_another_shape() -> None:
    """Hausdorff distance at corners is 0 between these two."""
    one = Polygon([(0, 0), (100, 0), (100, 100), (60, 40), (0, 100), (40, 40)])
    other = Polygon([(0, 0), (40, 40), (100, 0), (100, 100), (60, 40), (0, 100)])
    assert other.is_valid
    from salvage.fit.answer import Placement

    coat = Garment("coat", (Piece("back", box(-5, -5, 205, 205)),))
    project = Project("p", (Panel("q", tuple(one.exterior.coords)[:-1]),))
    placed = Placement("q", 1, None, 0, "back", 1, 0.0, False, other)
    assert check([coat], project, [placed]) != ()


# --- geometry under the proofs -----------------------------------------------------------------------


@pytest.mark.parametrize("depth", [1e-9, 5e-9, 1e-8, 1e-7, 1e-3])
def test_the_shallowest_pocket_is_drawn_out_away_from_the_cloth(depth: float) -> None:
    cloth = Polygon([(0, 0), (500, 0), (500, 400), (480, 400 - depth), (20, 400 - depth), (0, 400)])
    inner = cloth.buffer(-1e-5)
    parts = obstacles_of(cloth, cloth.convex_hull)
    assert parts or depth < 1e-8  # as good as none
    for part in parts:
        assert not Polygon(part).intersects(inner)


@pytest.mark.parametrize("seed", range(60))
def test_convex_parts_never_leave_the_polygon(seed: int) -> None:
    """Slivers, near-flat corners and corners that nearly touch are where ear clipping goes astray."""
    rng = np.random.default_rng(seed)
    angles = np.sort(rng.uniform(0, 2 * np.pi, 14))
    radii = rng.choice([1e-6, 1.0, 60.0, 60.0 + 1e-9, 90.0], 14)
    whole = Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))
    for polygon in polygons_of(whole if whole.is_valid else whole.buffer(0)):
        if polygon.interiors or polygon.area < 1e-3:
            continue
        parts = [Polygon(part) for part in convex_parts(polygon)]
        assert all(polygon.buffer(1e-5).covers(part) for part in parts)
        assert sum(part.area for part in parts) == pytest.approx(polygon.area, rel=1e-6)

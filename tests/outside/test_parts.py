"""What parts work out, against worked examples and geometry that is not ours.

Sources: common practice of bag, hat and dress making where nothing else is named (no standard found); the hat's crown
against the area of a half sphere and the length of its parallels, the brim against a cone built in space.
Figures are typed here, not taken from salvage/.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely.affinity import translate
from shapely.geometry import LineString, Point, Polygon, box

from salvage.project.outlines import stitching_line
from salvage.project.project import Grain, Panel, Project, Strip
from salvage.project.read import project_from
from salvage.project.sides import side_of

INCH = 25.4


def made(*parts: dict[str, Any], unit: str = "mm", allowance: Any = 10) -> Project:
    data = {"units": unit, "seam_allowance": allowance, "part": list(parts)}
    return project_from(data, folder=Path())


def item(project: Project, name: str) -> Any:
    made_items: list[Any] = [*project.panels, *project.strips]
    return next(each for each in made_items if each.name == name)


def sewn(panel: Any) -> Polygon:
    line = stitching_line(panel)
    assert line is not None
    return line


def extent(outline: Any) -> tuple[float, float]:
    left, low, right, high = Polygon(outline).bounds
    return right - left, high - low


def test_a_bag_with_boxed_corners_10_by_8_by_4_inches() -> None:
    # Worked example, common practice: walls 14 x 10 in finished; with 3/8 in allowance cut 14 3/4 x 10 3/4 in.
    project = made(
        {"name": "b", "kind": "bag", "width": 10, "height": 8, "depth": 4}, unit="in", allowance="3/8"
    )
    wall = item(project, "b wall")
    assert wall.cut == 2
    assert wall.finished == pytest.approx((14 * INCH, 10 * INCH))
    assert extent(wall.outline) == pytest.approx((14.75 * INCH, 10.75 * INCH))


@pytest.mark.parametrize("bottom", ["seam", "fold"])
@pytest.mark.parametrize(("width", "height", "depth"), [(260, 240, 80), (100, 300, 99), (400, 50, 20)])
def test_a_boxed_bag_has_the_surface_of_a_box(bottom: str, width: float, height: float, depth: float) -> None:
    """Sewn, its stitched cloth less what the corners' tips take is that of an open box of these sizes."""
    project = made(
        {"name": "b", "kind": "bag", "width": width, "height": height, "depth": depth, "bottom": bottom}
    )
    (panel,) = project.panels
    cloth = panel.cut * sewn(panel).area
    tips = 4 * (depth / 2) ** 2  # four squares of depth / 2, two at each corner
    box_area = width * depth + 2 * height * (width + depth)
    assert cloth - tips == pytest.approx(box_area)


def test_a_lining_is_a_little_shorter() -> None:
    # fixtures' basket bag, as sewn: an outer wall of 10 in has a lining wall of 9 3/4 in
    project = made(
        {"name": "b", "kind": "bag", "width": 10, "height": 8, "depth": 4},
        {"name": "l", "kind": "lining", "of": "b", "shorter": "1/4"},
        unit="in",
        allowance="3/8",
    )
    lining = item(project, "l wall")
    assert lining.finished == pytest.approx((14 * INCH, 9.75 * INCH))
    assert (lining.fabric, lining.cut) == ("lining", 2)


def test_a_patch_pocket_5_by_6_inches_with_an_inch_of_hem() -> None:
    # Worked example, common practice: 5 + 2 x 1/2 wide; 6 + 1/2 (bottom) + 1 (hem) + 1/2 (turned under) = 8 long.
    project = made(
        {"name": "p", "kind": "flat pocket", "width": 5, "height": 6, "hem": 1}, unit="in", allowance="1/2"
    )
    pocket = item(project, "p")
    assert extent(pocket.outline) == pytest.approx((6 * INCH, 8 * INCH))
    assert sewn(pocket).bounds == pytest.approx((0, 0, 5 * INCH, 6 * INCH))


def test_a_zip_pocket_folds_up_over_its_opening() -> None:
    """Folded by shapely at the fold line, the upper edges meet and the opening lies under cloth all round."""
    project = made(
        {"name": "z", "kind": "zip pocket", "zip": 180, "depth": 150, "side": 20, "above": 30, "opening": 12}
    )
    pocket = item(project, "z")
    assert extent(pocket.outline) == pytest.approx((180 + 2 * 20 + 20, 2 * (30 + 12 + 150) + 20))
    fold, window = pocket.guides
    high = fold.points[0][1]
    flap = [(x, 2 * high - y) for x, y in sewn(pocket).exterior.coords]  # the lower half, turned up
    assert max(y for _, y in flap) == pytest.approx(sewn(pocket).bounds[3])
    opening = Polygon(window.points)
    assert opening.bounds[2] - opening.bounds[0] == pytest.approx(180)
    assert opening.bounds[1] - high == pytest.approx(150)  # a hand's depth below the opening
    assert sewn(pocket).bounds[3] - opening.bounds[3] == pytest.approx(30)
    (notion,) = project.parts[0].notions
    assert (notion.what, notion.length) == ("zip", 180)


@pytest.mark.parametrize("corner", [0.0, 40.0, 100.0])
def test_a_gusset_is_as_long_as_the_edge_it_goes_round(corner: float) -> None:
    """Against the length of the stitching line of a face as shapely measures it, less its top."""
    project = made(
        {"name": "g", "kind": "gusset", "width": 300, "height": 220, "depth": 70, "corner": corner}
    )
    face, strip = item(project, "g face"), item(project, "g gusset")
    square = box(0, 0, 300, 220)
    rounded = square if not corner else square.buffer(-corner).buffer(corner, quad_segs=500)
    full = LineString(rounded.exterior.coords).length
    if corner:  # only the lower corners are rounded: put the upper two back
        full += 2 * (2 - math.pi / 2) * corner
    assert strip.length - 2 * 10 == pytest.approx(full - 300, abs=0.05)
    assert strip.cut_width == pytest.approx(70 + 20)
    assert sewn(face).exterior.length - 300 == pytest.approx(strip.length - 20, abs=0.3)


@pytest.mark.parametrize("sides", [1, 2, 3])
def test_a_side_goes_once_round_a_round_base(sides: int) -> None:
    # Worked example: a base of 20 cm across has 62.8 cm round it (pi x 20).
    project = made({"name": "r", "kind": "round base", "diameter": 200, "height": 150, "sides": sides})
    base, side = item(project, "r base"), item(project, "r side")
    assert side.cut * (extent(side.outline)[0] - 20) == pytest.approx(628.3, abs=0.05)
    exact = Point(0, 0).buffer(110, quad_segs=2000)
    assert Polygon(base.outline).buffer(1e-3).covers(exact)
    assert Polygon(base.outline).area / exact.area == pytest.approx(1.0, abs=0.003)


def test_a_casing_lets_its_cord_run() -> None:
    # A flat tube of width w has 2 w round it inside; a cord of 6 mm has 18.85 mm round it.
    project = made({"name": "c", "kind": "casing", "around": 600, "cord": 6})
    strip = item(project, "c")
    channel = (strip.cut_width - 2 * 10) / 2
    assert 2 * channel - math.pi * 6 == pytest.approx(6.0)  # 3 mm of ease on either side
    assert strip.length == pytest.approx(620)


def test_a_strap_folded_twice_is_cut_four_times_its_width() -> None:
    # common practice: 1 in finished is cut 4 in wide
    project = made({"name": "s", "kind": "strap", "width": 1, "length": 28}, unit="in", allowance="1/2")
    strip = item(project, "s")
    assert (strip.cut_width, strip.length, strip.folds) == (
        pytest.approx(4 * INCH),
        pytest.approx(29 * INCH),
        4,
    )


@pytest.mark.parametrize(("double", "times"), [(False, 4), (True, 6)])
def test_bindings_of_half_an_inch(double: bool, times: int) -> None:
    # common practice: single-fold binding showing 1/2 in is cut 2 in wide, double (French) binding 3 in, on the bias
    entry = {"name": "b", "kind": "binding", "width": "1/2", "around": 40, "over": 10, "double": double}
    strip = item(made(entry, unit="in", allowance="1/4"), "b")
    assert strip.cut_width == pytest.approx(times / 2 * INCH)
    assert strip.length == pytest.approx(50 * INCH)
    assert strip.grain is Grain.BIAS


def test_a_patchwork_of_two_fabrics_covers_its_size() -> None:
    # Worked example: 5 x 4 patches of 8 cm make 40 x 32 cm; in a chequerboard ten are of each fabric.
    entry = {
        "name": "q", "kind": "patchwork", "width": 400, "height": 320, "columns": 5, "rows": 4,
        "fabrics": ["shell", "lining"],
    }  # fmt: skip
    project = made(entry, allowance=6)
    first, second = project.panels
    assert (first.cut, second.cut) == (10, 10)
    assert extent(first.outline) == pytest.approx((80 + 12, 80 + 12))
    assert sum(p.cut * math.prod(p.finished or ()) for p in project.panels) == pytest.approx(400 * 320)


@pytest.mark.parametrize("gores", [4, 6, 8, 11])
def test_gores_of_a_half_sphere(gores: int) -> None:
    """A crown a quarter of the head high is a half sphere: its area, and its parallels at 30 and 60 degrees."""
    head = 580.0
    entry = {"name": "h", "kind": "hat", "head": head, "ease": 0, "crown": head / 4, "gores": gores}
    gore = item(made(entry), "h gore")
    line = sewn(gore)
    radius = head / (2 * math.pi)
    assert gores * line.area == pytest.approx(2 * math.pi * radius**2, rel=2e-3)
    assert gores * line.area >= 2 * math.pi * radius**2 - 1e-6
    for latitude in (0, 30, 60):
        at = radius * math.radians(latitude)
        across = line.intersection(LineString([(-1000, at + 1e-9), (1000, at + 1e-9)])).length
        parallel = 2 * math.pi * radius * math.cos(math.radians(latitude))
        assert gores * across == pytest.approx(parallel, abs=gores * 0.35)


@pytest.mark.parametrize("slope", [0, 25, 60])
def test_a_brim_is_a_cone_unrolled(slope: float) -> None:
    """Its inner edge fits the crown; its outer edge is as long as the circle that the cone's rim makes in space."""
    head, brim = 580.0, 60.0
    entry = {
        "name": "h", "kind": "hat", "head": head, "ease": 0, "crown": 160, "brim": brim, "slope": slope,
    }  # fmt: skip
    half = item(made(entry), "h brim half")
    assert half.cut == 4
    points = np.array(sewn(half).exterior.coords)[:-1]
    points = points[np.argsort(np.arctan2(points[:, 1], points[:, 0]))]
    reach = np.hypot(points[:, 0], points[:, 1])
    assert np.ptp(reach) == pytest.approx(brim, abs=0.15)
    inner_edge, outer_edge = (
        LineString(points[np.abs(reach - at) < 1.0]).length for at in (reach.min(), reach.max())
    )
    rim = head / (2 * math.pi) + brim * math.cos(
        math.radians(slope)
    )  # radius of the brim's rim, seen from above
    assert 2 * inner_edge == pytest.approx(head, abs=0.6)
    assert 2 * outer_edge == pytest.approx(2 * math.pi * rim, abs=0.6)


def test_sides_that_meet_are_equally_long() -> None:
    """Every seam that a part tells joins edges of one length."""
    project = made(
        {"name": "b", "kind": "bag", "width": 260, "height": 240, "depth": 80},
        {"name": "r", "kind": "round base", "diameter": 200, "height": 150},
        {"name": "q", "kind": "patchwork", "width": 400, "height": 320, "columns": 5, "rows": 4},
        {"name": "h", "kind": "hat", "head": 570, "crown": 170},
    )
    items: dict[str, Panel | Strip] = {each.name: each for each in project.panels}
    assert project.seams
    for seam in project.seams:
        first, second = (
            side_of(items[seam.first], seam.first_side),
            side_of(items[seam.second], seam.second_side),
        )
        assert first.length == pytest.approx(second.length)


def test_notches_of_a_gusset_meet_those_of_its_face() -> None:
    """Laid along the face's edge, the gusset's notches come to lie where the face has the same ones."""
    project = made({"name": "g", "kind": "gusset", "width": 300, "height": 220, "depth": 70, "corner": 40})
    face, strip = item(project, "g face"), item(project, "g gusset")
    ring = list(sewn(face).exterior.coords)[:-1]
    start = min(range(len(ring)), key=lambda k: math.dist(ring[k], (0.0, 220.0)))
    edge = LineString(ring[start:] + ring[:start])  # from the upper left corner down and round
    on_face: dict[str, list[float]] = {}
    for notch in face.notches:
        stitch = (notch.at[0] + 10 * notch.inward[0], notch.at[1] + 10 * notch.inward[1])
        on_face.setdefault(notch.label, []).append(edge.project(Point(stitch)))
    on_strip: dict[str, set[float]] = {}
    for notch in strip.notches:
        on_strip.setdefault(notch.label, set()).add(round(notch.at[1] - 10, 6))
    assert on_face.keys() == on_strip.keys()
    for label, places in on_face.items():
        assert sorted(places) == pytest.approx(sorted(on_strip[label]), abs=0.4)


def test_two_halves_of_a_boxed_corner_are_one_square() -> None:
    project = made({"name": "b", "kind": "bag", "width": 260, "height": 240, "depth": 80})
    (wall,) = project.panels
    for guide in wall.guides:
        low, high = np.min(guide.points, axis=0), np.max(guide.points, axis=0)
        assert high - low == pytest.approx((40, 40))
    moved = translate(LineString(wall.guides[0].points), 260 + 80 - 40 - 0, 0)
    assert moved.bounds[0] == pytest.approx(300)

"""Bags by what they come to when they are sewn: the faces of a box, the edge that a gusset runs along, pi."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from part_of import cut, part_of, sewn
from shapely.geometry import LineString, Point, Polygon

from salvage.errors import SalvageError
from salvage.project.parts.bags import bag, gusset, round_base
from salvage.project.project import Panel

depths = st.floats(20, 150)
heights = st.floats(60, 400)


@given(st.floats(160, 500), heights, depths, st.sampled_from(["seam", "fold"]))
def test_a_boxed_bag_has_the_faces_of_an_open_box(w: float, h: float, d: float, bottom: str) -> None:
    """What is sewn off at each corner, a square of half the depth on each side of the seam, is lost."""
    made = bag(part_of("bag", width=w, height=h, depth=d, bottom=bottom))
    sewn_area = sum(panel.cut * sewn(panel).area for panel in made.panels) - 4 * (d / 2) ** 2
    assert sewn_area == pytest.approx(2 * (w + d) * h + w * d)
    for panel in made.panels:
        assert sewn(panel).bounds[2] - sewn(panel).bounds[0] == pytest.approx(w + d)  # half of the way round
        wide, _ = cut(panel)
        assert wide == pytest.approx(w + d + 20)


@pytest.mark.parametrize("bottom", ["seam", "fold"])
def test_the_seam_across_a_corner_is_as_long_as_the_bag_is_deep(bottom: str) -> None:
    """Flattened, the two sides of the square cut off lie on each other as one seam, depth long on both layers."""
    made = bag(part_of("bag", width=260, height=240, depth=80, bottom=bottom))
    boxed = [each for each in made.panels[0].guides if each.what == "boxed corner"]
    assert len(boxed) == 2
    for guide in boxed:
        line = LineString(guide.points)
        # on a wall two sides of the square; on a piece folded at the floor both walls' squares, with the side between
        assert line.length == pytest.approx(80 if bottom == "seam" else 40 + 80 + 40)
        assert sewn(made.panels[0]).covers(line)
    floor = Polygon(sewn(made.panels[0])).bounds[2] - 2 * 40
    assert floor == pytest.approx(260)


def test_a_folded_bottom_is_marked_in_the_middle() -> None:
    made = bag(part_of("bag", width=260, height=240, depth=80, bottom="fold"))
    (body,) = made.panels
    assert body.cut == 1
    (fold,) = (each for each in body.guides if each.what.startswith("fold"))
    assert [y for _, y in fold.points] == pytest.approx([280, 280])  # of 2 x 240 + 80
    assert sorted(notch.at[0] for notch in body.notches) == pytest.approx([-10, 350])
    assert [notch.at[1] for notch in body.notches] == pytest.approx([280, 280])


@pytest.mark.parametrize(("bottom", "hems"), [("seam", 1), ("fold", 2)])
def test_a_hem_is_added_at_each_upper_edge(bottom: str, hems: int) -> None:
    """Turned twice: 25 deep, and once more the allowance, above the line where the bag ends."""
    plain, hemmed = (
        bag(part_of("bag", width=260, height=240, depth=80, bottom=bottom, **more)).panels[0]
        for more in ({}, {"hem": 25})
    )
    assert cut(hemmed)[1] - cut(plain)[1] == pytest.approx(25 * hems)
    assert sewn(hemmed).equals(sewn(plain))
    top = Polygon(hemmed.outline).bounds[3] - sewn(hemmed).bounds[3]
    assert top == pytest.approx(35)


def test_a_wall_is_sewn_at_both_sides_and_below() -> None:
    made = bag(part_of("bag", width=260, height=240, depth=80))
    assert {(each.first_side, each.second_side) for each in made.seams} == {
        ("left", "right"),
        ("bottom", "bottom"),
    }
    assert made.panels[0].cut == 2


@given(st.floats(160, 500), st.floats(120, 400), depths, st.sampled_from([0.0, 30.0, 60.0]))
def test_a_gusset_is_as_long_as_the_edge_it_runs_along(w: float, h: float, d: float, corner: float) -> None:
    made = gusset(part_of("gusset", width=w, height=h, depth=d, corner=corner))
    (face,), (strip,) = made.panels, made.strips
    edge = sewn(face).exterior.length - w  # all but the opening
    # a polygon holds its curve, a tenth of a millimetre off at most: longer by a little
    assert edge - 1.5 <= strip.length - 20 <= edge + 1e-6
    assert (strip.cut_width, strip.finished_width) == (pytest.approx(d + 20), pytest.approx(d))
    assert face.cut == 2


@pytest.mark.parametrize("corner", [0.0, 40.0])
def test_the_notches_of_a_gusset_meet_those_of_its_faces(corner: float) -> None:
    """Run along both from an upper corner, bottom and corners come after the same length."""
    made = gusset(part_of("gusset", allowance=0.0, width=300, height=220, depth=70, corner=corner))
    (face,), (strip,) = made.panels, made.strips
    ring = Polygon(face.outline).exterior
    left_down = LineString([*ring.coords[:-1], ring.coords[0]])
    start = left_down.project(Point(0.0, 220.0))
    on_face = {notch.label: set[float]() for notch in face.notches}
    for notch in face.notches:
        on_face[notch.label].add((left_down.project(Point(notch.at)) - start) % ring.length)
    on_strip = {notch.label: set[float]() for notch in strip.notches}
    for notch in strip.notches:
        on_strip[notch.label].add(notch.at[1])
    assert on_face.keys() == on_strip.keys()
    for label, lengths in on_strip.items():
        assert len({round(each, 3) for each in lengths}) == len(on_face[label])
        for one, two in zip(
            sorted({round(each, 3) for each in lengths}), sorted(on_face[label]), strict=True
        ):
            assert one == pytest.approx(two, abs=1.5)


@settings(max_examples=25)
@given(st.floats(80, 400), st.floats(50, 300), st.integers(1, 6))
def test_the_sides_go_once_round_the_base(across: float, h: float, sides: int) -> None:
    base, side = round_base(part_of("round base", diameter=across, height=h, sides=sides)).panels
    assert side.cut == sides
    assert sides * (sewn(side).bounds[2] - sewn(side).bounds[0]) == pytest.approx(math.pi * across)
    disc = sewn(base)
    assert disc.covers(Point(0, 0).buffer(across / 2 - 1e-6, quad_segs=50))  # a panel only grows
    assert disc.area <= math.pi * (across / 2 + 0.1) ** 2
    assert Polygon(base.outline).covers(Point(0, 0).buffer(across / 2 + 10 - 1e-6, quad_segs=50))


@pytest.mark.parametrize("sides", [1, 2, 3])
def test_the_notches_round_a_base_are_where_those_of_the_sides_come(sides: int) -> None:
    """Counted round from the first seam: a seam at each side's end, its marks at the same share of the way."""
    base, side = round_base(
        part_of("round base", allowance=0.0, diameter=200, height=150, sides=sides)
    ).panels
    turns = sorted((math.degrees(math.atan2(notch.at[1], notch.at[0])) - 90) % 360 for notch in base.notches)
    each = math.pi * 200 / sides
    shares = sorted({0.0, *(round(notch.at[0] / each, 6) for notch in side.notches)})
    assert turns == pytest.approx(sorted((k + share) * 360 / sides for k in range(sides) for share in shares))


@pytest.mark.parametrize(
    ("make", "kind", "entry"),
    [
        (bag, "bag", {"width": 80, "height": 200, "depth": 80}),
        (gusset, "gusset", {"width": 100, "height": 200, "depth": 50, "corner": 51}),
        (gusset, "gusset", {"width": 300, "height": 100, "depth": 50, "corner": 101}),
    ],
)
def test_a_bag_that_can_not_be_is_refused(make: object, kind: str, entry: dict[str, float]) -> None:
    assert callable(make)
    with pytest.raises(SalvageError, match="part 'x'"):
        make(part_of(kind, **entry))
    less = {key: value - 1 if key in ("depth", "corner") else value for key, value in entry.items()}
    assert isinstance(make(part_of(kind, **less)).panels[0], Panel)

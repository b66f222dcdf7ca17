"""The points of a garment's outline, and the seams that its cut must have, on outlines drawn by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, Polygon

from salvage.cloth.cut.assumed import assumed_seams
from salvage.cloth.cut.points import garment_kind, points_of
from salvage.cloth.finders.found import Seam
from salvage.cloth.flat.axis import find_axis
from salvage.cloth.garment import FoundBy

# A T-shirt, mm, collar up: underarms at (120, 400) and (480, 400), shoulders' ends at (110, 640) and (490, 640).
SHIRT = Polygon(
    [(120, 0), (480, 0), (480, 400), (600, 430), (640, 560), (490, 640), (380, 690), (300, 660), (220, 690),
     (110, 640), (-40, 560), (0, 430), (120, 400)]
)  # fmt: skip
TROUSERS = Polygon([(0, 0), (180, 0), (225, 650), (270, 0), (450, 0), (400, 1000), (50, 1000)])


def laid(
    cloth: Polygon, seen: list[LineString], parts: list[Polygon] | None = None, sharp: bool = False
) -> list[Seam]:
    axis = find_axis(cloth)
    points = points_of(cloth, axis)
    garment = (garment_kind(points), "front")
    return assumed_seams(cloth, axis, points, garment, seen, parts or [cloth], sharp=sharp)


@pytest.mark.parametrize("turn", [0.0, 37.0, 180.0])
def test_points_of_a_shirt_lie_where_they_were_drawn_however_it_lies(turn: float) -> None:
    drawn = {"underarm left": (120, 400), "underarm right": (480, 400), "shoulder left": (110, 640)}
    cloth = affinity.rotate(SHIRT, turn, origin=(0, 0))
    points = points_of(cloth, find_axis(cloth))
    for name, at in drawn.items():
        x, y = affinity.rotate(LineString([at, (0, 0)]), turn, origin=(0, 0)).coords[0]
        assert np.hypot(points[name].x - x, points[name].y - y) <= points[name].off + 5


def test_crotch_lies_at_the_bottom_of_the_hollow_between_the_legs() -> None:
    points = points_of(TROUSERS, find_axis(TROUSERS))
    assert (points["crotch"].x, points["crotch"].y) == pytest.approx((225, 650), abs=5)
    assert points["waist"].y == pytest.approx(1000, abs=5)


def test_sleeves_that_no_seam_parts_get_an_armhole_seam_called_assumed() -> None:
    arm = [each for each in laid(SHIRT, []) if "armhole" in each.what]
    assert {each.what for each in arm} == {"left armhole seam, assumed", "right armhole seam, assumed"}
    for each in arm:
        assert each.found_by is FoundBy.TRADE
        assert each.wide >= 8.0
        assert min(end[1] for end in each.line.coords) == pytest.approx(400, abs=10)
        assert max(end[1] for end in each.line.coords) > 600


def test_a_sleeve_lying_over_the_body_hides_its_underarm_and_gets_the_other_armhole_mirrored() -> None:
    over = SHIRT.union(
        Polygon([(470, 60), (600, 80), (640, 560), (480, 640)])
    )  # all but closes the notch on the right
    axis = replace(find_axis(SHIRT), at=(300.0, 300.0))
    points = points_of(over, axis)
    seams = assumed_seams(over, axis, points, ("t-shirt", "front"), [], [over], sharp=False)
    arm = {each.what: each for each in seams if "armhole" in each.what}
    left, right = (arm[f"{side} armhole seam, assumed"] for side in ("left", "right"))
    mirrored = affinity.scale(left.line, -1.0, 1.0, origin=(300.0, 300.0))
    assert right.line.hausdorff_distance(mirrored) < 15
    assert right.wide > left.wide  # it is less sure where that runs
    askew = replace(axis, symmetric=0.85)  # so doubtful that one half tells nothing of the other
    seams = assumed_seams(over, askew, points, ("t-shirt", "front"), [], [over], sharp=False)
    assert "right armhole seam, assumed" not in {each.what for each in seams}


def test_legs_that_lie_together_have_hems_all_the_same() -> None:
    shorts = Polygon([(0, 0), (400, 0), (360, 500), (40, 500)])
    axis = find_axis(shorts)
    points = points_of(shorts, axis)
    seams = assumed_seams(shorts, axis, points, ("shorts", "front"), [], [shorts], sharp=False)
    (hem,) = [each for each in seams if each.hem]
    assert hem.what == "leg hem, assumed"
    assert hem.line.length == pytest.approx(
        400 - 2 * 26, abs=15
    )  # it ends as far from the sides as from the edge
    assert np.asarray(hem.line.coords)[:, 1].mean() == pytest.approx(26, abs=6)


@pytest.mark.parametrize(("band", "sure"), [("waistband", "band"), ("cuff seam", "cuff")])
def test_a_band_that_is_seen_has_its_own_seam_and_none_is_laid_by_its_usual_depth(
    band: str, sure: str
) -> None:
    right = [(250, 0), (250, 450), (810, 430), (810, 570), (230, 680), (80, 720)]
    shirt = Polygon([*right, *((-x, y) for x, y in reversed(right))])
    cloth, kind = (TROUSERS, "trousers") if band == "waistband" else (shirt, "shirt")
    axis = find_axis(cloth)
    for parts, there in ((frozenset({sure}), False), (frozenset[str](), True)):
        seams = assumed_seams(
            cloth, axis, points_of(cloth, axis), (kind, "back"), [], [cloth], sharp=False, sure=parts
        )
        assert (f"{band}, assumed" in {each.what for each in seams}) is there


def test_nothing_is_laid_where_a_seam_was_seen() -> None:
    seen = [LineString([(120, 400), (130, 520), (112, 641)])]
    assert [each.what for each in laid(SHIRT, seen) if "armhole" in each.what] == [
        "right armhole seam, assumed"
    ]


def test_nothing_is_laid_across_cloth_that_a_seam_elsewhere_has_parted() -> None:
    far = 170  # the seam was seen 50 mm further in than such a cut has it
    parts = [SHIRT.intersection(Polygon([(far, -1), (700, -1), (700, 700), (far, 700)]))]
    parts += [SHIRT.intersection(Polygon([(far, -1), (-50, -1), (-50, 700), (far, 700)]))]
    arm = [each.what for each in laid(SHIRT, [], parts) if "armhole" in each.what]
    assert arm == ["right armhole seam, assumed"]


def test_hems_are_assumed_only_where_the_photograph_is_too_coarse_to_show_stitches() -> None:
    assert any(each.hem for each in laid(SHIRT, []))
    assert not any(each.hem for each in laid(SHIRT, [], sharp=True))


def test_trousers_get_a_crotch_seam_and_a_waistband() -> None:
    names = {each.what for each in laid(TROUSERS, [])}
    assert {"crotch seam, assumed", "waistband, assumed"} <= names
    crotch = next(each.line for each in laid(TROUSERS, []) if each.what.startswith("crotch"))
    assert crotch.length == pytest.approx(350, abs=15)


def dress(flare: float) -> Polygon:
    """A dress with short sleeves; its waist at (±90, 300), its hem `flare` times as wide, underarms at (±140, 480)."""
    right = [
        (90 * flare, 0),
        (90 + 0.45 * 90 * (flare - 1), 220),
        (90, 300),
        (140, 480),
        (190, 470),
        (250, 520),
    ]
    right += [(200, 640), (60, 680)]
    return Polygon([*right, *((-x, y) for x, y in reversed(right))])


def test_a_dress_that_widens_sharply_below_its_waist_gets_a_waist_seam() -> None:
    cloth = dress(3.0)
    axis = find_axis(cloth)
    points = points_of(cloth, axis)
    assert (points["waist left"].x, points["waist left"].y) == pytest.approx((-90, 300), abs=10)
    seams = assumed_seams(cloth, axis, points, ("dress", "front"), [], [cloth], sharp=False)
    waist = next(each for each in seams if "waist" in each.what)
    assert waist.found_by is FoundBy.TRADE
    assert waist.line.length == pytest.approx(180, abs=25)
    others = assumed_seams(cloth, axis, points, ("t-shirt", "front"), [], [cloth], sharp=False)
    assert not any("waist" in each.what for each in others)


def test_a_side_that_one_piece_can_be_cut_with_gets_none() -> None:
    cloth = dress(1.3)
    assert "waist left" not in points_of(cloth, find_axis(cloth))


def test_the_underarm_is_the_corner_at_the_sleeve_though_the_waist_lies_deeper_in_the_hollow() -> None:
    cloth = dress(3.0)
    points = points_of(cloth, find_axis(cloth))
    assert (points["underarm right"].x, points["underarm right"].y) == pytest.approx((140, 480), abs=12)


@pytest.mark.parametrize(("sleeve", "name"), [(300.0, "sleeve hem"), (560.0, "cuff seam")])
def test_a_shirt_ends_in_a_cuff_where_its_sleeves_are_long_and_in_a_hem_where_they_are_short(
    sleeve: float, name: str
) -> None:
    right = [(250, 0), (250, 450), (250 + sleeve, 430), (250 + sleeve, 570), (230, 680), (80, 720)]
    cloth = Polygon([*right, *((-x, y) for x, y in reversed(right))])
    axis = find_axis(cloth)
    seams = assumed_seams(cloth, axis, points_of(cloth, axis), ("shirt", "back"), [], [cloth], sharp=False)
    ends = {each.what for each in seams if "cuff" in each.what or "sleeve hem" in each.what}
    assert ends == {f"{name}, assumed"}

"""Seams laid because of what else is seen: between parts, on the outline, on the other half."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from salvage.cloth.cut.assumed import assumed_seams
from salvage.cloth.cut.between import between_parts, other_halves, sure_parts
from salvage.cloth.cut.points import points_of
from salvage.cloth.finders.found import Seam
from salvage.cloth.flat.axis import find_axis
from salvage.cloth.flat.whole import FACES, KINDS, LINES, PARTS, SPOTS, Whole
from salvage.cloth.garment import FoundBy

TROUSERS = Polygon([(0, 0), (180, 0), (225, 650), (270, 0), (450, 0), (400, 1000), (50, 1000)])
COAT = Polygon(
    [(120, 0), (480, 0), (480, 400), (600, 430), (640, 560), (490, 640), (380, 690), (300, 680), (220, 690),
     (110, 640), (-40, 560), (0, 430), (120, 400)]
)  # fmt: skip
STEP = 4.0


def whole_of(areas: dict[str, Polygon], chance: float = 0.9) -> Whole:
    """A look at the whole garment that sees these parts, on a plane of 1 m from (-100, 1000) on."""
    blank = np.zeros((256, 256), np.float32)
    parts = np.zeros((len(PARTS), 256, 256), np.float32)
    parts[0] = 0.1
    column, row = np.meshgrid(np.arange(256), np.arange(256))
    points = shapely.points(-100 + column * STEP, 1000 - row * STEP)
    for name, area in areas.items():
        parts[PARTS.index(name)] = np.where(shapely.contains(area, points), chance, 0.0)
    return Whole(
        dict.fromkeys(LINES, blank), dict.fromkeys(SPOTS, blank), parts, {},
        {name: float(name == "coat") for name in KINDS}, {name: float(name == "front") for name in FACES},
        0.0, 0.0, 90.0, STEP, (-100.0, 1000.0),
    )  # fmt: skip


def test_a_yoke_that_is_seen_has_a_seam_and_it_is_called_assumed() -> None:
    yoke = box(-100, 550, 700, 700)
    whole = whole_of({"yoke": yoke.intersection(COAT), "body": COAT.difference(yoke)})
    (seam,) = [each for each in between_parts(whole, COAT, "coat", []) if "yoke" in each.what]
    assert (seam.found_by, seam.what) == (FoundBy.TRADE, "yoke seam, assumed")
    assert np.median(np.asarray(seam.line.coords)[:, 1]) == pytest.approx(550, abs=2 * STEP)
    assert seam.wide >= STEP


def test_nothing_is_laid_between_parts_where_a_seam_was_seen_or_a_part_is_not_sure() -> None:
    yoke = box(-100, 550, 700, 700)
    areas = {"yoke": yoke.intersection(COAT), "body": COAT.difference(yoke)}
    assert between_parts(whole_of(areas), COAT, "coat", [LineString([(110, 548), (490, 552)])]) == []
    assert between_parts(whole_of(areas, 0.5), COAT, "coat", []) == []
    assert between_parts(whole_of(areas), COAT, "trousers", []) == []


SLEEVE = box(-100, 380, 120, 700)
COLLAR, CUFF, BAND, PLACKET = (
    box(200, 620, 400, 700),
    box(-100, 380, 0, 700),
    box(0, 0, 600, 60),
    box(280, 0, 320, 620),
)
SHORTS = Polygon(
    [(0, 0), (400, 0), (360, 500), (40, 500)]
)  # its legs lie together: the outline has no crotch


@pytest.mark.parametrize(
    ("name", "kind", "cloth", "areas", "at"),
    [
        ("armhole seam", "t-shirt", COAT, {"sleeve_left": SLEEVE, "body": None}, LineString([(120, 400), (120, 625)])),
        ("armhole seam", "shirt", COAT, {"sleeve_left": SLEEVE, "yoke": None}, LineString([(120, 400), (120, 625)])),
        ("cuff seam", "jacket", COAT, {"cuff": CUFF, "sleeve_left": None}, LineString([(0, 445), (0, 575)])),
        ("collar seam", "shirt", COAT, {"collar": COLLAR, "body": None}, LineString([(220, 620), (380, 620)])),
        ("collar seam", "shirt", COAT, {"collar": COLLAR, "yoke": None}, LineString([(220, 620), (380, 620)])),
        ("seam of the band", "jumper", COAT, {"band": BAND, "body": None}, LineString([(140, 60), (460, 60)])),
        ("placket seam", "shirt", COAT, {"placket": PLACKET, "body": None}, LineString([(280, 20), (280, 600)])),
        ("placket seam", "shirt", COAT, {"placket": PLACKET, "body": None}, LineString([(320, 20), (320, 600)])),
        ("waistband seam", "trousers", TROUSERS, {"band": box(0, 960, 450, 1000), "leg_left": None},
         LineString([(60, 960), (390, 960)])),
        ("crotch seam and inseam", "shorts", SHORTS, {"leg_left": box(0, 0, 200, 500), "leg_right": None},
         LineString([(200, 20), (200, 480)])),
        ("edge lying over the inside", "t-shirt", COAT, {"inside": COLLAR, "body": None},
         LineString([(220, 620), (380, 620)])),
    ],
)  # fmt: skip
def test_where_no_line_is_seen_a_seam_is_laid_where_two_such_parts_meet(
    name: str, kind: str, cloth: Polygon, areas: dict[str, Polygon | None], at: LineString
) -> None:
    taken = shapely.union_all([each for each in areas.values() if each is not None])
    whole = whole_of(
        {part: cloth.intersection(each) if each else cloth.difference(taken) for part, each in areas.items()}
    )
    seams = [each for each in between_parts(whole, cloth, kind, []) if each.what == f"{name}, assumed"]
    laid = shapely.union_all([each.line.buffer(each.wide + STEP) for each in seams])
    assert laid.intersection(at).length >= 0.85 * at.length
    assert all(each.found_by is FoundBy.TRADE and each.parts for each in seams)
    assert not between_parts(whole, cloth, kind, [each.line for each in seams])


def test_an_armhole_that_a_sharp_photograph_would_show_is_not_laid_along_the_sleeves_edge() -> None:
    whole = whole_of({"sleeve_left": COAT.intersection(SLEEVE), "body": COAT.difference(SLEEVE)})
    assert between_parts(whole, COAT, "jacket", [], sharp=True) == []
    assert len(between_parts(whole, COAT, "jacket", [])) == 1


def test_a_line_on_the_other_edge_of_a_collar_is_not_its_seam() -> None:
    collar = box(200, 630, 400, 660)
    whole = whole_of({"collar": collar, "body": COAT.difference(box(0, 630, 700, 700))})
    edge = LineString([(200, 658), (400, 658)])
    assert [each.what for each in between_parts(whole, COAT, "t-shirt", [edge])] == ["collar seam, assumed"]


def test_a_border_that_wanders_is_no_seam() -> None:
    teeth = [(x, 550 + 70 * (n % 2)) for n, x in enumerate(range(-100, 701, 50))]
    yoke = Polygon([*teeth, (700, 700), (-100, 700)])
    whole = whole_of({"yoke": yoke.intersection(COAT), "body": COAT.difference(yoke)})
    assert not [each for each in between_parts(whole, COAT, "coat", []) if "yoke" in each.what]


@pytest.mark.parametrize(("sure", "laid"), [(("body_left", "body_right"), 1), (("body",), 0)])
def test_a_closed_front_has_an_edge_where_both_halves_are_seen(sure: tuple[str, ...], laid: int) -> None:
    axis = find_axis(COAT)
    points = points_of(COAT, axis)
    found = assumed_seams(COAT, axis, points, ("coat", "front"), [], [COAT], sharp=True, sure=frozenset(sure))
    edges = [each for each in found if "front edge" in each.what]
    assert len(edges) == laid
    assert all(abs(x - 300) < 5 and each.wide >= 20 for each in edges for x, _ in each.line.coords)


def test_the_edges_of_trousers_are_inseams_and_outseams() -> None:
    axis = find_axis(TROUSERS)
    found = assumed_seams(
        TROUSERS, axis, points_of(TROUSERS, axis), ("trousers", "front"), [], [TROUSERS], sharp=True
    )
    edges = {each.what: each for each in found if each.on_outline}
    assert set(edges) == {
        f"{side} {name}, assumed" for side in ("left", "right") for name in ("inseam", "outseam")
    }
    assert edges["left inseam, assumed"].line.length == pytest.approx(652, abs=20)
    assert edges["left outseam, assumed"].line.length == pytest.approx(1001, abs=40)
    seen = [edges["left inseam, assumed"].line]
    again = assumed_seams(
        TROUSERS, axis, points_of(TROUSERS, axis), ("trousers", "front"), seen, [TROUSERS], sharp=True
    )
    assert "left inseam, assumed" not in {each.what for each in again}


PRINCESS = Seam(LineString([(200, 20), (215, 400), (190, 640)]), 0.95)


@pytest.mark.parametrize("kind", ["t-shirt", "jumper"])
def test_what_runs_down_one_side_of_a_jumper_is_a_crease_and_has_no_like(kind: str) -> None:
    axis, whole = find_axis(COAT), whole_of({"body": COAT})
    assert other_halves([PRINCESS], whole, COAT, axis, kind, [PRINCESS.line]) == []


def test_a_princess_seam_has_its_like_on_the_other_half() -> None:
    axis, whole, seam = find_axis(COAT), whole_of({"body": COAT}), PRINCESS
    (like,) = other_halves([seam], whole, COAT, axis, "coat", [seam.line])
    assert like.what == "princess seam, assumed"
    assert np.asarray(like.line.coords)[:, 0].mean() == pytest.approx(600 - 202, abs=8)
    assert other_halves([seam, Seam(like.line, 0.9)], whole, COAT, axis, "coat", [seam.line, like.line]) == []
    assert other_halves([Seam(seam.line, 0.6)], whole, COAT, axis, "coat", [seam.line]) == []
    assert (
        other_halves([Seam(LineString([(200, 300), (350, 320)]), 0.95)], whole, COAT, axis, "coat", []) == []
    )


def test_parts_are_sure_by_size_and_chance() -> None:
    whole = whole_of({"body": box(0, 0, 300, 300), "cuff": box(320, 0, 340, 40)})
    assert sure_parts(whole) == {"body"}

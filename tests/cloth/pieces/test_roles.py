"""Roles of pieces put right by where they lie on the garment."""

from __future__ import annotations

from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from salvage.cloth.cut.points import Place
from salvage.cloth.flat.axis import Axis
from salvage.cloth.pieces.names import names_of
from salvage.cloth.pieces.roles import settled

AXIS = Axis(90.0, (0.0, 0.0), 1.0, True)
FRONT = box(-250, -400, 250, 150)
YOKE = box(-220, 150, 220, 290)
LEFT_SLEEVE = Polygon([(-250, 60), (-230, 240), (-480, 0), (-400, -90)])
LEFT_CUFF = Polygon([(-480, 0), (-400, -90), (-440, -130), (-520, -40)])
COLLAR = box(-80, 290, 80, 360)
POINTS = {
    "underarm left": Place(-255.0, 60.0, 8.0),
    "underarm right": Place(255.0, 60.0, 8.0),
    "neck left": Place(-85.0, 290.0, 12.0),
    "neck right": Place(85.0, 290.0, 12.0),
}


def put_right(roles: list[str], pieces: list[Polygon], kind: str = "shirt") -> list[str]:
    return settled(roles, pieces, unary_union(pieces), AXIS, POINTS, kind)


def test_what_lies_beyond_a_sleeve_is_its_cuff() -> None:
    assert put_right(["body", "sleeve", "sleeve"], [FRONT, LEFT_SLEEVE, LEFT_CUFF]) == [
        "body",
        "sleeve",
        "cuff",
    ]


def test_what_lies_over_a_body_above_the_underarm_is_its_yoke_whether_its_part_was_seen_or_not() -> None:
    for role in ("body", ""):
        assert put_right(["body", role], [FRONT, YOKE]) == ["body", "yoke"]


def test_a_small_hood_is_a_collar_and_a_large_one_stays() -> None:
    assert put_right(["body", "hood"], [FRONT, COLLAR]) == ["body", "collar"]
    assert put_right(["body", "hood"], [FRONT, box(-140, 290, 140, 620)]) == ["body", "hood"]


def test_a_long_strip_along_the_edge_is_a_facing_not_a_sleeve() -> None:
    strip = box(250, -400, 320, 150)
    roles = put_right(["body", "sleeve"], [FRONT, strip], kind="cloth")
    assert roles == ["body", "facing"]
    names = names_of([FRONT, strip], unary_union([FRONT, strip]), AXIS, False, roles)
    assert names == ["body", "right facing"]


def test_a_strip_along_another_sleeve_is_its_other_half() -> None:
    under = Polygon([(250, 60), (240, 150), (420, -80), (400, -90)])
    upper = Polygon([(240, 150), (230, 240), (480, -70), (420, -80)])
    assert put_right(["body", "sleeve", "sleeve"], [FRONT, under, upper]) == ["body", "sleeve", "sleeve"]


def test_trousers_are_left_as_they_are() -> None:
    axis = Axis(90.0, (0.0, 0.0), 1.0, True, True)
    assert settled(["leg", "leg"], [FRONT, YOKE], FRONT.union(YOKE), axis, {}, "trousers") == ["leg", "leg"]

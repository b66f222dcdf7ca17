"""What a person draws stays on the cloth: what is in the way only grows, points follow the hand, hints add up."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
import shapely
from desk_garments import COAT, PHOTO, PLANE, SHOT, px
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from salvage.cloth.garment import BlockedKind, FoundBy, Garment, Hints, Piece
from salvage.cloth.usable import usable
from salvage.desk.edit import drawn
from salvage.desk.edit.told import Said
from salvage.errors import UsageError
from salvage.shapes import polygons_of

Place = tuple[float, float]
OTHER = replace(SHOT, file="inside.jpg", content="beef")


def said(do: str, garment: Garment = COAT, **action: Any) -> Said:
    return Said(garment, {"do": do, **action})


places = st.tuples(st.integers(-20, 420), st.integers(-20, 420)).map(lambda p: (float(p[0]), float(p[1])))
rings = st.lists(places, min_size=3, max_size=5, unique=True).filter(lambda r: Polygon(r).area > 200)
patches = st.lists(st.tuples(st.sampled_from(sorted(drawn.PATCHES)), rings), min_size=1, max_size=3)


def on_cloth(garment: Garment) -> MultiPolygon:
    return MultiPolygon(polygons_of(shapely.union_all([usable(each) for each in garment.pieces])))


@settings(max_examples=20)
@given(patches)
def test_no_cloth_that_was_drawn_over_is_usable_and_none_comes_back(
    steps: list[tuple[str, list[Place]]],
) -> None:
    garment, before = COAT, on_cloth(COAT)
    over = []
    for do, ring in steps:
        try:
            garment = drawn.patch(garment, said(do, garment, px=px(*ring)))
        except UsageError as error:
            assert "beside the cloth" in str(error)  # noqa: PT017  (only some rings lie there)
            continue
        shape = shapely.make_valid(Polygon(ring))
        over.append(
            shape.buffer(2.5)
        )  # the margin is 3; the lens and rounding take less than half a millimetre
        now = on_cloth(garment)
        assert now.difference(before).area < 1.0
        assert now.intersection(shapely.union_all(over)).area < 1.0
        before = now
    for piece, old in zip(garment.pieces, COAT.pieces, strict=True):
        assert piece.blocked[: len(old.blocked)] == old.blocked  # what was found stays beside it
        assert all(each.found_by is FoundBy.PERSON for each in piece.blocked[len(old.blocked) :])


@pytest.mark.parametrize(
    ("do", "kind", "what"),
    [
        ("pocket", BlockedKind.POCKET, "pocket"),
        ("stain", BlockedKind.WORN, "stain"),
        ("worn", BlockedKind.WORN, "worn"),
        ("other", BlockedKind.OTHER, ""),
    ],
)
def test_a_patch_is_of_its_kind_and_called_so_unless_told_otherwise(
    do: str, kind: BlockedKind, what: str
) -> None:
    ring = px((50, 50), (90, 50), (90, 90))
    blocked = drawn.patch(COAT, said(do, px=ring)).pieces[0].blocked[-1]
    assert (blocked.kind, blocked.what) == (kind, what)
    assert drawn.patch(COAT, said(do, px=ring, what="badge")).pieces[0].blocked[-1].what == "badge"


@pytest.mark.parametrize("do", ["seam", "hem", "closure"])
def test_a_line_lies_where_it_was_drawn_or_as_wide_as_the_brush(do: str) -> None:
    ends = ((40.0, 60.0), (200.0, 110.0))
    line = drawn.line(COAT, said(do, px=px(*ends), what="zip")).pieces[0].blocked[-1]
    assert (str(line.kind), line.what) == (do, "zip")
    assert line.shape.hausdorff_distance(LineString(ends)) < 0.3
    wide = drawn.line(COAT, said(do, mm=[list(p) for p in ends], piece=0, brush=7.0)).pieces[0].blocked[-1]
    assert wide.shape.area == pytest.approx(LineString(ends).buffer(7.0).area, rel=0.01)


def test_clearing_frees_what_lies_inside_and_nothing_else() -> None:
    stained = drawn.patch(COAT, said("stain", mm=[[50, 50], [90, 50], [90, 90], [50, 90]], piece=0))
    patch = box(190, 190, 310, 250)  # over a stain of the back, and over the seam to the side
    cleared = drawn.clear(stained, said("clear", px=px(*patch.exterior.coords)))
    assert [str(each.kind) for each in cleared.pieces[0].blocked] == ["seam", "hem", "worn"]
    assert cleared.pieces[0].blocked[-1] == stained.pieces[0].blocked[-1]
    for piece in cleared.pieces[:2]:
        assert piece.cleared[-1].patch
        assert piece.cleared[-1].shape.symmetric_difference(patch).area < 30
    assert cleared.pieces[2] == stained.pieces[2]
    with pytest.raises(UsageError, match="beside the cloth"):
        drawn.clear(COAT, said("clear", mm=[[0, 410], [50, 410], [50, 440]], piece=0))


def holed() -> Garment:
    ring = [(x, 450.0) for x in range(0, 121, 10)] + [(120.0, 500.0), (0.0, 500.0)]
    hole = [(30.0, 460.0), (30.0, 480.0), (60.0, 480.0), (60.0, 460.0)]
    return replace(
        COAT, pieces=(*COAT.pieces[:2], Piece("cuff", Polygon(ring, [hole]), photo=SHOT, number=3))
    )


def ring_of(garment: Garment, which: int = 0) -> list[Place]:
    outline = garment.pieces[2].outline
    return [(x, y) for x, y in (outline.exterior, *outline.interiors)[which].coords][:-1]


@given(st.integers(0, 14), st.just(0.0) | st.floats(0.5, 200), places.map(lambda p: (p[0] / 60, p[1] / 60)))
def test_points_follow_the_hand_the_less_the_further_along_the_edge(
    point: int, reach: float, by: Place
) -> None:
    before = ring_of(holed())
    edge = LineString([*before, before[0]])
    at = before[point]
    after = drawn._pulled(before, point, (at[0] + by[0], at[1] + by[1]), reach)
    for (x, y), (now_x, now_y) in zip(before, after, strict=True):
        one, other = edge.project(Point(x, y)), edge.project(Point(at))
        far = min(abs(one - other), edge.length - abs(one - other))
        share = 1.0 if (x, y) == at else max(0.0, 1.0 - far / reach) if reach > 0 else 0.0
        assert (now_x, now_y) == pytest.approx((x + share * by[0], y + share * by[1]), abs=1e-6)


def test_one_point_of_one_ring_is_changed_and_no_other() -> None:
    garment = holed()
    outer, hole = ring_of(garment), ring_of(garment, 1)
    moved = drawn.one_point(garment, said("move", garment, piece="cuff", point=1, ring=1, mm=[25, 485]))
    assert set(ring_of(moved, 1)) == {*hole[:1], (25.0, 485.0), *hole[2:]}
    assert set(ring_of(moved)) == set(outer)
    more = drawn.one_point(garment, said("add", garment, piece=2, point=len(outer), mm=[-9, 475]))
    assert [(-9.0, 475.0) in ring_of(more), len(ring_of(more))] == [True, len(outer) + 1]
    less = drawn.one_point(garment, said("delete", garment, piece=2, point=12))
    assert set(ring_of(less)) == {*outer} - {outer[12]}
    assert less.pieces[2].found == garment.pieces[2].outline  # the photograph's is remembered


@pytest.mark.parametrize(
    ("says", "action"),
    [
        ("no ring 2: the outline has 2", {"do": "move", "ring": 2, "point": 0, "mm": [1, 1]}),
        ("no ring -1", {"do": "move", "ring": -1, "point": 0, "mm": [1, 1]}),
        ("no point 15: that ring has 15", {"do": "move", "point": 15, "mm": [1, 1]}),
        ("no point 16", {"do": "add", "point": 16, "mm": [1, 1]}),
        ("no point -1", {"do": "delete", "point": -1}),
        ("would cross itself", {"do": "move", "ring": 1, "point": 0, "mm": [500, 460]}),
    ],
)
def test_what_would_be_no_outline_is_refused(says: str, action: dict[str, Any]) -> None:
    garment = holed()
    with pytest.raises(UsageError, match=says):
        drawn.one_point(garment, Said(garment, {"piece": 2, **action}))


def test_an_outline_keeps_three_points() -> None:
    three = replace(COAT, pieces=(*COAT.pieces[:2], Piece("cuff", Polygon([(0, 450), (90, 450), (0, 500)]))))
    with pytest.raises(UsageError, match="three points"):
        drawn.one_point(three, said("delete", three, piece=2, point=0))
    four = drawn.one_point(three, said("add", three, piece=2, point=1, mm=[90, 440]))
    assert (
        len(ring_of(drawn.one_point(four, said("delete", four, piece=2, point=2)))) == 3
    )  # four may lose one


def test_usable_cloth_is_what_was_drawn_until_it_is_given_back() -> None:
    mine = drawn.usable(COAT, said("usable", mm=[[20, 20], [100, 20], [100, 100]], piece="back"))
    assert mine.pieces[0].usable is not None
    assert mine.pieces[0].usable.area == pytest.approx(3200)
    assert drawn.usable(mine, said("usable", mine, px=None, piece="back")) == COAT


def test_hints_add_up_photograph_by_photograph() -> None:
    two = replace(COAT, pieces=(*COAT.pieces, Piece("lining", box(0, 0, 200, 200), photo=OTHER)))
    steps = (
        ("cloth", PHOTO, ((10.0, 20.0), (30.0, 20.0))),
        ("floor", "inside.jpg", ((5.0, 5.0),)),
        ("cloth", PHOTO, ((40.0, 40.0),)),
        ("floor", PHOTO, ((0.0, 1499.0),)),
    )
    garment = two
    for do, photo, stroke in steps:
        garment = drawn.hint(garment, said(do, garment, photo=photo, px=[list(p) for p in stroke]))
    assert {each.photo: each for each in garment.hints} == {
        PHOTO: Hints(PHOTO, (steps[0][2], steps[2][2]), (steps[3][2],)),
        "inside.jpg": Hints("inside.jpg", (), (steps[1][2],)),
    }
    assert replace(garment, hints=()) == two
    assert drawn.forget(garment, said("forget_hints", garment, photo=PHOTO)).hints == (
        Hints("inside.jpg", (), (steps[1][2],)),
    )
    assert drawn.forget(garment, said("forget_hints", garment)).hints == ()


@pytest.mark.parametrize("at", [[-0.6, 5], [5, -0.6], [1400, 5], [5, 1500]])
def test_a_hint_lies_in_the_picture(at: list[float]) -> None:
    assert PLANE.size_px == (1400, 1500)
    with pytest.raises(UsageError, match="outside the picture"):
        drawn.hint(COAT, said("cloth", px=[[7, 7], at]))
    with pytest.raises(UsageError, match="on a photograph"):
        drawn.hint(COAT, said("cloth", mm=[[7, 7]], piece=0))


def test_forgetting_hints_forgets_those_of_the_measuring_and_keeps_what_gave_the_scale() -> None:
    camera = {**SHOT.camera, "told": {"side": 150.0, "cloth": [[1, 2]], "floor": [[3, 4]]}}
    told = replace(
        COAT, pieces=tuple(replace(each, photo=replace(SHOT, camera=camera)) for each in COAT.pieces)
    )
    after = drawn.forget(told, said("forget_hints", told))
    for piece in after.pieces:
        assert piece.photo is not None
        assert piece.photo.camera == {**SHOT.camera, "told": {"side": 150.0}}
    assert drawn.forget(told, said("forget_hints", told, photo="inside.jpg")) == told

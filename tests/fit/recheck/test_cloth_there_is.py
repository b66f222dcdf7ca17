"""The cloth there is, worked out anew: never less than there is, and a proof that leaves some out is not believed."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece, PlusMinus
from salvage.fit.claim import Proof, Site, TooLittleCloth
from salvage.fit.material.outer import outer_lay
from salvage.fit.question import Cloth, Question
from salvage.fit.recheck.cloth import cloth_of, holds_all_cloth, plus_minus
from salvage.fit.recheck.doubt import Doubt

SEAM = Blocked(BlockedKind.SEAM, LineString([(200, 0), (200, 500)]), 6.0)
BACK = Piece("Back ", box(0, 0, 400, 500), blocked=(SEAM,), plus_minus=PlusMinus(0.8, 2.0))


def area(parts: list[Polygon]) -> float:
    return float(sum(part.area for part in parts))


def test_what_is_blocked_and_its_margin_is_no_cloth() -> None:
    parts = cloth_of(BACK, grown=False)
    assert len(parts) == 2
    assert area(parts) == pytest.approx(500 * (400 - 12), abs=1.0)


def test_what_a_person_drew_as_usable_is_the_cloth() -> None:
    drawn = MultiPolygon([box(10, 10, 50, 60)])
    assert area(cloth_of(replace(BACK, usable=drawn), grown=False)) == 40 * 50


def test_cloth_that_may_be_larger_is_let_out_on_every_side() -> None:
    by = math.hypot(2.0, 500 / 2 * 0.8 / 100)
    assert plus_minus(BACK, cloth_of(BACK, grown=False)) == pytest.approx(by)
    plain = replace(BACK, blocked=())
    (grown,) = cloth_of(plain, grown=True)
    assert grown.bounds == pytest.approx((-by, -by, 400 + by, 500 + by), abs=1e-6)


def test_no_cloth_has_no_plus_minus() -> None:
    assert plus_minus(BACK, []) == 0.0


def test_a_margin_never_takes_more_than_it_says() -> None:
    bent = LineString([(50, 50), (50.01, 80), (50, 110), (90, 111)])
    piece = replace(BACK, blocked=(Blocked(BlockedKind.SEAM, bent, 6.0),))
    left = shapely.union_all(cloth_of(piece, grown=False))
    corners = shapely.get_coordinates(left)
    away = shapely.distance(shapely.points(corners), bent)
    assert away[(corners[:, 0] > 1) & (corners[:, 0] < 399)].max() <= 6.0 + 4e-4


def proof_of(piece: Piece, cloths: list[Cloth], sites: list[Site]) -> Proof:
    return Proof(TooLittleCloth("shell", 1.0, 0.0), Question(tuple(cloths), ()), tuple(sites))


def told(piece: Piece) -> tuple[list[Cloth], list[Site]]:
    cloths = [
        Cloth("back", part, grain=piece.grain, one_way=piece.one_way, piece="back")
        for _ in range(piece.layers)
        for part in cloth_of(piece, grown=False)
    ]
    sites = [Site(0, piece.name, 1 + k // (len(cloths) // piece.layers)) for k in range(len(cloths))]
    return cloths, sites


def believed(piece: Piece, cloths: list[Cloth], sites: list[Site]) -> bool:
    try:
        holds_all_cloth([Garment("coat", (piece,))], proof_of(piece, cloths, sites), {"shell"})
    except Doubt:
        return False
    return True


@pytest.mark.parametrize("layers", [1, 2])
def test_all_cloth_is_enough(layers: int) -> None:
    piece = replace(BACK, layers=layers)
    assert believed(piece, *told(piece))


@pytest.mark.parametrize("layers", [1, 2])
def test_a_stretch_left_out_is_seen(layers: int) -> None:
    piece = replace(BACK, layers=layers)
    cloths, sites = told(piece)
    for gone in range(len(cloths)):
        assert not believed(piece, cloths[:gone] + cloths[gone + 1 :], sites[:gone] + sites[gone + 1 :])


@pytest.mark.parametrize(
    "wrong", [{"fabric": "lining"}, {"grain": 80.0}, {"one_way": True}, {"piece": "front"}]
)
def test_cloth_of_another_kind_is_seen(wrong: dict[str, object]) -> None:
    cloths, sites = told(BACK)
    assert not believed(BACK, [replace(cloths[0], **wrong), *cloths[1:]], sites)  # type: ignore[arg-type]


def test_a_little_less_cloth_is_seen() -> None:
    cloths, sites = told(BACK)
    less = replace(cloths[0], polygon=cloths[0].polygon.buffer(-0.01, join_style="mitre"))
    assert not believed(BACK, [less, *cloths[1:]], sites)


@given(
    lines=st.lists(
        st.tuples(
            st.floats(3, 30),
            st.lists(st.tuples(st.floats(0, 400), st.floats(0, 500)), min_size=2, max_size=12),
        ),
        min_size=1,
        max_size=4,
    ),
    edge=st.sampled_from([0.0, 2.0]),
)
@settings(max_examples=40, deadline=None)
def test_what_the_prover_takes_for_the_cloth_is_enough(
    lines: list[tuple[float, list[tuple[float, float]]]], edge: float
) -> None:
    """Seams that bend as seen ones do, each corner rounded by many small ones; exact where the cloth was typed in."""
    seams = tuple(
        Blocked(BlockedKind.SEAM, LineString(points).buffer(40).exterior.simplify(0.02), margin)
        for margin, points in lines
    )
    piece = replace(BACK, blocked=seams, plus_minus=PlusMinus(0.0, edge))
    lay = outer_lay([Garment("coat", (piece,))], grown=edge > 0)
    sites = [Site(each.garment, each.piece, each.layer) for each in lay.where]
    proof = Proof(TooLittleCloth("shell", 1.0, 0.0), Question(lay.cloths, ()), tuple(sites), grown=edge > 0)
    holds_all_cloth([Garment("coat", (piece,))], proof, {"shell"})


def test_cloth_of_other_fabrics_need_not_be_there() -> None:
    assert believed(replace(BACK, fabric="Lining"), [], [])
    assert not believed(replace(BACK, fabric=" SHELL "), [], [])

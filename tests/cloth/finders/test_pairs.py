"""A pocket on one side only is asked for on the other, where pockets come in pairs."""

import pytest
from shapely.geometry import Polygon, box

from salvage.cloth.doubts import DOUBTFUL
from salvage.cloth.finders.found import Spot
from salvage.cloth.finders.sewn.pairs import lacking_their_like
from salvage.cloth.flat.axis import Axis
from salvage.cloth.garment import BlockedKind

BODY = box(-250, 0, 250, 700)
AXIS = Axis(90.0, (0.0, 350.0), 0.98, True)
SLIT, CHEST, HIP = box(110, 180, 140, 320), box(80, 480, 190, 610), box(80, 60, 220, 220)


def pocket(
    shape: Polygon, confidence: float = 0.8, kind: BlockedKind = BlockedKind.POCKET, what: str = "pocket"
) -> Spot:
    return Spot(kind, shape, what, confidence, fine=True)


def mirrored(shape: Polygon) -> Polygon:
    left, low, right, top = shape.bounds
    return box(-right, low, -left, top)


@pytest.mark.parametrize("shape", [SLIT, HIP])
def test_a_pocket_without_its_like_is_asked_for_on_the_other_side(shape: Polygon) -> None:
    (like,) = lacking_their_like([pocket(shape)], BODY, AXIS)
    assert like.shape.symmetric_difference(mirrored(shape)).area < 1e-6
    assert like.kind is BlockedKind.POCKET
    assert like.confidence < DOUBTFUL
    assert like.what == "pocket like the one on the other side"
    assert like.wide > 0.0
    assert not like.fine


def test_a_zip_off_the_middle_too_and_one_in_the_middle_not() -> None:
    off, on = box(110, 180, 122, 320), box(-6, 0, 6, 700)
    zips = [pocket(each, kind=BlockedKind.CLOSURE, what="zip") for each in (off, on)]
    assert [each.shape.centroid.x for each in lacking_their_like(zips, BODY, AXIS)] == [pytest.approx(-116)]


@pytest.mark.parametrize(
    "fittings",
    [
        [pocket(SLIT), pocket(mirrored(SLIT).buffer(4))],  # both were found
        [pocket(CHEST)],  # often alone
        [pocket(SLIT, confidence=0.4)],  # doubtful itself
        [pocket(box(-60, 100, 60, 200))],  # in the middle
        [pocket(box(110, 180, 122, 215))],  # small
    ],
)
def test_where_nothing_is_lacking(fittings: list[Spot]) -> None:
    assert lacking_their_like(fittings, BODY, AXIS) == []


def test_a_pocket_that_is_often_alone_is_asked_for_where_its_like_left_a_trace() -> None:
    asked: list[Polygon] = []

    def trace(like: Polygon) -> float:
        asked.append(like)
        return 0.4

    (like,) = lacking_their_like([pocket(CHEST)], BODY, AXIS, trace)
    assert like.shape.symmetric_difference(mirrored(CHEST)).area < 1e-6
    assert 0.5 < like.confidence < DOUBTFUL
    assert [each.symmetric_difference(mirrored(CHEST)).area < 1e-6 for each in asked] == [True]
    assert lacking_their_like([pocket(CHEST)], BODY, AXIS, lambda _: 0.2) == []
    both = [pocket(CHEST), pocket(mirrored(CHEST).buffer(4))]
    assert lacking_their_like(both, BODY, AXIS, trace) == []
    zipped = pocket(box(80, 480, 92, 610), kind=BlockedKind.CLOSURE, what="button")
    assert lacking_their_like([zipped], BODY, AXIS, trace) == []


def test_not_beside_the_cloth_nor_on_a_garment_that_is_not_symmetric() -> None:
    half = Polygon([(-90, 0), (250, 0), (250, 700), (-90, 700)])
    assert lacking_their_like([pocket(SLIT)], half, AXIS) == []
    assert lacking_their_like([pocket(SLIT)], BODY, Axis(90.0, (0.0, 350.0), 0.7, True)) == []


def test_a_tab_is_asked_for_where_only_its_button_is_seen() -> None:
    tab, button = box(150, 300, 240, 330), box(155, 307, 171, 323)
    there = [
        pocket(tab, 0.4),
        *(pocket(each, 0.6, BlockedKind.CLOSURE, "button") for each in (button, mirrored(button))),
    ]
    (like,) = lacking_their_like(there, BODY, AXIS)
    assert like.shape.symmetric_difference(mirrored(tab)).area < 1e-6
    assert lacking_their_like([*there, pocket(mirrored(tab), 0.4)], BODY, AXIS) == []
    assert lacking_their_like(there[:2], BODY, AXIS) == []  # nothing on the other side speaks for it
    wide = box(150, 260, 240, 330)
    assert lacking_their_like([pocket(wide, 0.4), *there[1:]], BODY, AXIS) == []  # no tab

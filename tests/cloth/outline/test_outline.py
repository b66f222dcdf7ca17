"""The outline on pictures drawn here, with edges known exactly."""

from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from salvage.cloth.outline.find import Outline, find_outline
from salvage.cloth.outline.local import guided
from salvage.cloth.outline.net import one_look
from salvage.cloth.outline.problems import contrast, on_frame
from salvage.cloth.outline.refine import refine_ring, resample
from salvage.cloth.outline.sure import _stretches
from salvage.cloth.outline.trace import assemble, level_rings, paint
from salvage.photo.photo import Photo
from salvage.photo.problem import Code

SHIRT = np.array(
    [[140, 110], [180, 95], [220, 95], [260, 110], [330, 230], [295, 250], [255, 190], [258, 380], [142, 380],
     [145, 190], [105, 250], [70, 230]], float
)  # fmt: skip


def planks(height: int = 480, width: int = 400, seed: int = 1) -> NDArray[np.uint8]:
    """A floor of boards 40 px wide, each of its own tone, with grain and dark gaps."""
    rng = np.random.default_rng(seed)
    tones = rng.uniform(0.85, 1.1, height // 40 + 1)
    rows = np.repeat(tones, 40)[:height, None]
    grain = cv2.GaussianBlur(rng.normal(0, 1, (height, width)), (0, 0), sigmaX=8, sigmaY=0.7)
    floor = np.array([190, 150, 105.0]) * (rows + 0.25 * grain)[..., None]
    floor[np.arange(height) % 40 < 2] *= 0.7
    return np.clip(floor, 0, 255).astype(np.uint8)


def laid(
    floor: NDArray[np.uint8], shapes: list[NDArray[np.float64]], colour: tuple[int, int, int] = (40, 70, 130)
) -> NDArray[np.uint8]:
    """Cloth of one colour with a weave on a floor, edges smooth; shapes are even-odd."""
    rng = np.random.default_rng(2)
    big = np.zeros((floor.shape[0] * 4, floor.shape[1] * 4), np.uint8)
    cv2.fillPoly(big, [np.round((s + 0.5) * 4 - 0.5).astype(np.int32) for s in shapes], 255)
    cover = cv2.resize(big, floor.shape[1::-1], interpolation=cv2.INTER_AREA)[..., None] / 255
    cloth = np.array(colour) * (1 + rng.normal(0, 0.06, floor.shape[:2]))[..., None]
    shadow = 1 - 0.25 * cv2.GaussianBlur(cover, (0, 0), 4)[..., None]
    return np.clip(floor * shadow * (1 - cover) + cloth * cover, 0, 255).astype(np.uint8)


def seen(pixels: NDArray[np.uint8], **told: Any) -> Outline:
    return find_outline(Photo(Path("drawn.png"), pixels), **told)


def overlap(shape: MultiPolygon, truth: Polygon) -> float:
    """By shapely's areas."""
    return shape.intersection(truth).area / shape.union(truth).area


def test_a_shirt_on_boards() -> None:
    found = seen(laid(planks(), [SHIRT]))
    truth = Polygon(SHIRT)
    assert len(found.shape_px.geoms) == 1
    assert overlap(found.shape_px, truth) > 0.96
    inner = np.asarray(found.shape_px.geoms[0].exterior.coords)
    away = np.array([truth.exterior.distance(Point(p)) for p in inner])
    assert np.median(away) < 1.0
    assert not found.problems
    assert 0 <= found.confidence <= 1


def test_cloth_in_two_pieces_is_two_polygons() -> None:
    pieces = [
        np.array([[40, 60], [180, 70], [170, 300], [50, 290]], float),
        np.array([[230, 120], [360, 110], [365, 350], [235, 360]], float),
    ]
    found = seen(laid(planks(), pieces, (120, 30, 40)))
    assert len(found.shape_px.geoms) == 2
    for piece in pieces:
        best = max(overlap(MultiPolygon([g]), Polygon(piece)) for g in found.shape_px.geoms)
        assert best > 0.93


def test_floor_told_by_a_person_is_floor_and_cloth_is_cloth() -> None:
    """Hints are obeyed even where they are wrong."""
    pixels = laid(planks(), [SHIRT])
    plain = seen(pixels).shape_px
    assert plain.contains(Point(200, 300))
    assert not plain.contains(Point(350, 420))
    told = seen(pixels, floor_at=[(200, 300)], cloth_at=[(350, 420)]).shape_px
    assert not told.intersects(Point(200, 300))
    assert told.intersects(Point(350, 420))


def test_a_reference_square_is_never_cloth() -> None:
    pixels = laid(planks(), [SHIRT])
    square = np.array([[290, 290], [370, 290], [370, 370], [290, 370]], float)
    pixels[290:370, 290:370] = (40, 70, 130)  # of the cloth's own colour
    found = seen(pixels, references_px=[square])
    assert found.shape_px.intersection(Polygon(square)).area < 0.03 * Polygon(square).area


def test_cloth_that_leaves_the_picture_is_said_to() -> None:
    cut = SHIRT * [1.6, 1.6] - [120, 60]
    found = seen(laid(planks(), [cut]))
    assert Code.GARMENT_CUT in {p.code for p in found.problems}
    assert Code.GARMENT_CUT not in {p.code for p in seen(laid(planks(), [SHIRT])).problems}


def test_turning_the_picture_turns_the_outline() -> None:
    pixels = laid(planks(), [SHIRT])
    straight = seen(pixels).shape_px
    turned = seen(np.ascontiguousarray(pixels[::-1, ::-1])).shape_px
    back = MultiPolygon([Polygon([(399 - x, 479 - y) for x, y in g.exterior.coords]) for g in turned.geoms])
    assert overlap(back, straight.union(Polygon())) > 0.95


@pytest.mark.parametrize("mirror", [False, True])
def test_a_look_upside_down_sees_the_picture_turned(mirror: bool) -> None:
    pixels = laid(planks(), [SHIRT])
    height, width = pixels.shape[:2]
    hint, turned_hint = (200.0, 240.0), (width - 201.0, height - 241.0)
    told = one_look(pixels, 192, mirror, cloth_at=[hint], turned=True)
    over = one_look(np.ascontiguousarray(pixels[::-1, ::-1]), 192, mirror, cloth_at=[turned_hint])
    assert np.allclose(told, over[:, ::-1, ::-1], atol=1e-4)


def test_the_same_picture_gives_the_same_outline() -> None:
    pixels = laid(planks(seed=5), [SHIRT])
    assert seen(pixels).shape_px.equals(seen(pixels).shape_px)


def test_two_formulas_for_overlap_agree() -> None:
    """Shapely's area against counting pixels."""
    other = Polygon(SHIRT + np.array([9, 4]))
    shape = MultiPolygon([Polygon(SHIRT)])
    a, b = (paint(MultiPolygon([p]), (400, 480), (400, 480)) > 0 for p in (shape.geoms[0], other))
    counted = (a & b).sum() / (a | b).sum()
    assert counted == pytest.approx(overlap(shape, other), abs=0.01)


def test_rings_of_a_disc_with_a_hole_make_one_polygon() -> None:
    y, x = np.mgrid[:100, :120]
    far = np.hypot(x - 60, y - 50)
    chance = (1 / (1 + np.exp(far - 40)) * (1 - 1 / (1 + np.exp(far - 15)))).astype(np.float32)
    shape = assemble(level_rings(chance, (120, 100)))
    assert len(shape.geoms) == 1
    assert len(shape.geoms[0].interiors) == 1
    assert shape.area == pytest.approx(np.pi * (40**2 - 15**2), rel=0.02)


def test_specks_go_unless_pointed_at() -> None:
    rings = [np.array(box(0, 0, 100, 100).exterior.coords), np.array(box(150, 150, 160, 160).exterior.coords)]
    assert len(assemble(rings).geoms) == 1
    assert len(assemble(rings, [(155, 155)]).geoms) == 2


def test_a_ring_laid_beside_an_edge_moves_onto_it() -> None:
    truth = box(60, 60, 240, 200)
    picture = np.full((260, 300, 3), (60.0, 0, 0), np.float32)
    picture[60:201, 60:241] = (30.0, 20, -20)
    picture += np.random.default_rng(3).normal(0, 1.5, picture.shape).astype(np.float32)
    rough = truth.buffer(4)
    logits = np.full((260, 300), -3.0, np.float32)
    cv2.fillPoly(logits, [np.asarray(rough.exterior.coords, np.int32)], 3.0)
    logits = np.asarray(cv2.GaussianBlur(logits, (0, 0), 6), np.float32)
    before = np.asarray(rough.exterior.coords)
    moved = refine_ring(before, picture, logits, 4.0).points
    away = np.array([truth.exterior.distance(Point(p)) for p in moved])
    assert np.median(away) < 1.2
    assert np.median(away) < 0.5 * np.median(
        [truth.exterior.distance(Point(p)) for p in resample(before, 1.0)]
    )


def test_smoothing_keeps_the_guide_s_edges() -> None:
    guide = np.zeros((40, 60, 3), np.float32)
    guide[:, 30:] = 0.8
    values = guide[..., 0] / 0.8 + np.random.default_rng(4).normal(0, 0.2, (40, 60)).astype(np.float32)
    out = guided(guide, values.astype(np.float32), 4, 1e-3)
    assert out[:, :28].std() < 0.08
    assert out[:, 33:].mean() - out[:, :27].mean() > 0.9


def test_share_of_the_outline_on_the_frame() -> None:
    assert on_frame(MultiPolygon([box(20, 20, 80, 80)]), 100, 100) == 0
    assert on_frame(MultiPolygon([box(-0.5, 20, 59.5, 80)]), 100, 100) == pytest.approx(0.25, abs=0.02)


def test_contrast_across_an_edge() -> None:
    pixels = np.full((200, 200, 3), 200, np.uint8)
    pixels[50:150, 50:150] = 100
    steps = contrast(pixels, MultiPolygon([box(49.5, 49.5, 149.5, 149.5)]))
    # L* of sRGB 200 and 100 by the CIE 1976 formula, worked by hand: 80.6 and 42.4
    assert np.median(steps) == pytest.approx(38.2, abs=1.5)


def test_runs_of_doubt_join_and_short_ones_go() -> None:
    points = np.stack([np.arange(200.0), np.zeros(200)], 1)
    bad = np.zeros(200, bool)
    bad[20:40] = bad[42:60] = bad[120] = True
    lines = _stretches(points, bad, 200)
    assert [line.length for line in lines] == [pytest.approx(39)]
    assert isinstance(lines[0], LineString)

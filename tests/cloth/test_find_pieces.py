"""find_pieces from a drawn photograph to pieces, and the network it looks with."""

from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon, box

import salvage.cloth.flat.chances as looking
from salvage.cloth.garment import DOUBTFUL, MAY_BE_FLOOR, BlockedKind, Garment, Piece
from salvage.cloth.inside import Inside, cautions_of, find_pieces
from salvage.cloth.outline.find import Outline
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.cloth.usable import usable
from salvage.errors import UsageError
from salvage.photo.photo import Photo
from salvage.trade.kinds import kind_named

PX_PER_MM = 2.0
CLOTH = box(60, 60, 460, 400)
SEAM = LineString([(60, 250), (460, 262)])
STAIN = (200.0, 150.0)


class FromAbove:
    """A camera straight above; the plane's origin is the photograph's bottom left corner."""

    plus_minus_percent = 0.4

    def to_px(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.stack([points[:, 0] * PX_PER_MM, 920 - points[:, 1] * PX_PER_MM], 1)

    def to_mm(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.stack([points[:, 0] / PX_PER_MM, (920 - points[:, 1]) / PX_PER_MM], 1)


def px(line: LineString) -> list[NDArray[np.int32]]:
    return [FromAbove().to_px(np.asarray(line.coords)[:, :2]).astype(np.int32)]


@pytest.fixture(scope="module")
def photo() -> Photo:
    rng = np.random.default_rng(4)
    picture = np.full((921, 1041, 3), (150, 120, 90), np.uint8)
    cv2.fillPoly(picture, px(CLOTH.exterior), (60, 85, 120))
    cv2.circle(picture, (int(STAIN[0] * 2), int(920 - STAIN[1] * 2)), 44, (105, 80, 55), -1, cv2.LINE_AA)
    cv2.polylines(picture, px(SEAM), False, (25, 38, 60), 4, cv2.LINE_AA)
    for offset in (3.0, -3.0):
        for start in np.arange(0, SEAM.length - 4, 4.5):
            stitch = shapely.ops.substring(SEAM.parallel_offset(offset), start, start + 3)
            cv2.polylines(picture, px(stitch), False, (170, 175, 180), 2, cv2.LINE_AA)
    noisy = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 1.0) + rng.normal(0, 3, picture.shape)
    return Photo(Path("drawn.jpg"), np.clip(noisy, 0, 255).astype(np.uint8))


@pytest.fixture(scope="module")
def found(photo: Photo) -> Inside:
    outline = Polygon(FromAbove().to_px(np.asarray(CLOTH.exterior.coords)))
    return find_pieces(photo, FromAbove(), Outline(MultiPolygon([outline]), 0.9), layers=2)


def test_the_seam_is_found_and_parts_the_cloth(found: Inside) -> None:
    shapes = [
        b.shape for p in found.pieces for b in p.blocked if b.kind in (BlockedKind.SEAM, BlockedKind.HEM)
    ]
    near = shapely.union_all(shapes).buffer(8.0)
    assert SEAM.intersection(near).length > 0.9 * SEAM.length
    assert len(found.pieces) == 2
    assert sum(p.outline.area for p in found.pieces) == pytest.approx(CLOTH.area, rel=0.01)


def test_the_stain_is_blocked_and_the_rest_is_not(found: Inside) -> None:
    cloth = shapely.union_all([usable(piece) for piece in found.pieces])
    assert not cloth.intersects(shapely.Point(STAIN).buffer(18.0))
    assert cloth.area > 0.8 * CLOTH.area


def test_every_piece_can_be_written_and_read_again(found: Inside) -> None:
    garment = Garment("drawn", found.pieces)
    again = garment_from_json(garment_to_json(garment))
    assert len({piece.name for piece in again.pieces}) == len(again.pieces)
    for piece in again.pieces:
        assert piece.layers == 2
        assert 0 <= piece.grain < 360
        assert piece.outline.buffer(0.01).covers(usable(piece))
        assert piece.plus_minus.scale_percent == pytest.approx(0.4)


def test_same_photograph_same_pieces(photo: Photo, found: Inside) -> None:
    outline = Polygon(FromAbove().to_px(np.asarray(CLOTH.exterior.coords)))
    again = find_pieces(photo, FromAbove(), Outline(MultiPolygon([outline]), 0.9), layers=2)
    assert garment_to_json(Garment("a", again.pieces)) == garment_to_json(Garment("a", found.pieces))


@pytest.mark.parametrize(("arm", "told"), [(0, False), (250, True)])
def test_most_of_a_garment_with_an_arm_left_on_is_pointed_out(arm: float, told: bool) -> None:
    body = box(0, 0, 500, 600).union(box(500, 450, 500 + arm, 600)) if arm else box(0, 0, 500, 600)
    pieces = [Piece("body", body, "shell"), Piece("cuff", box(0, 700, 100, 800), "shell")]
    found = cautions_of(kind_named("woven"), 1, pieces)
    assert any(text.startswith("body is most of the garment") for text in found) == told


def test_kinds_change_margins_and_cautions(photo: Photo) -> None:
    scrap = Polygon(FromAbove().to_px(np.asarray(box(300, 80, 450, 230).exterior.coords)))
    told = find_pieces(photo, FromAbove(), Outline(MultiPolygon([scrap]), 0.9), kind="padded")
    assert told.cautions[0].startswith("Not suited")
    whole = Polygon(FromAbove().to_px(np.asarray(CLOTH.exterior.coords)))
    pile = find_pieces(photo, FromAbove(), Outline(MultiPolygon([whole]), 0.9), kind="pile")
    assert [piece.one_way for piece in pile.pieces] == [True, True]
    assert {b.margin for piece in pile.pieces for b in piece.blocked} == {7.0, 4.0}  # 1 mm more than others
    with pytest.raises(UsageError, match="chainmail"):
        find_pieces(photo, FromAbove(), Outline(MultiPolygon([scrap]), 0.9), kind="chainmail")


def test_what_may_be_floor_is_blocked_in_doubt(photo: Photo) -> None:
    scrap, place = (
        Polygon(FromAbove().to_px(np.asarray(box(*bounds).exterior.coords)))
        for bounds in ((300, 80, 450, 230), (380, 80, 450, 230))
    )
    outline = Outline(MultiPolygon([scrap]), 0.9, may_be_floor_px=MultiPolygon([place]))
    (piece,) = find_pieces(photo, FromAbove(), outline).pieces
    (doubted,) = [each for each in piece.blocked if each.what == MAY_BE_FLOOR]
    assert doubted.confidence < DOUBTFUL
    assert doubted.shape.symmetric_difference(box(380, 80, 450, 230)).area < 150
    assert usable(piece).bounds[2] <= 377.5


def test_no_cloth_no_pieces(photo: Photo) -> None:
    assert find_pieces(photo, FromAbove(), Outline(MultiPolygon(), 0.0)).pieces == ()


def test_the_network_is_small_and_answers_in_its_shape() -> None:
    assert Path(looking.__file__).with_name("inside.onnx").stat().st_size < 4_000_000
    picture = np.zeros((5, 100, 140), np.float32)
    answer = looking._run(picture)
    assert answer.shape == (len(looking.OUTPUTS), 64, 96)
    assert ((answer >= 0) & (answer <= 1)).all()

"""The whole garment's network on plain drawings, and its card beside what training and run time read."""

import hashlib
import json
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray

from salvage.cloth.flat import whole as module
from salvage.cloth.flat.picture import Flat
from salvage.cloth.flat.whole import (
    FACES,
    KINDS,
    LANDMARKS,
    LINES,
    PARTS,
    SPOTS,
    Whole,
    look_whole,
    network_input,
)

FOLDER = Path(module.__file__).parent
CARD = json.loads((FOLDER / "whole.json").read_text())
TRAIN = Path(__file__).parents[3] / "fixtures" / "train"


def trousers(turn: float = 0.0, step: float = 2.0) -> Flat:
    """Plain blue trousers 1000 mm long, waist up, turned counter-clockwise by degrees, with a band and a middle seam."""
    right = np.array([[0, 500], [190, 500], [250, 250], [230, -500], [90, -500], [20, 190]], float)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    height, width, left, top = 700, 700, -700.0, 700.0
    canvas = np.full((height, width, 3), (190, 180, 165), np.uint8)
    mask = np.zeros((height, width), np.uint8)

    def px(points: ArrayLike) -> NDArray[np.int32]:
        turned = np.asarray(points, float) @ np.array([[c, s], [-s, c]])
        return np.round(np.stack([(turned[:, 0] - left) / step, (top - turned[:, 1]) / step], 1)).astype(
            np.int32
        )

    for side in (-1, 1):
        cv2.fillPoly(canvas, [px(right * [side, 1])], (52, 66, 104))
        cv2.fillPoly(mask, [px(right * [side, 1])], 1)
    for line in (
        [[0, 460], [0, 190]],
        [[-200, 455], [200, 455]],
        [[100, -470], [235, -470]],
        [[-235, -470], [-100, -470]],
    ):
        cv2.polylines(canvas, [px(line)], False, (36, 46, 78), 2)
    rng = np.random.default_rng(3)
    noisy = canvas + cv2.GaussianBlur(rng.normal(0, 14, canvas.shape), (0, 0), 1.2)
    return Flat(np.clip(noisy, 0, 255).astype(np.uint8), mask.astype(bool), step, left, top)


@pytest.fixture(scope="module")
def seen() -> Whole:
    return look_whole(trousers())


def test_card_describes_the_network_that_ships() -> None:
    assert hashlib.sha256((FOLDER / "whole.onnx").read_bytes()).hexdigest() == CARD["sha256"]
    seen = module._run(np.zeros((512, 512, 3), np.float32), np.ones((512, 512), np.float32))
    assert seen.maps.shape == (len(LINES) + len(SPOTS) + len(PARTS) + len(LANDMARKS), 256, 256)
    assert len(seen.facts) == len(KINDS) + len(FACES) + len(CARD["flags"])


def test_a_mirrored_garment_is_told_the_same_with_left_and_right_swapped() -> None:
    flat = trousers()
    picture, mask, _ = module._garment(flat, 90.0)
    picture[:, :200] *= 0.8  # so that its halves are not alike
    seen = module._run(picture, mask)
    turned = module._run(np.ascontiguousarray(picture[:, ::-1]), np.ascontiguousarray(mask[:, ::-1]))
    maps, other = seen.maps, turned.maps
    first = len(LINES) + len(SPOTS)
    left, right = (first + PARTS.index(f"leg_{side}") for side in ("left", "right"))
    assert np.allclose(maps[:first], other[:first, :, ::-1], atol=0.02)
    assert np.allclose(maps[left], other[right, :, ::-1], atol=0.02)
    assert not np.allclose(maps[left], other[left, :, ::-1], atol=1.0)
    assert np.allclose(seen.lines[0], turned.lines[1, :, :, ::-1], atol=0.02)
    told, mirrored = (np.array([module._up(each.facts)]) for each in (seen, turned))
    assert told == pytest.approx(180.0 - mirrored, abs=0.1)


def test_training_reads_the_same_card(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(TRAIN))
    import whole_canvas

    try:
        assert whole_canvas.CARD == CARD
    finally:
        for name in ("whole_canvas",):
            sys.modules.pop(name, None)


def test_training_prepares_the_picture_as_run_time_does(monkeypatch: pytest.MonkeyPatch) -> None:
    torch = pytest.importorskip("torch")
    monkeypatch.syspath_prepend(str(TRAIN))
    from whole_net import prepare

    rgb = np.random.default_rng(0).random((512, 512, 3)).astype(np.float32)
    mask = np.zeros((512, 512), np.float32)
    mask[20:490, 60:400] = 1
    there = prepare(torch.from_numpy(rgb.transpose(2, 0, 1))[None], torch.from_numpy(mask)[None, None])[
        0
    ].numpy()
    assert there == pytest.approx(network_input(rgb, mask), abs=1e-3)


def test_trousers_are_trousers(seen: Whole) -> None:
    assert seen.kind in ("trousers", "shorts")
    assert sum(seen.kinds.values()) == pytest.approx(1, abs=1e-4)
    assert seen.up == pytest.approx(90, abs=20)


def test_legs_lie_where_they_were_drawn(seen: Whole) -> None:
    left = seen.at(seen.part("leg_left"), np.array([[-150.0, -200.0], [150.0, -200.0]]))
    right = seen.at(seen.part("leg_right"), np.array([[-150.0, -200.0], [150.0, -200.0]]))
    assert left[0] > 0.5 > left[1]
    assert right[1] > 0.5 > right[0]


def test_chances_stay_between_nought_and_one(seen: Whole) -> None:
    for each in (*seen.lines.values(), *seen.spots.values(), seen.parts):
        assert each.min() >= 0
        assert each.max() <= 1
    assert seen.parts.sum(0) == pytest.approx(1, abs=1e-4)


def test_upside_down_is_noticed() -> None:
    turned = look_whole(trousers(180.0))
    assert abs((turned.up - 270 + 180) % 360 - 180) < 25
    assert turned.at(turned.part("leg_left"), np.array([[150.0, 200.0]]))[0] > 0.5  # left when upright


def test_grid_and_plane_agree(seen: Whole) -> None:
    points = np.array([[0.0, 0.0], [-230.0, -500.0], [120.0, 333.0]])
    assert seen.to_mm(seen.to_grid_px(points)) == pytest.approx(points)
    middle = seen.to_grid_px(np.array([[0.0, 0.0]]))[0]
    assert middle == pytest.approx([127.5, 127.5], abs=0.6)  # the box's middle is the grid's
    assert seen.step * 240 == pytest.approx(1000, rel=0.01)  # the longer side is 240 grid pixels


def test_no_cloth_is_refused() -> None:
    empty = Flat(np.zeros((50, 50, 3), np.uint8), np.zeros((50, 50), bool), 1.0, 0.0, 0.0)
    with pytest.raises(ValueError, match="no cloth"):
        look_whole(empty)


@pytest.mark.parametrize("at", [(40.3, 22.7), (1.2, 58.6), (62.4, 0.5)])
def test_a_landmark_lies_at_its_peak_to_a_fraction_of_a_pixel(at: tuple[float, float]) -> None:
    class AsItIs:
        def to_mm(self, x: float, y: float) -> tuple[float, float]:
            return x, y

    rows, columns = np.mgrid[0:60, 0:64]
    map_ = 0.8 * np.exp(-((columns - at[0]) ** 2 + (rows - at[1]) ** 2) / (2 * 0.7**2))
    found = module._peak(map_.astype(np.float32), AsItIs())  # type: ignore[arg-type]
    inside = all(2 < each < 57 for each in at)
    assert (found.x, found.y) == pytest.approx(at, abs=0.05 if inside else 0.45)
    assert found.chance == pytest.approx(map_.max(), abs=1e-6)

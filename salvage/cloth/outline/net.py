"""The chance of cloth at every pixel, by a small network trained on drawn scenes.

How it was trained, and how well it does, stands in fixtures/train/README.md. What it reads and tells stands in
outline.json beside it, which the training reads too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.cloth.card import card_of
from salvage.cloth.outline.colour import Array, to_grid

MODEL = Path(__file__).with_name("outline.onnx")
_CARD = card_of(MODEL)
STEP_PX = int(_CARD["multiple_px"])  # the network halves its input five times
MEAN, SPREAD = float(_CARD["mean"]), float(_CARD["spread"])
CLICK_PX = int(_CARD["click_px"])  # radius of the disc that stands for a hint
LOOKS = ((224, False), (256, True), (288, False))  # long side; seen in a mirror
TURNED_SURER = 0.5  # so much less undecided must it be with the picture upside down to be believed so

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Chance:
    """Several looks at one picture, brought to one size.

    cloth: (h, w) float32, mean chance of cloth. spread: (h, w), standard deviation between the looks.
    edge: (h, w), mean chance that the outline passes here.
    """

    cloth: Array
    spread: Array
    edge: Array


@lru_cache(maxsize=1)
def _network() -> cv2.dnn.Net:
    return cv2.dnn.readNetFromONNX(str(MODEL))


def _told(size: tuple[int, int], points: Sequence[Point], full: tuple[int, int]) -> Array:
    plane = np.zeros((size[1], size[0]), np.float32)
    for column, row in np.round(to_grid(np.array(points, float), full, size)).astype(int):
        cv2.circle(plane, (int(column), int(row)), CLICK_PX, 1.0, -1)
    return plane


def one_look(
    pixels: Array,
    long_px: int,
    mirror: bool,
    references_px: Sequence[NDArray[np.float64]] = (),
    cloth_at: Sequence[Point] = (),
    floor_at: Sequence[Point] = (),
    turned: bool = False,
) -> Array:
    """One pass: (2, h, w) float32 logits of cloth and of its edge, with about long_px on the long side.

    mirror, turned: the network sees the picture in a mirror, or upside down; the answer is as if it hadn't.
    """
    height, width = pixels.shape[:2]
    full = (width, height)
    factor = long_px / max(full)
    size = tuple(max(STEP_PX, round(side * factor / STEP_PX) * STEP_PX) for side in full)
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    floor = _told(size, floor_at, full)
    for corners in references_px:
        cv2.fillPoly(floor, [np.round(to_grid(corners, full, size)).astype(np.int32)], 1.0)
    cloth = _told(size, cloth_at, full)
    floor[cloth > 0] = 0.0
    planes = np.empty((1, len(_CARD["inputs"]), size[1], size[0]), np.float32)
    planes[0, :3] = ((small - MEAN) / SPREAD).transpose(2, 0, 1)
    planes[0, 3] = np.linspace(-1, 1, size[0], dtype=np.float32)[None]
    planes[0, 4] = np.linspace(-1, 1, size[1], dtype=np.float32)[:, None]
    planes[0, 5], planes[0, 6] = cloth, floor
    rows, columns = slice(None, None, -1 if turned else 1), slice(None, None, -1 if turned != mirror else 1)
    seen = [0, 1, 2, 5, 6]  # not the places, which stay
    planes[:, seen] = planes[:, seen, rows, columns]
    network = _network()
    network.setInput(np.ascontiguousarray(planes))
    logits = network.forward()[0]
    return np.ascontiguousarray(logits[:, rows, columns])


def chance_of_cloth(
    pixels: Array,
    references_px: Sequence[NDArray[np.float64]] = (),
    cloth_at: Sequence[Point] = (),
    floor_at: Sequence[Point] = (),
    looks: Sequence[tuple[int, bool]] = LOOKS,
) -> Chance:
    """Look several times, at several sizes and mirrored, and take the mean.

    The network knows garments with the collar or the waist up. Where it is far surer with the picture upside
    down, the photograph was taken from the other side.
    """
    hints = (references_px, cloth_at, floor_at)
    seen = [one_look(pixels, size, mirror, *hints) for size, mirror in looks]
    size, mirror = looks[len(looks) // 2]
    turned = one_look(pixels, size, mirror, *hints, turned=True)
    if _undecided([turned]) < TURNED_SURER * _undecided(seen):
        seen = [one_look(pixels, size, mirror, *hints, turned=True) for size, mirror in looks]
    return _together(seen)


def _undecided(seen: Sequence[Array]) -> float:
    """How far the mean of some looks is from a yes or a no, over the area of the cloth."""
    cloth = _together(seen).cloth
    return float(np.minimum(cloth, 1 - cloth).sum() / ((cloth > 0.5).sum() + 1))


def _together(seen: Sequence[Array]) -> Chance:
    """The mean of some looks, (2, h, w) logits each, at the finest of their sizes."""
    height, width = max(s.shape[1] for s in seen), max(s.shape[2] for s in seen)
    logits = np.stack(
        [np.stack([cv2.resize(p, (width, height), interpolation=cv2.INTER_LINEAR) for p in s]) for s in seen]
    )
    chances = 1 / (1 + np.exp(-np.clip(logits, -30, 30)))
    cloth = 1 / (1 + np.exp(-np.clip(logits[:, 0].mean(0), -30, 30)))
    return Chance(
        cloth.astype(np.float32),
        chances[:, 0].std(0).astype(np.float32),
        chances[:, 1].mean(0).astype(np.float32),
    )

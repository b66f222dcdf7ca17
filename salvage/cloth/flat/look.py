"""Looks at a flat picture with the small network: how likely each place is seam, closure, pocket, ...

The network is ours: drawn garments and training script are in fixtures/train. It runs on the CPU
through OpenCV.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.cloth.flat.picture import Flat

OUTPUTS = ("seam", "stitch", "edge", "closure", "pocket", "worn", "other", "padded")
EVERY = 2  # the network answers for every second flat pixel
_MULTIPLE = 64  # its input sides must be multiples of this
_LARGEST = 1792  # flat pixels; a larger picture is looked at in parts
_OVERLAP = 256
_QUARTERS = (0, 1, 2)  # a fourth costs a third of a second, and scores no better on the rendered garments
_LOCAL_SIGMA_PX = 10.0

Map = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Chances:
    """Chance from 0 to 1 for each output; (h / 2, w / 2) arrays, one pixel for EVERY flat pixels."""

    seam: Map
    stitch: Map
    edge: Map
    closure: Map
    pocket: Map
    worn: Map
    other: Map
    padded: Map


def look(flat: Flat) -> Chances:
    """What the network makes of the flat picture."""
    height, width = flat.mask.shape
    half = (-(-height // EVERY), -(-width // EVERY))
    picture = network_input(flat.rgb.astype(np.float32) / 255.0, flat.mask)
    found = np.zeros((len(OUTPUTS), *half), np.float32)
    for top in _starts(height):
        for left in _starts(width):
            part = picture[:, top : top + _LARGEST, left : left + _LARGEST]
            answer = _run(part)
            rows, columns = (-(-n // EVERY) for n in part.shape[1:])
            target = found[:, top // EVERY : top // EVERY + rows, left // EVERY : left // EVERY + columns]
            np.maximum(target, answer[:, : target.shape[1], : target.shape[2]], out=target)
    return Chances(*found)


def network_input(rgb: Map, mask: NDArray[np.bool_]) -> Map:
    """(5, h, w): the cloth's colours against its own mean and spread, its grey against its surroundings,
    and the mask. rgb: (h, w, 3) from 0 to 1. The floor is left out of every figure."""
    inside = mask.astype(np.float32)
    count = max(float(inside.sum()), 1.0)
    mean = (rgb * inside[..., None]).sum((0, 1)) / count
    spread = float(np.sqrt((((rgb - mean) ** 2) * inside[..., None]).sum() / (3 * count)))
    whole = np.clip((rgb - mean) / max(spread, 0.03), -4, 4) * inside[..., None]
    grey = rgb.mean(2)
    share = np.maximum(_smooth(inside), 1e-3)
    local = _smooth(grey * inside) / share
    deviation = np.sqrt(np.maximum(_smooth(grey**2 * inside) / share - local**2, 0))
    near = np.clip((grey - local) / np.maximum(deviation, 0.008), -4, 4) * inside
    return np.stack([*whole.transpose(2, 0, 1), near, inside]).astype(np.float32)


def _smooth(values: Map) -> Map:
    size = int(2 * round(3 * _LOCAL_SIGMA_PX) + 1)
    blurred = cv2.GaussianBlur(values, (size, size), _LOCAL_SIGMA_PX, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(blurred, np.float32)


def _run(part: Map) -> Map:
    """The network's answer, averaged over the picture turned by quarters: it wasn't trained to see all
    ways alike, and what it sees each time is there."""
    _, height, width = part.shape
    padded = np.pad(part, ((0, 0), (0, -height % _MULTIPLE), (0, -width % _MULTIPLE)))
    network = _network()
    total = np.zeros((len(OUTPUTS), padded.shape[1] // EVERY, padded.shape[2] // EVERY), np.float32)
    for quarters in _QUARTERS:
        network.setInput(np.ascontiguousarray(np.rot90(padded, quarters, (1, 2)))[None])
        logits = np.asarray(network.forward(), np.float32)[0, : len(OUTPUTS)]
        total += np.rot90(logits, -quarters, (1, 2))
    mean = np.clip(total / len(_QUARTERS), -30, 30)
    return np.asarray(1.0 / (1.0 + np.exp(-mean)), np.float32)


@lru_cache(maxsize=1)
def _network() -> cv2.dnn.Net:
    return cv2.dnn.readNetFromONNX(str(Path(__file__).with_name("inside.onnx")))


def _starts(length: int) -> list[int]:
    """Where parts start so that they overlap and cover the length."""
    if length <= _LARGEST:
        return [0]
    step = _LARGEST - _OVERLAP
    starts = list(range(0, length - _LARGEST, step))
    return [*starts, (length - _LARGEST) // EVERY * EVERY]

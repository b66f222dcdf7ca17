"""Looks at a flat picture with the small network: how likely each place is seam, closure, pocket, ...

The network is ours: drawn garments and training script are in fixtures/train. It runs on the CPU
through OpenCV. What it reads and tells stands in inside.json beside it, which the training reads too.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.cloth.card import card_of
from salvage.cloth.flat.picture import Flat
from salvage.cloth.flat.planes import own_colours

_NETWORK = Path(__file__).with_name("inside.onnx")
_CARD = card_of(_NETWORK)
OUTPUTS: tuple[str, ...] = tuple(
    _CARD["outputs"][:8]
)  # the other four, grain and up, are told better by others
EVERY = int(_CARD["every"])  # the network answers for every second flat pixel
_MULTIPLE = int(_CARD["multiple_px"])  # its input sides must be multiples of this
_LARGEST = 1792  # flat pixels; a larger picture is looked at in parts
_OVERLAP = 256
_QUARTERS = (0, 1, 2)  # a fourth costs a third of a second, and scores no better on the rendered garments
_LOCAL_SIGMA_PX = float(_CARD["local_sigma_px"])

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


def chances_of(flat: Flat) -> Chances:
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
    """(5, h, w) planes, see `own_colours`. rgb: (h, w, 3) from 0 to 1."""
    return np.stack(own_colours(rgb, mask.astype(np.float32), _CARD, _smooth)).astype(np.float32)


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
    return cv2.dnn.readNetFromONNX(str(_NETWORK))


def _starts(length: int) -> list[int]:
    """Where parts start so that they overlap and cover the length."""
    if length <= _LARGEST:
        return [0]
    step = _LARGEST - _OVERLAP
    starts = list(range(0, length - _LARGEST, step))
    return [*starts, -(-(length - _LARGEST) // EVERY) * EVERY]

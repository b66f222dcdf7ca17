"""Looks at a whole garment at once: its kind and face, its parts, where lines run, what lies on it, its landmarks.

The network is ours: drawings and training scripts are in fixtures/train (whole_*.py, train_whole.py). It runs on
the CPU through OpenCV. What it reads and tells stands in whole.json beside it, which the training reads too.
It knows the make of garments but sees them small, at 1 to 3 mm a pixel: where a line runs exactly is for the
fine finders to say.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.cloth.flat.picture import Flat

_CARD = json.loads(Path(__file__).with_name("whole.json").read_text())
SIDE, _INNER, EVERY = int(_CARD["side_px"]), int(_CARD["inner_px"]), int(_CARD["every"])
LINES: tuple[str, ...] = tuple(_CARD["lines"])
SPOTS: tuple[str, ...] = tuple(_CARD["spots"])
PARTS: tuple[str, ...] = tuple(_CARD["parts"])
LANDMARKS: tuple[str, ...] = tuple(_CARD["landmarks"])
KINDS: tuple[str, ...] = tuple(_CARD["kinds"])
FACES: tuple[str, ...] = tuple(_CARD["faces"])
_FLAGS: tuple[str, ...] = tuple(_CARD["flags"])
_SIGMA_PX = float(_CARD["local_sigma_px"])
_LEAST_LANDMARK = 0.2  # chance under which a landmark is not told
_ASKEW = 55.0  # degrees from upright beyond which the garment is looked at again, turned by quarters

Map = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Landmark:
    """A corner of the garment; x, y on the plane in mm, chance 0..1."""

    x: float
    y: float
    chance: float


@dataclass(frozen=True, slots=True, eq=False)
class Whole:
    """What the network makes of a garment. Maps are (256, 256), row 0 the top, chances 0..1.

    lines: by kind (LINES), the chance that a line of that kind runs there, within about one grid pixel.
    spots: by kind (SPOTS). hardware: buttons, snaps, rivets, zip pulls; label: labels, badges, placed prints;
    loops: belt loops, cords, belts, straps; worn: stains, holes, rubbed places; padded: padded or quilted cloth.
    parts: (17, 256, 256), chances of PARTS that add up to 1. body: a front without opening, or a back; body_left and
    body_right: halves beside an opening; inside: lining or wrong side in sight; band: waistband, hem band; left and
    right are those of the picture when the garment lies upright.
    landmarks: by name (LANDMARKS), those seen. kinds, faces: chances. padded, open_front: chances of the whole garment.
    up: degrees counter-clockwise from +x, where the collar or the waist lies; 90 is upright.
    step: mm between grid pixels. left, top: mm, where the centre of grid pixel (0, 0) lies.
    """

    lines: dict[str, Map]
    spots: dict[str, Map]
    parts: Map
    landmarks: dict[str, Landmark]
    kinds: dict[str, float]
    faces: dict[str, float]
    padded: float
    open_front: float
    up: float
    step: float
    left: float
    top: float

    @property
    def kind(self) -> str:
        return max(self.kinds, key=self.kinds.__getitem__)

    @property
    def kind_chance(self) -> float:
        return self.kinds[self.kind]

    @property
    def face(self) -> str:
        return max(self.faces, key=self.faces.__getitem__)

    @property
    def face_chance(self) -> float:
        return self.faces[self.face]

    def part(self, name: str) -> Map:
        return np.asarray(self.parts[PARTS.index(name)], np.float32)

    def part_map(self) -> NDArray[np.int64]:
        """(256, 256): the most likely part of each grid pixel, an index into PARTS."""
        return np.asarray(self.parts.argmax(0), np.int64)

    def to_grid_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) mm to (n, 2) grid pixels (column, row)."""
        points = np.asarray(points_mm, float)
        return np.stack([(points[:, 0] - self.left) / self.step, (self.top - points[:, 1]) / self.step], 1)

    def to_mm(self, points_grid_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) grid pixels (column, row) to (n, 2) mm."""
        points = np.asarray(points_grid_px, float)
        return np.stack([self.left + points[:, 0] * self.step, self.top - points[:, 1] * self.step], 1)

    def at(self, chances: Map, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n,): a map read between its pixels at points of the plane; 0 beyond its edge."""
        px = self.to_grid_px(points_mm).astype(np.float32)
        if not len(px):
            return np.zeros(0)
        found = cv2.remap(
            chances, px[None, :, 0], px[None, :, 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
        )
        return np.asarray(found, float)[0]


def look_whole(flat: Flat) -> Whole:
    """What the network makes of the garment. Raises ValueError where the flat picture has no cloth."""
    picture, mask, step, centre = _garment(flat)
    maps, facts = _run(picture, mask)
    askew = round((_up(facts) - 90.0) / 90.0) % 4 if abs((_up(facts) - 90 + 180) % 360 - 180) > _ASKEW else 0
    if askew:  # lies sideways or upside down: look again with its collar up, and turn the answer back
        maps, facts = _run(*(np.ascontiguousarray(np.rot90(each, -askew)) for each in (picture, mask)))
        maps = np.ascontiguousarray(np.rot90(maps, askew, (1, 2)))
    grid_step = step * EVERY
    middle = (SIDE / EVERY - 1) / 2
    return _told(
        maps, facts, askew, grid_step, centre[0] - middle * grid_step, centre[1] + middle * grid_step
    )


def _garment(flat: Flat) -> tuple[Map, Map, float, tuple[float, float]]:
    """The garment brought to the working square: ((SIDE, SIDE, 3) 0..1, (SIDE, SIDE) mask, mm a pixel, middle in mm)."""
    rows, columns = np.flatnonzero(flat.mask.any(1)), np.flatnonzero(flat.mask.any(0))
    if not len(rows):
        raise ValueError("there is no cloth in the flat picture")
    wide, tall = columns[-1] - columns[0] + 1.0, rows[-1] - rows[0] + 1.0
    shrink = max(wide, tall) / _INNER  # flat pixels to a working pixel
    middle_px = ((columns[0] + columns[-1]) / 2, (rows[0] + rows[-1]) / 2)
    rgb = flat.rgb
    if shrink > 1.2:
        rgb = np.asarray(cv2.GaussianBlur(rgb, (0, 0), 0.4 * math.sqrt(shrink**2 - 1.0)), np.uint8)
    half = (SIDE - 1) / 2
    back = np.array([[shrink, 0, middle_px[0] - half * shrink], [0, shrink, middle_px[1] - half * shrink]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    seen = cv2.warpAffine(rgb, back, (SIDE, SIDE), flags=how, borderMode=cv2.BORDER_REPLICATE)
    mask = cv2.warpAffine(flat.mask.astype(np.float32), back, (SIDE, SIDE), flags=how)
    centre = flat.to_mm(np.array([middle_px]))[0]
    picture = seen.astype(np.float32) / 255.0
    return picture, (mask > 0.5).astype(np.float32), flat.step * shrink, (float(centre[0]), float(centre[1]))


def network_input(rgb: Map, mask: Map) -> Map:
    """(7, h, w): the cloth's colours against its own mean and spread, its grey against its surroundings,
    the mask, column and row from -1 to 1. rgb: (h, w, 3) from 0 to 1. The floor is left out of every figure."""
    count = max(float(mask.sum()), 1.0)
    mean = (rgb * mask[..., None]).sum((0, 1)) / count
    spread = float(np.sqrt((((rgb - mean) ** 2) * mask[..., None]).sum() / (3 * count)))
    whole = np.clip((rgb - mean) / max(spread, 0.03), -4, 4) * mask[..., None]
    grey = rgb.mean(2)
    share = np.maximum(_smooth(mask), 1e-3)
    local = _smooth(grey * mask) / share
    deviation = np.sqrt(np.maximum(_smooth(grey**2 * mask) / share - local**2, 0))
    near = np.clip((grey - local) / np.maximum(deviation, 0.008), -4, 4) * mask
    column, row = np.meshgrid(np.linspace(-1, 1, rgb.shape[1]), np.linspace(-1, 1, rgb.shape[0]))
    return np.stack([*whole.transpose(2, 0, 1), near, mask, column, row]).astype(np.float32)


def _smooth(values: Map) -> Map:
    """A Gaussian of _SIGMA_PX, at a quarter of the size."""
    height, width = values.shape
    small = cv2.resize(values, (width // 4, height // 4), interpolation=cv2.INTER_AREA)
    size = 2 * round(3 * _SIGMA_PX / 4) + 1
    small = cv2.GaussianBlur(small, (size, size), _SIGMA_PX / 4, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR), np.float32)


def _run(picture: Map, mask: Map) -> tuple[Map, Map]:
    """Logits: maps (n, 256, 256) and facts (m,)."""
    network = _network()
    network.setInput(network_input(picture, mask)[None])
    maps, facts = network.forward(("maps", "facts"))
    return np.asarray(maps, np.float32)[0], np.asarray(facts, np.float32).ravel()


@lru_cache(maxsize=1)
def _network() -> cv2.dnn.Net:
    return cv2.dnn.readNetFromONNX(str(Path(__file__).with_name("whole.onnx")))


def _up(facts: Map) -> float:
    """Degrees; from the two flags up_cos and up_sin."""
    first = len(KINDS) + len(FACES)
    cos, sin = (float(facts[first + _FLAGS.index(name)]) for name in ("up_cos", "up_sin"))
    return math.degrees(math.atan2(sin, cos))


def _chance(logits: Map, name: str) -> Map:
    """The calibrated chance: the logit stretched and moved by what was fitted on drawings no training saw."""
    stretch, move = _CARD["calibration"].get(name, (1.0, 0.0))
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(logits * stretch + move, -30, 30))), np.float32)


def _share(logits: Map, name: str) -> Map:
    stretch, _ = _CARD["calibration"].get(name, (1.0, 0.0))
    raised = np.exp((logits - logits.max(0)) * stretch)
    return np.asarray(raised / raised.sum(0), np.float32)


def _told(maps: Map, facts: Map, quarters: int, step: float, left: float, top: float) -> Whole:
    a, b = len(LINES), len(LINES) + len(SPOTS)
    c = b + len(PARTS)
    lines = {name: _chance(maps[k], name) for k, name in enumerate(LINES)}
    spots = {name: _chance(maps[a + k], name) for k, name in enumerate(SPOTS)}
    landmarks = {}
    for k, name in enumerate(LANDMARKS):
        found = _peak(_chance(maps[c + k], "landmark"), step, left, top)
        if found.chance >= _LEAST_LANDMARK:
            landmarks[name] = found
    m, n = len(KINDS), len(KINDS) + len(FACES)
    flags = dict(zip(_FLAGS, facts[n:], strict=True))
    return Whole(
        lines, spots, _share(maps[b:c], "parts"), landmarks,
        dict(zip(KINDS, map(float, _share(facts[:m], "kind")), strict=True)),
        dict(zip(FACES, map(float, _share(facts[m:n], "face")), strict=True)),
        float(_chance(flags["padded"], "padded_whole")), float(_chance(flags["open_front"], "open_front")),
        (_up(facts) + 90.0 * quarters) % 360.0, step, left, top,
    )  # fmt: skip


def _peak(chances: Map, step: float, left: float, top: float) -> Landmark:
    """The highest place of a heat map, between pixels by the centre of mass around it."""
    row, column = (int(n) for n in np.unravel_index(int(chances.argmax()), chances.shape))
    first_row, first_column = max(row - 2, 0), max(column - 2, 0)
    near = chances[first_row : row + 3, first_column : column + 3]
    y, x = np.mgrid[0 : near.shape[0], 0 : near.shape[1]]
    weight = max(float(near.sum()), 1e-9)
    at_x = first_column + float((near * x).sum()) / weight
    at_y = first_row + float((near * y).sum()) / weight
    return Landmark(left + at_x * step, top - at_y * step, float(chances[row, column]))

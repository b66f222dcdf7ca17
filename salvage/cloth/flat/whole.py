"""Looks at a whole garment at once: its kind and face, its parts, where lines run, what lies on it, its landmarks.

The network is ours: drawings and training scripts are in fixtures/train (whole_*.py, train_whole.py). It runs on
the CPU through OpenCV. What it reads and tells stands in whole.json beside it, which the training reads too.
It knows the make of garments but sees them small, at 1 to 3 mm a pixel: where a line runs exactly is for the
fine finders to say.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.cloth.card import card_of
from salvage.cloth.flat.axis import Axis
from salvage.cloth.flat.picture import Flat
from salvage.cloth.flat.planes import own_colours

_NETWORK = Path(__file__).with_name("whole.onnx")
_CARD = card_of(_NETWORK)
SIDE, _INNER, EVERY = int(_CARD["side_px"]), int(_CARD["inner_px"]), int(_CARD["every"])
LINES: tuple[str, ...] = tuple(_CARD["lines"])
SPOTS: tuple[str, ...] = tuple(_CARD["spots"])
PARTS: tuple[str, ...] = tuple(_CARD["parts"])
LANDMARKS: tuple[str, ...] = tuple(_CARD["landmarks"])
KINDS: tuple[str, ...] = tuple(_CARD["kinds"])
FACES: tuple[str, ...] = tuple(_CARD["faces"])
_FLAGS: tuple[str, ...] = tuple(_CARD["flags"])
_SIGMA_PX = float(_CARD["local_sigma_px"])
_NEVER = -30.0  # a logit
_LEAST_LANDMARK = 0.2  # chance under which a landmark is not told
_ASKEW = 55.0  # degrees from upright beyond which the garment is looked at again, turned by quarters
_UPSIDE_DOWN = 90.0  # likewise, by a half, where it is known about which line it is symmetric

_COLUMN = -2  # the plane of network_input that tells where across the picture a pixel lies


def _other_side(name: str) -> str:
    """The name of the same on the garment's other side."""
    for side, other in (("left", "right"), ("right", "left")):
        if name.endswith(f"_{side}"):
            return name.removesuffix(side) + other
    return name


def _sides_swapped(names: tuple[str, ...]) -> list[int]:
    return [names.index(_other_side(name)) for name in names]


# Of each map and fact the one of the mirror image that says the same; and whether it says it with the other sign.
_OTHER_SIDE = [
    *range(len(LINES) + len(SPOTS)),
    *(len(LINES) + len(SPOTS) + n for n in _sides_swapped(PARTS)),
    *(len(LINES) + len(SPOTS) + len(PARTS) + n for n in _sides_swapped(LANDMARKS)),
]
_OTHER_SIGN = np.array([-1.0 if name == "up_cos" else 1.0 for name in (*KINDS, *FACES, *_FLAGS)], np.float32)

Map = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Landmark:
    """A corner of the garment; x, y on the plane in mm, chance 0..1."""

    x: float
    y: float
    chance: float


@dataclass(frozen=True, eq=False)  # no slots: what is worked out once is kept
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
    step: mm between grid pixels. origin: mm, where the centre of grid pixel (0, 0) lies. turn: degrees
    counter-clockwise from +x, the way on the plane that is up in the maps.
    looks: of each look alone, at the picture and at its mirror image, the chance that any line runs there.
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
    origin: tuple[float, float]
    turn: float = 90.0
    looks: tuple[Map, ...] = ()

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

    @cached_property
    def part_map(self) -> NDArray[np.int64]:
        """(256, 256): the most likely part of each grid pixel, an index into PARTS. Not to be written into."""
        return np.asarray(self.parts.argmax(0), np.int64)

    def to_grid_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) mm to (n, 2) grid pixels (column, row)."""
        across, up = _ways(self.turn)
        away = (np.asarray(points_mm, float) - self.origin) / self.step
        return np.stack([away @ across, -(away @ up)], 1)

    def to_mm(self, points_grid_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) grid pixels (column, row) to (n, 2) mm."""
        across, up = _ways(self.turn)
        points = np.asarray(points_grid_px, float) * self.step
        return np.asarray(self.origin + points[:, :1] * across - points[:, 1:] * up)

    def at(self, chances: Map, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n,): a map read between its pixels at points of the plane; 0 beyond its edge."""
        px = self.to_grid_px(points_mm).astype(np.float32)
        if not len(px):
            return np.zeros(0)
        found = cv2.remap(
            chances, px[None, :, 0], px[None, :, 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
        )
        return np.asarray(found, float)[0]


def look_whole(flat: Flat, axis: Axis | None = None) -> Whole:
    """What the network makes of the garment. Raises ValueError where the flat picture has no cloth.

    axis: the garment's own, where it has one: it is looked at upright then, which it is used to most.
    """
    known = axis is not None and axis.is_symmetric
    turn = axis.up if axis is not None and known else 90.0
    picture, mask, view = _garment(flat, turn)
    seen = _run(picture, mask)
    off = (_up(seen.facts) - 90.0 + 180.0) % 360.0 - 180.0
    if abs(off) > (_UPSIDE_DOWN if known else _ASKEW):  # look again with its collar up
        turn = (turn + (180.0 if known else 90.0 * round(off / 90.0))) % 360.0
        picture, mask, view = _garment(flat, turn)
        seen = _run(picture, mask)
    return _told(seen, mask, view)


@dataclass(frozen=True, slots=True)
class _Seen:
    """Logits: maps (n, 256, 256) and facts (m,) of both looks together, lines (looks, lines, 256, 256) of each."""

    maps: Map
    facts: Map
    lines: Map


@dataclass(frozen=True, slots=True)
class _View:
    """How the maps lie on the plane: see Whole."""

    step: float
    origin: tuple[float, float]
    turn: float

    def to_mm(self, column: float, row: float) -> tuple[float, float]:
        across, up = _ways(self.turn)
        x, y = self.origin + column * self.step * across - row * self.step * up
        return float(x), float(y)


def _ways(turn: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Unit vectors to the right and up, where the direction `turn` is up."""
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    return np.array([sin, -cos]), np.array([cos, sin])


def _garment(flat: Flat, turn: float) -> tuple[Map, Map, _View]:
    """The garment brought to the working square, `turn` up: (SIDE, SIDE, 3) 0..1, (SIDE, SIDE) mask, the maps' view."""
    rows, columns = np.nonzero(
        flat.mask ^ cv2.erode(flat.mask.astype(np.uint8), np.ones((3, 3))).astype(bool)
    )
    if not len(rows):
        raise ValueError("there is no cloth in the flat picture")
    across, up = _ways(turn)
    edge = flat.to_mm(np.stack([columns, rows], 1))
    u, v = edge @ across, edge @ up
    step = (max(float(np.ptp(u)), float(np.ptp(v))) + flat.step) / _INNER
    centre = (u.min() + u.max()) / 2 * across + (v.min() + v.max()) / 2 * up
    shrink = step / flat.step  # flat pixels to a working pixel
    rgb = flat.rgb
    if shrink > 1.2:
        rgb = np.asarray(cv2.GaussianBlur(rgb, (0, 0), 0.4 * math.sqrt(shrink**2 - 1.0)), np.uint8)
    half = (SIDE - 1) / 2
    corner = centre - half * step * across + half * step * up
    ends = flat.to_flat_px(np.stack([corner, corner + step * across, corner - step * up]))
    back = np.stack([ends[1] - ends[0], ends[2] - ends[0], ends[0]], 1)
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    seen = cv2.warpAffine(rgb, back, (SIDE, SIDE), flags=how, borderMode=cv2.BORDER_REPLICATE)
    mask = cv2.warpAffine(flat.mask.astype(np.float32), back, (SIDE, SIDE), flags=how)
    middle = (SIDE / EVERY - 1) / 2 * step * EVERY
    x, y = centre - middle * across + middle * up
    view = _View(step * EVERY, (float(x), float(y)), turn)
    return seen.astype(np.float32) / 255.0, (mask > 0.5).astype(np.float32), view


def network_input(rgb: Map, mask: Map) -> Map:
    """(7, h, w) planes: those of `own_colours`, and column and row from -1 to 1. rgb: (h, w, 3) from 0 to 1."""
    column, row = np.meshgrid(np.linspace(-1, 1, rgb.shape[1]), np.linspace(-1, 1, rgb.shape[0]))
    return np.stack([*own_colours(rgb, mask, _CARD, _smooth), column, row]).astype(np.float32)


def _smooth(values: Map) -> Map:
    """A Gaussian of _SIGMA_PX, at a quarter of the size."""
    height, width = values.shape
    small = cv2.resize(values, (width // 4, height // 4), interpolation=cv2.INTER_AREA)
    size = 2 * round(3 * _SIGMA_PX / 4) + 1
    small = cv2.GaussianBlur(small, (size, size), _SIGMA_PX / 4, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR), np.float32)


def _run(picture: Map, mask: Map) -> _Seen:
    """The mean of what is seen in the picture and in its mirror image: a garment is made alike on both sides, and what is
    said of one must not hang on which of them is the left. A line that one look sees and the other doesn't is mostly
    none, so what each tells of lines is kept."""
    seen = network_input(picture, mask)
    maps, facts = _forward(seen)
    turned = seen[:, :, ::-1].copy()
    turned[_COLUMN] = seen[_COLUMN]  # which tells where a pixel lies, in the mirror image too
    other_maps, other_facts = _forward(turned)
    other_maps, other_facts = other_maps[_OTHER_SIDE, :, ::-1], other_facts * _OTHER_SIGN
    lines = np.stack([maps[: len(LINES)], other_maps[: len(LINES)]])
    half = np.float32(0.5)
    return _Seen(half * (maps + other_maps), half * (facts + other_facts), lines)


def _forward(seen: Map) -> tuple[Map, Map]:
    """The network's own answer to one picture."""
    network = _network()
    network.setInput(np.ascontiguousarray(seen)[None])
    maps, facts = network.forward(("maps", "facts"))
    return np.asarray(maps, np.float32)[0], np.asarray(facts, np.float32).ravel()


@lru_cache(maxsize=1)
def _network() -> cv2.dnn.Net:
    return cv2.dnn.readNetFromONNX(str(_NETWORK))


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


def _told(seen: _Seen, mask: Map, view: _View) -> Whole:
    """mask: (SIDE, SIDE), the cloth: no line and no spot lies beside it."""
    maps, facts = seen.maps.copy(), seen.facts
    small = (SIDE // EVERY, SIDE // EVERY)
    beside = cv2.resize(cv2.dilate(mask, np.ones((3, 3))), small, interpolation=cv2.INTER_AREA) == 0
    maps[: len(LINES) + len(SPOTS), beside] = _NEVER
    looks = [
        np.where(beside, np.float32(0), np.max([_chance(own[k], n) for k, n in enumerate(LINES)], axis=0))
        for own in seen.lines
    ]
    a, b = len(LINES), len(LINES) + len(SPOTS)
    c = b + len(PARTS)
    lines = {name: _chance(maps[k], name) for k, name in enumerate(LINES)}
    spots = {name: _chance(maps[a + k], name) for k, name in enumerate(SPOTS)}
    landmarks = {}
    for k, name in enumerate(LANDMARKS):
        found = _peak(_chance(maps[c + k], "landmark"), view)
        if found.chance >= _LEAST_LANDMARK:
            landmarks[name] = found
    m, n = len(KINDS), len(KINDS) + len(FACES)
    flags = dict(zip(_FLAGS, facts[n:], strict=True))
    return Whole(
        lines, spots, _share(maps[b:c], "parts"), landmarks,
        dict(zip(KINDS, map(float, _share(facts[:m], "kind")), strict=True)),
        dict(zip(FACES, map(float, _share(facts[m:n], "face")), strict=True)),
        float(_chance(flags["padded"], "padded_whole")), float(_chance(flags["open_front"], "open_front")),
        (_up(facts) - 90.0 + view.turn) % 360.0, view.step, view.origin, view.turn, tuple(looks),
    )  # fmt: skip


def _peak(chances: Map, view: _View) -> Landmark:
    """The highest place of a heat map, between pixels by the centre of mass around it."""
    row, column = (int(n) for n in np.unravel_index(int(chances.argmax()), chances.shape))
    first_row, first_column = max(row - 2, 0), max(column - 2, 0)
    near = chances[first_row : row + 3, first_column : column + 3]
    y, x = np.mgrid[0 : near.shape[0], 0 : near.shape[1]]
    weight = max(float(near.sum()), 1e-9)
    at_x = first_column + float((near * x).sum()) / weight
    at_y = first_row + float((near * y).sum()) / weight
    return Landmark(*view.to_mm(at_x, at_y), float(chances[row, column]))

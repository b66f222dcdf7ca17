"""What part of the garment each piece is, as the look at the whole garment has it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from shapely.geometry import Polygon

from salvage.cloth.cut.points import SIDES, Place
from salvage.cloth.flat.areas import sides
from salvage.cloth.flat.axis import Axis
from salvage.cloth.flat.whole import PARTS, Whole

_SURE = 0.5  # mean chance over a piece from which its part is believed
_NO_HOOD = frozenset({"shirt", "t-shirt", "skirt", "trousers", "shorts"})  # a hooded one is a jumper
_WITH_COLLAR = frozenset({"shirt", "jacket", "coat"})
_UNDERARM = 0.65  # of the height, where the underarm is in want of anything better
_NO_SLEEVE = 5.0  # times as long as wide: a sleeve is 600 mm long and 130 mm wide at least
_INSIDE = 10.0  # mm, nearer to the garment's middle than the underarms
_NECK, _NECK_HIGH, _COLLAR = 0.5, 0.2, 15_000.0  # of the shoulders' distance, of the height, mm^2
_CUFF_SHARE = 0.5  # of its sleeve's area at most
_YOKE_BELOW = 0.12  # of the height, by which a yoke may hang below the underarm


def roles_of(pieces: Sequence[Polygon], whole: Whole) -> list[str]:
    """For each piece one of PARTS without its side ("sleeve", "body", "band" ...), "" where none is believed."""
    return [_role_of(piece, whole) for piece in pieces]


def _role_of(piece: Polygon, whole: Whole) -> str:
    inside = np.zeros(whole.parts.shape[1:], np.uint8)
    for ring, value in ((piece.exterior, 1), *((hole, 0) for hole in piece.interiors)):
        px = whole.to_grid_px(np.asarray(ring.coords)[:, :2])
        cv2.fillPoly(inside, [np.round(px * 16).astype(np.int32)], value, cv2.LINE_8, 4)
    if not inside.any():
        return ""
    chances: dict[str, float] = {}
    for name, chance in zip(PARTS, whole.parts[:, inside > 0].mean(1), strict=True):
        role = name.removesuffix("_left").removesuffix("_right")
        chances[role] = chances.get(role, 0.0) + float(chance)
    best = max(chances, key=chances.__getitem__)
    return best if chances[best] >= _SURE and best != "none" else ""


def settled(
    roles: Sequence[str], pieces: Sequence[Polygon], axis: Axis, points: Mapping[str, Place], kind: str
) -> list[str]:
    """The roles put right by where the pieces lie on the garment: the look at the whole is coarse, and calls a
    small piece what its large neighbour is. A piece beyond a sleeve's end is its cuff; one above the underarm
    that lies over another is a yoke; a shirt has no hood; a long narrow strip is no sleeve (a facing, a band).

    points: as cut.points names them. kind: of the garment, "" if not known. Roles "" stay but for what is sure.
    """
    if not pieces or axis.legs:
        return list(roles)
    places = [_Where.of(piece, axis) for piece in pieces]
    low, high = min(each.low for each in places), max(each.high for each in places)
    own = {name: axis.own(np.array([[at.x, at.y]]))[0] for name, at in points.items()}
    under = [own[f"underarm {side}"] for side in SIDES if f"underarm {side}" in own]
    level = max((at[1] for at in under), default=low + _UNDERARM * (high - low))
    shoulder = max((abs(at[0]) for name, at in own.items() if name.startswith("shoulder")), default=None)
    found = list(roles)
    for k, (role, place) in enumerate(zip(roles, places, strict=True)):
        if role == "hood" and kind in _NO_HOOD:
            found[k] = "collar"
        elif role == "sleeve" and place.long > _NO_SLEEVE * place.short:
            found[k] = "facing"
        elif role == "sleeve" and under and abs(place.x) < min(abs(at[0]) for at in under) - _INSIDE:
            found[k] = "body"  # or its yoke, see below
        elif (
            role in ("body", "yoke", "placket", "")
            and kind in _WITH_COLLAR
            and shoulder is not None
            and abs(place.x) < _NECK * shoulder
            and place.low > high - _NECK_HIGH * (high - low)
            and place.area < _COLLAR
        ):
            found[k] = "collar"
    for k, place in enumerate(places):
        alike = [
            each for j, each in enumerate(places) if j != k and found[j] == found[k] and each.area > place.area
        ]
        if found[k] == "sleeve":
            beyond = [each for each in alike if each.x * place.x > 0 and abs(each.x) < abs(place.x)]
            if any(place.area < _CUFF_SHARE * each.area and place.out > each.out for each in beyond):
                found[k] = "cuff"
        elif found[k] == "body" and place.low > level - _YOKE_BELOW * (high - low):
            below = [each for each in alike if each.low < place.low and _beside(each, place)]
            if below and place.wide > place.tall:
                found[k] = "yoke"
    return found


@dataclass(frozen=True, slots=True)
class _Where:
    """A piece in the garment's own frame: its middle, bounds and sides, mm."""

    x: float
    y: float
    left: float
    right: float
    low: float
    high: float
    long: float
    short: float
    area: float

    @classmethod
    def of(cls, piece: Polygon, axis: Axis) -> _Where:
        ring = axis.own(np.asarray(piece.exterior.coords)[:, :2])
        x, y = axis.own(np.array([piece.centroid.coords[0]]))[0]
        (left, low), (right, high) = ring.min(0), ring.max(0)
        return cls(
            float(x), float(y), float(left), float(right), float(low), float(high), *sides(piece), piece.area
        )

    @property
    def wide(self) -> float:
        return self.right - self.left

    @property
    def tall(self) -> float:
        return self.high - self.low

    @property
    def out(self) -> float:
        """How far down and out it lies: along a sleeve that grows, however the sleeve hangs."""
        return abs(self.x) - self.y


def _beside(one: _Where, two: _Where) -> bool:
    """Whether the one lies under the other for most of its width."""
    shared = min(one.right, two.right) - max(one.left, two.left)
    return shared > 0.5 * min(one.wide, two.wide)

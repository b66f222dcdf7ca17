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
from salvage.trade.cuts import WIDEST_FACING

_SURE = 0.5  # mean chance over a piece from which its part is believed
_NO_COLLAR = frozenset({"skirt", "trousers", "shorts"})
_UNDERARM = 0.65  # of the height, where the underarm is in want of anything better
_INSIDE = 10.0  # mm, nearer to the garment's middle than the underarms
_HOOD = 35_000.0  # mm^2 of a hood at least; a collar has half of it
_COLLAR, _NECK_OFF, _NECK_DEEP = (
    25_000.0,
    40.0,
    150.0,
)  # mm^2; mm that it ends and hangs below the neck's points
_STRIP, _AT_EDGE = 4.0, 6.0  # times as long as wide at least; mm from the outline
_CUFF_SHARE = 0.5  # of its sleeve's area at most
_YOKE_WIDE = 0.5  # of the width of what it lies over; a neckband is narrower
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
    roles: Sequence[str],
    pieces: Sequence[Polygon],
    cloth: Polygon,
    axis: Axis,
    points: Mapping[str, Place],
    kind: str,
) -> list[str]:
    """The roles put right by where the pieces lie on the garment: the look at the whole is coarse, and calls a
    small piece what its large neighbour is. A piece beyond a sleeve's end is its cuff; one above the underarm
    that lies over another is a yoke; what lies between the neck's points is a collar; a long strip along the
    garment's edge is a facing; and a hood is larger than a collar.

    points: as cut.points names them. kind: of the garment, "" if not known. Where nothing is sure "" stays.
    """
    if not pieces or axis.legs:
        return list(roles)
    places = [_Where.of(piece, axis) for piece in pieces]
    frame = _Frame.of(places, axis, points)
    hood = sum(each.area for role, each in zip(roles, places, strict=True) if role == "hood")
    found = list(roles)
    halves: set[int] = set()  # of sleeves cut in two
    for k, (role, place, piece) in enumerate(zip(roles, places, pieces, strict=True)):
        sleeves = [each for j, each in enumerate(pieces) if j != k and roles[j] == role == "sleeve"]
        if role in ("sleeve", "") and _is_facing(piece, place, cloth):
            if _lies_along(piece, place, sleeves):
                halves.add(k)
            else:
                found[k] = "facing"
        elif (role == "hood" and hood < _HOOD) or (
            role not in ("hood", "inside") and kind not in _NO_COLLAR and frame.is_at_neck(place)
        ):
            found[k] = "collar"
        elif not role and frame.within and abs(place.x) < frame.within - _INSIDE:
            found[k] = "body"  # or its yoke, see below
    for k, place in enumerate(places):
        alike = [
            each
            for j, each in enumerate(places)
            if j != k and found[j] == found[k] and each.area > place.area
        ]
        if found[k] == "sleeve" and k not in halves:
            beyond = [each for each in alike if each.x * place.x > 0 and abs(each.x) < abs(place.x)]
            if any(place.area < _CUFF_SHARE * each.area and place.out > each.out for each in beyond):
                found[k] = "cuff"
        elif found[k] == "body" and place.low > frame.level - _YOKE_BELOW * frame.height:
            below = [each for each in alike if each.low < place.low and _beside(each, place)]
            if (
                below
                and place.wide > place.tall
                and place.wide > _YOKE_WIDE * max(each.wide for each in below)
            ):
                found[k] = "yoke"
    return found


def _is_facing(piece: Polygon, place: _Where, cloth: Polygon) -> bool:
    """A long narrow strip that runs along the garment's own edge."""
    if place.short > WIDEST_FACING or place.long < _STRIP * place.short or place.tall < place.wide:
        return False
    return bool(piece.exterior.intersection(cloth.exterior.buffer(_AT_EDGE)).length > 0.8 * place.long)


def _lies_along(piece: Polygon, place: _Where, others: Sequence[Polygon]) -> bool:
    """Whether it lies along one of the others for half its length: the other half of a sleeve of two parts."""
    edge = piece.exterior
    return any(
        edge.intersection(each.buffer(_AT_EDGE)).length > 0.5 * place.long
        for each in others
        if each.distance(piece) < _AT_EDGE
    )


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where things are on the garment, mm in its own frame. level: of the underarms; height: of it all; within:
    the nearer underarm's distance from the axis, 0 if not known; neck: left, right and height of its points."""

    level: float
    height: float
    within: float
    neck: tuple[float, float, float] | None

    @classmethod
    def of(cls, places: Sequence[_Where], axis: Axis, points: Mapping[str, Place]) -> _Frame:
        low, high = min(each.low for each in places), max(each.high for each in places)
        own = {name: axis.own(np.array([[at.x, at.y]]))[0] for name, at in points.items()}
        under = [own[f"underarm {side}"] for side in SIDES if f"underarm {side}" in own]
        neck = [own[f"neck {side}"] for side in SIDES if f"neck {side}" in own]
        return cls(
            float(max((at[1] for at in under), default=low + _UNDERARM * (high - low))),
            high - low,
            float(min((abs(at[0]) for at in under), default=0.0)) if len(under) == len(SIDES) else 0.0,
            (float(neck[0][0]), float(neck[1][0]), float((neck[0][1] + neck[1][1]) / 2))
            if len(neck) == 2
            else None,
        )

    def is_at_neck(self, place: _Where) -> bool:
        if self.neck is None or place.area > _COLLAR:
            return False
        left, right, top = self.neck
        return bool(left < place.x < right and place.high > top - _NECK_OFF and place.low > top - _NECK_DEEP)


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
